"""Findings among the sections of a job's page, and the engine among the drawings that places are tapped on."""

from builds.engine_plan import engine_picker
from builds.models import Build
from builds.panels import Panel, job_panels
from builds.places import place_pickers


def has_findings(job: Build) -> bool:
    """Whether findings may be written down on a job, or stand on it."""
    return job.is_return or job.takes_readings or job.findings.exists()


def register_findings() -> None:
    """Enter the section and the drawing."""
    job_panels.append(Panel("Findings", "finding-list", shown=has_findings))
    place_pickers.append(engine_picker)
