"""What returns have on other pages: the page in the strip, and the sections of a job's page."""

from builds.models import Build
from builds.panels import Panel, job_panels, return_pages


def reads_as_found(job: Build) -> bool:
    """For a section of a job that reads an engine as it was found."""
    return job.is_return


def register_return_pages() -> None:
    """Enter them, before all other sections."""
    return_pages.insert(0, Panel("Came back", "return-list"))
    job_panels[:0] = [
        Panel("As found", "return-facts", reads_as_found),
        Panel("As found beside as built", "return-compare", reads_as_found),
        Panel("Back from the customer", "job-came-back", lambda job: job.keeps_running),
    ]
