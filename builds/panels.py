"""Sections of a page that another floor fills: it names an address, and the page asks for it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Panel:
    """A section with its title, and the name of the address that answers with its content."""

    title: str
    url_name: str


# On a job's page; the address takes the job's number in the book.
job_panels: list[Panel] = []
# On the drawer's page; the address takes nothing.
drawer_panels: list[Panel] = []
