"""The boxed cells that head a job's pages, as on a drawing."""

from django.template.defaultfilters import date
from django.utils.html import format_html

from builds.models import Build

Cell = tuple[str, object] | tuple[str, object, str]


def job_cells(job: Build) -> list[Cell]:
    """Number, customer, engine, serial number, state and dates of a job that comes from `access.get_job`."""
    engine = job.engine
    cells: list[Cell] = [
        ("job", job.job_number, job.get_absolute_url()),
        ("customer", engine.customer, engine.customer.get_absolute_url()),
        ("engine", engine.name, engine.get_absolute_url()),
        ("serial number", engine.serial),
        ("state", format_html('<span class="state {}">{}</span>', job.state, job.state.label)),
        ("opened", date(job.opened_on)),
        ("promised for", date(job.promised_on)),
    ]
    if job.went_out_on is not None:
        cells.append(("went out", date(job.went_out_on)))
    if job.came_back_on is not None:
        cells.append(("came back", date(job.came_back_on)))
    return cells
