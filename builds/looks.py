"""Looking again at an engine as a job left it: a check between rebuilds, or a return that is read as found.

Either is a job of its own on the same engine. What stands on the engine is carried over to it, so that the bench and the
log show the same addresses, and nothing that is read now moves what was read and sealed then.
"""

from collections.abc import Callable
from datetime import date

from django.db import IntegrityError, transaction
from django.utils import timezone

from builds.days_out import why_not_back
from builds.models import Build, BuildKind, Limit, Person, Return, SealedSheet
from builds.refusals import Refused
from builds.running import record_of

# Each takes the job that the engine went out with and the new one, and carries over what its floor keeps of the engine.
carriers: list[Callable[[Build, Build], None]] = []

MOST_LETTERS = 30  # of a job's number
SAME_NUMBER = "Job {number} is in the book already. The next free number is {free}."


class LookRefused(Refused):
    """A check or a return that cannot be opened."""


def open_check(job: Build, person: Person, *, read_on: date, title: str = "") -> Build:
    """Open a check of an engine that is out, on the day that it is read, in one transaction. Raises `LookRefused`."""
    with transaction.atomic():
        job = _locked(job)
        _refuse_day(job, read_on, "read_on", "read")
        if job.came_back_on is not None and read_on > job.came_back_on:
            raise LookRefused(
                "read_on",
                f"The engine came back on {job.came_back_on:%d %b %Y}: what is read after that is read as found, under "
                "its return.",
            )
        number = Build.objects.filter(follows=job, kind=BuildKind.CHECK).count() + 1
        return _open(
            job, person, kind=BuildKind.CHECK, opened_on=read_on, job_number=_check_number(job, number),
            title=title or f"Check {number} between rebuilds",
        )  # fmt: skip


def open_return(
    job: Build,
    person: Person,
    *,
    came_back_on: date,
    complaint: str,
    how_it_ran: str = "",
    job_number: str = "",
) -> Return:
    """Open the return of an engine: its job, and where it came from, in one transaction. Raises `LookRefused`."""
    with transaction.atomic():
        job = _locked(job)
        refuse_return(job)
        _refuse_back(job, came_back_on)
        number = job_number or Build.next_number()
        if Build.objects.filter(job_number__iexact=number).exists():
            raise LookRefused("job_number", SAME_NUMBER.format(number=number, free=Build.next_number()))
        if job.came_back_on != came_back_on:
            job.came_back_on = came_back_on
            job.save(update_fields=["came_back_on"])
        new = _open(
            job, person, kind=BuildKind.RETURN, opened_on=came_back_on, job_number=number,
            title=_title(complaint),
        )  # fmt: skip
        return Return.objects.create(
            build=new, sheet=sheet_it_left_with(job), came_back_on=came_back_on, complaint=complaint,
            how_it_ran=how_it_ran, opened_by=person,
        )  # fmt: skip


def _check_number(job: Build, number: int) -> str:
    """The number that a check goes by: its job's, as much of it as there is room for, and the next that is free."""
    while True:
        behind = f" check {number}"
        found = job.job_number[: MOST_LETTERS - len(behind)] + behind
        if not Build.objects.filter(job_number__iexact=found).exists():
            return found
        number += 1


def refuse_return(job: Build) -> None:
    """Raise `LookRefused` where no return can be opened of a job, whatever the day."""
    _refuse_job(job)
    earlier = Build.objects.filter(follows=job, kind=BuildKind.RETURN).first()
    if earlier is not None:
        raise LookRefused(
            "", f"Job {job} came back already: job {earlier} reads it as found. Go on with that one."
        )


def _title(complaint: str) -> str:
    """What is to be done on a return's job, until somebody says it otherwise."""
    return f"As found: {complaint}"[:160]


def change_return(came: Return, *, came_back_on: date, complaint: str, how_it_ran: str) -> Return:
    """Change what is written of a return; the day holds for the jobs on both sides of it. Raises `LookRefused`."""
    with transaction.atomic():
        new = Build.objects.select_for_update(of=("self",)).get(pk=came.build_id)
        job = _locked(Build(pk=new.follows_id))
        _refuse_back(job, came_back_on)
        if new.opened_on != came_back_on or job.came_back_on != came_back_on:
            job.came_back_on = new.opened_on = came_back_on
            new.after_run = record_of(job).last_up_to(came_back_on)
            job.save(update_fields=["came_back_on"])
            new.save(update_fields=["opened_on", "after_run"])
        said = Return.objects.values_list("complaint", flat=True).get(pk=came.pk)
        if new.title == _title(said) != _title(complaint):
            new.title = _title(complaint)
            new.save(update_fields=["title"])
        came.came_back_on, came.complaint, came.how_it_ran = came_back_on, complaint, how_it_ran
        came.save(update_fields=["came_back_on", "complaint", "how_it_ran"])
        return came


def sheet_it_left_with(job: Build) -> SealedSheet | None:
    """The sealed sheet that an engine left with: the newest of the whole build, else of a set-up; None without one."""
    sheets = SealedSheet.objects.filter(signing__build=job).defer("entry", "pdf")
    return (
        sheets.filter(signing__kind="build").order_by("-number").first()
        or sheets.filter(signing__kind="setup").order_by("-number").first()
    )


def _locked(job: Build) -> Build:
    found: Build = (
        Build.objects.select_for_update(of=("self",)).select_related("engine__customer").get(pk=job.pk)
    )
    _refuse_job(found)
    return found


def _refuse_job(found: Build) -> None:
    if found.kind != BuildKind.BUILD:
        raise LookRefused("", f"{found} looks at job {found.follows} itself. Start from that job.")
    if found.went_out_on is None:
        raise LookRefused(
            "",
            f"Job {found} has not gone out yet, so nothing came back. Write down the day it went out first, on the "
            "job’s page.",
        )


def _refuse_day(job: Build, day: date, field_name: str, done: str) -> None:
    assert job.went_out_on is not None
    today = timezone.localdate()
    if day > today:
        raise LookRefused(
            field_name,
            f"{day:%d %b %Y} is still to come, so the engine cannot have been {done} then. Use today or before."
            if done == "read"
            else f"{day:%d %b %Y} is still to come, so the engine cannot have {done} then. Use today or before.",
        )
    if day < job.went_out_on:
        raise LookRefused(
            field_name,
            f"{day:%d %b %Y} is before it left: job {job} went out on {job.went_out_on:%d %b %Y}. Use that day or a "
            "later one.",
        )


def _refuse_back(job: Build, day: date) -> None:
    _refuse_day(job, day, "came_back_on", "come back")
    if sentence := why_not_back(job, day):
        raise LookRefused("came_back_on", sentence)


def _open(
    job: Build, person: Person, *, kind: BuildKind, opened_on: date, job_number: str, title: str
) -> Build:
    last = record_of(job).last_up_to(opened_on)
    try:
        with transaction.atomic():
            new = Build.objects.create(
                engine=job.engine, kind=kind, follows=job, after_run=last, opened_on=opened_on,
                job_number=job_number, title=title, opened_by=person,
            )  # fmt: skip
    except IntegrityError:
        raise LookRefused(
            "job_number", SAME_NUMBER.format(number=job_number, free=Build.next_number())
        ) from None
    Limit.objects.bulk_create(
        Limit(
            key=row.key, build=new, name=row.name, low=row.low, high=row.high, unit_kind=row.unit_kind,
            source=row.source,
        )
        for row in Limit.objects.filter(build=job)
    )  # fmt: skip
    for carry in carriers:
        carry(job, new)
    return new
