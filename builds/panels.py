"""Sections of a page that another floor fills: it names an address, and the page asks for it."""

from collections.abc import Callable
from dataclasses import dataclass

from builds.models import Build


def on_every_job(job: Build) -> bool:
    """For a section that every job's page has."""
    return True


@dataclass(frozen=True)
class Panel:
    """A section with its title, and the name of the address that answers with its content.

    `shown` says on which jobs' pages it stands.
    """

    title: str
    url_name: str
    shown: Callable[[Build], bool] = on_every_job


# On a job's page; the address takes the job's number in the book.
job_panels: list[Panel] = []
# On the drawer's page; the address takes nothing.
drawer_panels: list[Panel] = []
# Pages that the running record of a job leads to; each address takes the job's number in the book.
running_pages: list[Panel] = []
# The pages under “Returns”, in the order of the strip that leads from one to the other; none takes anything.
return_pages: list[Panel] = []
# The picture of how long parts last; the address takes the page's own questions.
survival_pictures: list[Panel] = []


def panels_of(job: Build) -> list[Panel]:
    """The sections of one job's page."""
    return [panel for panel in job_panels if panel.shown(job)]


def running_pages_of(job: Build) -> list[Panel]:
    """Where one job's running record leads to."""
    return [panel for panel in running_pages if panel.shown(job)]
