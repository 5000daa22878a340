"""From a lot, a maker's number or a serial number to every engine that carries or carried the part."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count, Q, QuerySet
from django.db.models.functions import Upper

from builds.models import (
    Build,
    BuildKind,
    Evidence,
    Finding,
    PartFitted,
    PartTakenOut,
    Recall,
    TracedBy,
    with_states,
)
from builds.part_numbers import kept_as, written_alike
from builds.part_running import EnginesRunning
from builds.running import words

MOST_NEAR = 12
SHORTEST_NEAR = 2
PAST_EVERY_LETTER = "\U0010ffff"
ALL = "any"
COLUMNS = {"lot": "upper_lot", "maker_number": "upper_number", "serial": "upper_serial"}


def columns_of(by: str) -> list[str]:
    """The columns that are looked through: one, or all three."""
    return list(COLUMNS) if by == ALL else [TracedBy(by).value]


def in_capitals() -> "QuerySet[PartFitted]":
    """Parts with their numbers in capitals, as the indexes have them."""
    found: QuerySet[PartFitted] = PartFitted.objects.alias(
        upper_lot=Upper("lot"), upper_number=Upper("maker_number"), upper_serial=Upper("serial")
    )
    return found


def matching(by: str, value: str) -> "QuerySet[PartFitted]":
    """Every part with exactly this number, whatever its capitals; in the order in which they were fitted."""
    wanted = Q()
    for column in columns_of(by):
        wanted |= Q(**{f"{COLUMNS[column]}__in": written_alike(value)})
    return in_capitals().filter(wanted).order_by("-fitted_on", "-pk") if value else PartFitted.objects.none()


@dataclass(frozen=True)
class Near:
    """A number that begins as the one that was asked for, and on how many parts it stands."""

    by: TracedBy
    value: str
    count: int


def near(by: str, value: str) -> list[Near]:
    """Numbers that begin like this one; where none does, like a shorter and shorter beginning of it."""
    whole = kept_as(value)
    long = len(whole)
    for size in dict.fromkeys([long, 3 * long // 4, long // 2, long // 3]):
        found = _beginning(by, whole[:size]) if size >= SHORTEST_NEAR else []
        if found:
            return found
    return []


def _beginning(by: str, start: str) -> list[Near]:
    found: list[Near] = []
    for column in columns_of(by):
        upper = COLUMNS[column]
        wanted = Q()
        for each in written_alike(start):
            wanted |= Q(**{f"{upper}__gte": each, f"{upper}__lt": each + PAST_EVERY_LETTER})
        rows = in_capitals().filter(wanted).order_by(column).values_list(column).annotate(n=Count("pk"))
        found += [Near(TracedBy(column), text, count) for text, count in rows[:MOST_NEAR] if text]
    return found[:MOST_NEAR]


@dataclass
class CameOut:
    """Some of a part that came out, with how far they ran."""

    out: PartTakenOut
    ran: str


@dataclass
class TraceLine:
    """One part as it is told where it is traced."""

    part: PartFitted
    job: Build
    left: int
    ran: str
    outs: list[CameOut] = field(default_factory=list)
    later: list[PartFitted] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    asked: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """Whether it is in, in words."""
        if not self.left:
            return "taken out"
        return (
            "still in" if self.left == self.part.quantity else f"{self.left} of {self.part.quantity} still in"
        )

    @property
    def look(self) -> str:
        """What speaks against its still being in; nothing when nothing does."""
        if not self.left or not self.later:
            return ""
        jobs = ", ".join(dict.fromkeys(str(part.build) for part in self.later))
        kind = "job lists" if len({part.build_id for part in self.later}) == 1 else "jobs list"
        return f"A later {kind} another {self.part.role} ({jobs}): look whether this one came out."


def trace_lines(parts: Iterable[PartFitted]) -> list[TraceLine]:
    """All that is told of some parts, in a constant number of questions to the database."""
    page = list(parts)
    keys = [part.pk for part in page]
    full = {part.pk: part for part in PartFitted.objects.with_out().filter(pk__in=keys)}
    builds = with_states(Build.objects.for_list().filter(pk__in={part.build_id for part in page}))
    jobs = {job.pk: job for job in builds}
    engines = {job.engine_id for job in jobs.values()}
    running = EnginesRunning(engines)
    outs, findings = _outs(keys), _findings(keys)
    later = _of_the_same_kind(engines, {part.role for part in page})
    lines = []
    for key in keys:
        part, job = full[key], jobs[full[key].build_id]
        part.build = job
        lines.append(
            TraceLine(
                part=part, job=job, left=part.left, ran=ran_words(running.since(part)),
                outs=[CameOut(out, ran_words(running.since(part, out.out_on))) for out in outs[key]],
                later=_later(part, running, later), findings=findings[key],
            )
        )  # fmt: skip
    return lines


def ran_words(totals: Mapping[str, Decimal]) -> str:
    """Running in words; and when nothing is known, that."""
    return words(totals) if any(totals.values()) else "no running written down"


def _outs(keys: list[int]) -> dict[int, list[PartTakenOut]]:
    found: dict[int, list[PartTakenOut]] = defaultdict(list)
    for out in PartTakenOut.objects.filter(part__in=keys).select_related("in_job"):
        found[out.part_id].append(out)
    return found


def _findings(keys: list[int]) -> dict[int, list[Finding]]:
    """What findings lean on each part, those that stand."""
    found: dict[int, list[Finding]] = defaultdict(list)
    evidence = Evidence.objects.filter(part__in=keys, finding__withdrawn="").select_related("finding__build")
    for each in evidence.order_by("finding", "pk"):
        if each.part_id is not None and each.finding not in found[each.part_id]:
            found[each.part_id].append(each.finding)
    return found


def _of_the_same_kind(engines: set[int], roles: set[str]) -> dict[tuple[int, str], list[PartFitted]]:
    """Parts of the same kinds on any job of these engines."""
    alike = {each for role in roles for each in written_alike(role)}
    found: dict[tuple[int, str], list[PartFitted]] = defaultdict(list)
    rows = PartFitted.objects.alias(upper_role=Upper("role")).filter(
        build__engine__in=engines, upper_role__in=alike
    )
    for part in rows.exclude(build__kind=BuildKind.CHECK).select_related("build"):
        found[part.build.engine_id, part.role.upper()].append(part)
    return found


def _later(
    part: PartFitted, running: EnginesRunning, kinds: Mapping[tuple[int, str], list[PartFitted]]
) -> list[PartFitted]:
    """Parts of the same kind on later jobs of the engine, at the same place or at one that is not said."""
    jobs = running.jobs[part.build.engine_id]
    order = {job.pk: at for at, job in enumerate(jobs)}
    return [
        other
        for other in kinds[part.build.engine_id, part.role.upper()]
        if order[other.build_id] > order[part.build_id]
        and (not other.position or not part.position or other.position.upper() == part.position.upper())
    ]


def recalls_of(by: str, value: str) -> list[Recall]:
    """Recalls that were begun from this number, newest first."""
    wanted = Q()
    for column in columns_of(by):
        wanted |= Q(by=column, in_capitals__in=written_alike(value))
    return list(Recall.objects.alias(in_capitals=Upper("value")).filter(wanted)[:MOST_NEAR])
