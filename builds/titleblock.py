"""The boxed cells that head a job's pages, as on a drawing."""

from django.template.defaultfilters import date
from django.utils.html import format_html

from builds.models import Build
from builds.running import record_of, words

Cell = tuple[str, object] | tuple[str, object, str]


def job_cells(job: Build) -> list[Cell]:
    """Number, customer, engine, serial number, state and dates of a job that comes from `access.get_job`."""
    engine = job.engine
    lead: list[Cell] = [
        ("job", job.job_number, job.get_absolute_url()),
        ("customer", engine.customer, engine.customer.get_absolute_url()),
        ("engine", engine.name, engine.get_absolute_url()),
    ]
    if job.follows is not None:
        # A job that looks again: of which one, and how far the engine had run by then.
        lead.append(
            (
                "check of job" if job.is_check else "as found, of job",
                job.follows,
                job.follows.get_absolute_url(),
            )
        )
        lead.append(("after", words(record_of(job.follows).at(job))))
    return lead + _standing(job)


def guest_cells(job: Build) -> list[Cell]:
    """The same for a guest: nothing leads away from the page."""
    lead: list[Cell] = [
        ("job", job.job_number),
        ("customer", job.engine.customer),
        ("engine", job.engine.name),
    ]
    return lead + _standing(job)


def _standing(job: Build) -> list[Cell]:
    cells: list[Cell] = [
        ("serial number", job.engine.serial),
        ("state", format_html('<span class="state {}">{}</span>', job.state, job.state_words)),
    ]
    if job.is_check:
        return [*cells, ("read on", date(job.opened_on))]
    cells.append(("opened", date(job.opened_on)))
    if job.follows_id is None:
        cells.append(("promised for", date(job.promised_on)))
    if job.went_out_on is not None:
        cells.append(("went out", date(job.went_out_on)))
    if job.came_back_on is not None:
        cells.append(("came back", date(job.came_back_on)))
    return cells
