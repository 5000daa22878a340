"""One engine's whole life: its jobs, sealed sheets, running, checks, returns, findings, parts taken out, recalls.

One question to the database names all that ever happened; entries of running that follow one another become one line.
A page of it takes one question more for each kind of thing on it, and one for each job whose heads have sealed sheets on
it, however long the life is.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import models
from django.db.models import Case, F, QuerySet, Value, When
from django.db.models.functions import TruncDate
from django.urls import reverse

from builds.amounts import counted
from builds.models import (
    Build,
    BuildKind,
    Engine,
    Finding,
    PartTakenOut,
    RecallMark,
    RunEntry,
    SealedSheet,
)
from builds.running import records_of
from builds.sealing.board import sheet_names

OPENED, SEALED, OUT, RUNNING, CHECK, BACK, RETURN, FINDING, PART_OUT, SEALED_LOOK, RECALL = range(11)
KINDS = {
    OPENED: "job opened", SEALED: "sealed", OUT: "went out", RUNNING: "ran", CHECK: "check", BACK: "came back",
    RETURN: "came back", FINDING: "finding", PART_OUT: "part out", SEALED_LOOK: "sealed", RECALL: "recall",
}  # fmt: skip
SIGNS = {
    OPENED: "job", SEALED: "seal", SEALED_LOOK: "seal", OUT: "out", RUNNING: "ran", CHECK: "check", BACK: "back",
    RETURN: "back", FINDING: "finding", PART_OUT: "part", RECALL: "recall",
}  # fmt: skip


@dataclass(frozen=True)
class Moment:
    """Something that happened to an engine, as the one question names it: its kind, its record, the day, the job."""

    which: int
    pk: int
    day: date
    build: int
    unit: str = ""

    @property
    def place(self) -> tuple[date, int, int]:
        """Where it stands in a life: by day, and within a day in the order in which things are done."""
        return self.day, self.which, self.pk


@dataclass
class Stretch:
    """One line of a life: one moment, or running that nothing else came between."""

    moments: list[Moment]

    @property
    def first(self) -> Moment:
        """The earliest of it."""
        return self.moments[0]

    @property
    def last(self) -> Moment:
        """The latest of it."""
        return self.moments[-1]


@dataclass
class Event:
    """A line as it is read."""

    day: date
    sign: str
    kind: str
    what: str
    job: Build
    url: str = ""
    detail: list[str] = field(default_factory=list)
    until: date | None = None
    crossed: str = ""


def moments_of(engine: Engine) -> list[Moment]:
    """Everything that ever happened to an engine, the oldest first; in one question."""
    jobs = Build.objects.filter(engine=engine)
    looked = Build.objects.filter(follows=models.OuterRef("pk"), kind=BuildKind.RETURN)
    kind_of_job = Case(
        When(kind=BuildKind.CHECK, then=Value(CHECK)),
        When(kind=BuildKind.RETURN, then=Value(RETURN)),
        default=Value(OPENED),
        output_field=models.IntegerField(),
    )
    sealed = Case(
        When(signing__build__kind=BuildKind.BUILD, then=Value(SEALED)),
        default=Value(SEALED_LOOK),
        output_field=models.IntegerField(),
    )
    # A check never leaves the bench: its own day out says when it was done.
    left = jobs.filter(kind=BuildKind.BUILD, went_out_on__isnull=False)
    parts = [
        _named(jobs, kind_of_job, "opened_on", "pk"),
        _named(left, OUT, "went_out_on", "pk"),
        _named(
            jobs.filter(came_back_on__isnull=False).exclude(models.Exists(looked)), BACK, "came_back_on", "pk"
        ),
        _named(
            SealedSheet.objects.filter(signing__build__engine=engine),
            sealed,
            TruncDate("sealed_at"),
            "signing__build",
        ),
        _named(
            RunEntry.objects.filter(build__engine=engine).standing(), RUNNING, "ran_on", "build", F("unit")
        ),
        _named(Finding.objects.filter(build__engine=engine), FINDING, TruncDate("found_at"), "build"),
        _named(PartTakenOut.objects.filter(part__build__engine=engine), PART_OUT, "out_on", "part__build"),
        _named(
            RecallMark.objects.filter(
                line__part__build__engine=engine, strikes_out__isnull=True, struck_out_by__isnull=True
            ),
            RECALL,
            "done_on",
            "line__part__build",
        ),
    ]
    rows = parts[0].union(*parts[1:], all=True)
    return sorted((Moment(*row) for row in rows), key=lambda moment: moment.place)


def _named(rows: QuerySet[Any], which: Any, day: Any, build: str, unit: Any = None) -> QuerySet[Any, Any]:
    """One kind of thing as the line names it."""
    number = which if isinstance(which, Case) else Value(which, models.IntegerField())
    told = Value("", models.CharField(max_length=8)) if unit is None else unit
    return rows.order_by().values_list(
        number, "pk", day if not isinstance(day, str) else F(day), F(build), told
    )


def stretches(moments: Iterable[Moment]) -> list[Stretch]:
    """The lines of a life: entries of running in one unit that nothing came between are one."""
    found: list[Stretch] = []
    for moment in moments:
        if moment.which == RUNNING and found:
            last = found[-1].last
            if (last.which, last.build, last.unit) == (RUNNING, moment.build, moment.unit):
                found[-1].moments.append(moment)
                continue
        found.append(Stretch([moment]))
    return found


def jobs_of(engine: Engine) -> list[Build]:
    """Every job of an engine, checks too, the oldest first."""
    return list(Build.objects.filter(engine=engine).select_related("follows").order_by("opened_on", "pk"))


def told(page: Sequence[Stretch], jobs: Iterable[Build]) -> list[Event]:
    """A page of a life in words. `jobs` are all of the engine's."""
    builds = {job.pk: job for job in jobs}
    wanted: dict[int, set[int]] = {}
    for stretch in page:
        wanted.setdefault(stretch.first.which, set()).add(stretch.first.pk)
    records = {which: _records(which, keys) for which, keys in wanted.items() if which in LOOKED_UP}
    running = _running({stretch.first.build for stretch in page if stretch.first.which == RUNNING})
    sheets = [*records.get(SEALED, {}).values(), *records.get(SEALED_LOOK, {}).values()]
    names = sheet_names(sheets, builds)
    events = []
    for stretch in page:
        moment = stretch.first
        event = Event(
            moment.day, SIGNS[moment.which], KINDS[moment.which], "", builds[moment.build],
            url=builds[moment.build].get_absolute_url(),
        )  # fmt: skip
        if moment.which == RUNNING:
            _tell_running(event, stretch, running)
        elif moment.which in (SEALED, SEALED_LOOK):
            _tell_sealed(event, records[moment.which][moment.pk], names[moment.pk])
        elif moment.which in LOOKED_UP:
            TELLERS[moment.which](event, records[moment.which][moment.pk])
        else:
            TELLERS[moment.which](event, event.job)
        events.append(event)
    return events


LOOKED_UP: dict[int, Callable[[], QuerySet[Any]]] = {
    SEALED: lambda: (
        SealedSheet.objects.defer("entry", "pdf").select_related("signing").defer("signing__snapshot")
    ),
    FINDING: lambda: Finding.objects.select_related("found_by"),
    PART_OUT: lambda: PartTakenOut.objects.select_related("part", "noted_by"),
    RECALL: lambda: RecallMark.objects.select_related("line__part", "line__recall", "by"),
    RETURN: lambda: Build.objects.select_related("came_in__sheet"),
}
LOOKED_UP[SEALED_LOOK] = LOOKED_UP[SEALED]


def _records(which: int, keys: set[int]) -> dict[int, Any]:
    return {record.pk: record for record in LOOKED_UP[which]().filter(pk__in=keys)}


class _Ran(NamedTuple):
    """What one entry of running says: its share, and the total after it."""

    share: Decimal
    total: Decimal


def _running(builds: set[int]) -> dict[int, _Ran]:
    """Entry → its share and the total after it, from the running of these jobs."""
    found: dict[int, _Ran] = {}
    for record in records_of(builds).values() if builds else ():
        before: dict[str, Decimal] = {}
        for line in record.lines:
            unit = line.entry.unit
            found[line.entry.pk] = _Ran(line.total - before.get(unit, Decimal(0)), line.total)
            before[unit] = line.total
    return found


def _tell_running(event: Event, stretch: Stretch, running: Mapping[int, _Ran]) -> None:
    event.url = reverse("job-running", args=[event.job.pk])
    share = sum((running[each.pk].share for each in stretch.moments), Decimal(0))
    event.what = counted(share, stretch.first.unit)
    if len(stretch.moments) > 1:
        event.detail.append(f"{len(stretch.moments)} entries")
        event.until = stretch.last.day if stretch.last.day != stretch.first.day else None
    # A correction stands where the entry that it corrects stood, so the last by number need not be the last to run.
    last = max((running[each.pk] for each in stretch.moments), key=lambda ran: ran.total)
    event.detail.append(f"{counted(last.total, stretch.first.unit)} since job {event.job} went out")


def _tell_opened(event: Event, job: Build) -> None:
    event.what = f"job {job}"
    event.detail += [job.title] if job.title else []


def _tell_out(event: Event, job: Build) -> None:
    event.what = f"after job {job}"


def _tell_check(event: Event, job: Build) -> None:
    event.what = job.title or f"job {job}"
    event.detail.append(f"job {job}")


def _tell_back(event: Event, job: Build) -> None:
    event.what = f"from job {job}; not read as found"


def _tell_return(event: Event, job: Build) -> None:
    came_in = getattr(job, "came_in", None)
    event.what = came_in.complaint if came_in is not None else job.title
    event.detail.append(f"read as found in job {job}")
    if came_in is not None and came_in.sheet is not None:
        event.detail.append(f"it left with sealed sheet {came_in.sheet.number}")


def _tell_sealed(event: Event, sheet: SealedSheet, name: str) -> None:
    event.what = f"sheet {sheet.number}: {name}"
    event.detail.append(f"job {event.job}")
    event.url = reverse("sealed-sheet", args=[sheet.number])


def _tell_finding(event: Event, finding: Finding) -> None:
    event.what = f"{finding}: {finding.get_condition_display()}"
    if finding.cause:
        event.detail.append(f"probable cause, {finding.get_confidence_display()}: {finding.cause}")
    event.detail.append(finding.found_by.name)
    event.crossed = finding.withdrawn
    event.url = finding.get_absolute_url()


def _tell_part_out(event: Event, out: PartTakenOut) -> None:
    count = f"{out.quantity} × " if out.quantity > 1 else ""
    event.what = f"{count}{out}, {out.get_why_display()}"
    event.detail += [out.note] if out.note else []
    event.detail += [out.noted_by.name] if out.noted_by else []


def _tell_recall(event: Event, mark: RecallMark) -> None:
    event.url = reverse("recall", args=[mark.line.recall_id])
    event.what = f"{mark.line.recall}: {mark.line.part} {mark.get_step_display()}"
    event.detail += [mark.note] if mark.note else []
    event.detail.append(mark.by.name)


TELLERS: dict[int, Callable[[Event, Any], None]] = {
    OPENED: _tell_opened, OUT: _tell_out, CHECK: _tell_check, BACK: _tell_back, RETURN: _tell_return,
    FINDING: _tell_finding, PART_OUT: _tell_part_out, RECALL: _tell_recall,
}  # fmt: skip
