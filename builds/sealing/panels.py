"""What the pages of other parts show of the sealed sheets: a section for a guest's job."""

from typing import Any

from builds.guests import GuestPanel, guest_panels
from builds.models import Build
from builds.panels import Panel, job_panels
from builds.sealing.board import sealed_of, titled

MOST_SHEETS = 50


def guest_sheets(build: Build) -> dict[str, Any] | None:
    """The sealed sheets of a guest's job, newest first; nothing while nothing is sealed."""
    sheets = titled(build, sealed_of(build)[:MOST_SHEETS])
    return {"sheets": sheets} if sheets else None


def register_panels() -> None:
    """Enter the sections."""
    job_panels.append(Panel("Sheets", "job-sheets", shown=lambda job: not job.is_check))
    guest_panels.append(GuestPanel("Sealed sheets", "builds/signing/_guest.html", guest_sheets))
