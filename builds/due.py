"""What is due on the engines that are out: which, on which engine, and why. For the owner's morning.

From the shop's rules for looking again, from running records that say nothing any more, from recalls; other floors add
what they follow. A constant number of questions for any number of engines.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse
from django.utils import timezone

from builds.amounts import counted, plain
from builds.models import (
    Build,
    BuildKind,
    CheckRule,
    PartFitted,
    Reading,
    RecallLine,
    RecallMark,
    RecallStep,
    RunEntry,
)
from builds.running import RunningRecord, records_of
from builds.steps import steps

STALE = timedelta(days=90)  # after so long without a word the customer is asked
WATCHED = timedelta(days=3 * 365)  # and after so long nobody is any more
UNTOLD = timedelta(days=7)  # within so long everybody on a recall has been told and their parts looked at


@dataclass(frozen=True)
class Due:
    """One thing that is due on an engine: why, and what to do about it.

    `overdue` orders the list: how far past it is, in parts of what is allowed (1: twice as long as it should be);
    below zero: not yet. What `comes_first` stands above all else: a recalled part can break meanwhile.
    """

    job: Build
    what: str
    why: str
    overdue: float
    act: str
    url: str
    comes_first: bool = False

    @property
    def rank(self) -> tuple[bool, float]:
        """Orders what is due, the worst first."""
        return (not self.comes_first, -self.overdue)


@dataclass(frozen=True)
class DueEngine:
    """An engine that is out with all that is due on it, the worst first."""

    job: Build
    ran: str
    things: tuple[Due, ...]

    @property
    def rank(self) -> tuple[bool, float]:
        """Orders engines by the worst that is due on each."""
        return self.things[0].rank


class OutNow:
    """The engines that are out, with their running and when each step of the log was last looked at.

    Only the last job of an engine; and only engines that left, or were heard of, within three years.
    """

    def __init__(self, length_unit: str = "in", today: date | None = None) -> None:
        self.length_unit, self.today = length_unit, today or timezone.localdate()
        self.jobs = {job.pk: job for job in out_jobs(self.today)}

    @cached_property
    def records(self) -> dict[int, RunningRecord]:
        """Job → its running."""
        return records_of(self.jobs)

    @cached_property
    def rules(self) -> list[CheckRule]:
        """The shop's rules that are asked for."""
        return list(CheckRule.objects.filter(in_use=True))

    @cached_property
    def checks(self) -> dict[int, list[Build]]:
        """Job → its checks, in their order."""
        found: dict[int, list[Build]] = defaultdict(list)
        looks = Build.objects.filter(follows__in=self.jobs, kind=BuildKind.CHECK)
        for check in looks.order_by("opened_on", "pk"):
            assert check.follows_id is not None
            found[check.follows_id].append(check)
        return found

    @cached_property
    def looked(self) -> dict[tuple[int, str], Mapping[str, Decimal]]:
        """(Job, step) → how much it had run when something of the step was read last; not there: not since it left."""
        by_key = {each.key: step.key for step in steps() for each in step.measured}
        read: dict[int, set[str]] = defaultdict(set)
        rows = Reading.objects.standing().filter(
            build__follows__in=self.jobs, build__kind=BuildKind.CHECK, characteristic__in=by_key
        )
        for check_pk, key in rows.order_by().values_list("build", "characteristic").distinct():
            read[check_pk].add(by_key[key])
        return {
            (job_pk, step): self.records[job_pk].at(check)
            for job_pk, checks in self.checks.items()
            for check in checks
            for step in read[check.pk]
        }

    def interval(self, step: str, unit: str) -> float:
        """Running from look to look by the shop's rule; nothing without one."""
        return next((float(rule.every) for rule in self.rules if (rule.step, rule.unit) == (step, unit)), 0.0)


# Each takes the engines that are out and says what is due on them.
due_providers: list[Callable[[OutNow], Iterable[Due]]] = []


def out_jobs(today: date) -> Iterable[Build]:
    """Jobs whose engine is out: the last of each engine, and not back."""
    builds = Build.objects.filter(kind=BuildKind.BUILD)
    heard = RunEntry.objects.filter(build=OuterRef("pk"), ran_on__gte=today - WATCHED)
    found: Iterable[Build] = (
        builds.filter(went_out_on__isnull=False, came_back_on__isnull=True)
        .filter(~builds.later_on_engine(), Q(went_out_on__gte=today - WATCHED) | Exists(heard))
        .select_related("engine__customer")
        .order_by("pk")
    )
    return found


def due_engines(length_unit: str = "in", today: date | None = None) -> list[DueEngine]:
    """Every engine on which something is due: recalls first, then the most overdue."""
    out = OutNow(length_unit, today)
    if not out.jobs:
        return []
    found: dict[int, list[Due]] = defaultdict(list)
    for provider in due_providers:
        for due in provider(out):
            found[due.job.pk].append(due)
    engines = [
        DueEngine(
            out.jobs[pk], _ran(out.records[pk]), tuple(sorted(things, key=lambda due: due.rank))
        )
        for pk, things in found.items()
    ]  # fmt: skip
    return sorted(engines, key=lambda each: (each.rank, each.job.pk))


def _ran(record: RunningRecord) -> str:
    told = ", ".join(counted(total, unit) for unit, total in record.totals.items() if total)
    return told or "nothing that we know of"


def due_by_rule(out: OutNow) -> Iterable[Due]:
    """What was not looked at for longer than the shop's rule says: one for each step, by its most overdue unit."""
    for job in out.jobs.values():
        worst: dict[str, Due] = {}
        for rule in out.rules:
            due = _by_rule(out, job, rule)
            if due is not None and (rule.step not in worst or worst[rule.step].overdue < due.overdue):
                worst[rule.step] = due
        yield from worst.values()


def _by_rule(out: OutNow, job: Build, rule: CheckRule) -> Due | None:
    ran = out.records[job.pk].totals.get(rule.unit)
    if not ran:
        return None
    looked = out.looked.get((job.pk, rule.step))
    last = None if looked is None else looked.get(rule.unit, Decimal(0))
    due_at = rule.due_at(last)
    if ran < due_at:
        return None
    when = "Not looked at since it left" if last is None else (
        f"Last looked at after {counted(last, rule.unit)}" if last else "Last looked at before it ran"
    )  # fmt: skip
    asked = f"every {rule.every_words}"
    if last is None and rule.first_after is not None:
        asked = f"first after {rule.first_words}, then every {plain(rule.every)}"
    why = f"{when}; it has run {counted(ran, rule.unit)}; the shop’s rule is {asked}."
    overdue = float((ran - due_at) / rule.every)
    return Due(
        job, f"{rule.name}: look due", why, overdue, "Open a check", reverse("check-open", args=[job.pk])
    )


def due_for_news(out: OutNow) -> Iterable[Due]:
    """Engines of which nobody has heard for long: their customer is asked."""
    for job in out.jobs.values():
        lines = out.records[job.pk].lines
        assert job.went_out_on is not None
        last = max([job.went_out_on, *(line.entry.ran_on for line in lines)])
        silent = out.today - last
        if silent <= STALE:
            continue
        told = (
            f"Nothing is known of its running since {last:%d %b %Y}"
            if lines
            else f"It is out since {last:%d %b %Y}, and no running is written down"
        )
        why = f"{told}: {silent.days} days. Ask the customer."
        overdue = silent / STALE - 1
        yield Due(job, "no news", why, overdue, "Write down running", reverse("job-running", args=[job.pk]))


def due_by_recall(out: OutNow) -> Iterable[Due]:
    """Parts on recalls that are not closed: whose customer is not told, or which were not looked at."""
    engines = {job.engine_id: job for job in out.jobs.values()}
    struck = RecallMark.objects.filter(strikes_out=OuterRef("pk"))
    marks = RecallMark.objects.filter(line=OuterRef("pk"), strikes_out__isnull=True).filter(~Exists(struck))
    in_it = PartFitted.objects.still_in().filter(pk=OuterRef("part"))
    open_lines = (
        RecallLine.objects.filter(recall__closed_on__isnull=True, part__build__engine__in=engines)
        .filter(~Exists(marks.filter(step=RecallStep.CHECKED)), Exists(in_it))
        .annotate(told=Exists(marks.filter(step=RecallStep.TOLD)))
        .select_related("recall", "part__build")
        .order_by("recall", "pk")
    )
    by_engine: dict[tuple[int, int], _OnRecall] = {}
    for line in open_lines:
        key = (line.recall_id, line.part.build.engine_id)
        on = by_engine.setdefault(key, _OnRecall(line))
        on.parts.append(str(line.part.role))
        on.told = on.told and line.told
    for (_recall, engine_pk), on in by_engine.items():
        recall = on.line.recall
        yet = "told, and not looked at yet" if on.told else "not told yet"
        parts = ", ".join(dict.fromkeys(on.parts))
        why = f"Recall of {recall}: {parts}. The customer is {yet}. Why: {recall.reason}"
        overdue = (out.today - recall.opened_on) / UNTOLD + (0 if on.told else 1)
        url = reverse("recall", args=[recall.pk])
        yield Due(engines[engine_pk], "recall", why, overdue, "Open the recall", url, comes_first=True)


@dataclass
class _OnRecall:
    line: RecallLine
    parts: list[str] = field(default_factory=list)
    told: bool = True


due_providers.extend([due_by_rule, due_for_news, due_by_recall])
