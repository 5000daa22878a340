"""How each valve drifts while its engine runs: as built, then at every check between rebuilds, and as found.

For any number of jobs and checks in the same few questions to the book. Nothing of it is stored.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from django.db.models import Q

from builds import characteristics
from builds.characteristics import Characteristic
from builds.found import Found, set_number
from builds.limits import JOB, SHOP, LimitFor
from builds.models import Build, BuildKind, Limit, Reading, RunUnit
from builds.running import RunningRecord, records_of
from builds.uncertainty import Toolbox, mostly_read_with, standard_of
from builds.verdicts import OUT, Rule
from builds.worklog import mean_of
from valvetrain.geometry.drift import Crossing, Drift, can_be_drawn, crossing_of, fit_drift
from valvetrain.models import CamCard, SpringSheet, Valve
from valvetrain.papers import limits_on_papers

FEW = 4  # readings, up to and with which a line is called a guess
# With so many readings before it came back the line stands by itself, and what was found is held against it: a failure is
# no drift.
BY_ITSELF = 3
SET_ANEW, AS_FOUND = "set anew since", "as found, not on it"


@dataclass(frozen=True)
class Followed:
    """A thing that is followed over the running: the step it is read in, and what its growing and shrinking is called."""

    key: str
    step: str
    more: str
    less: str

    @property
    def characteristic(self) -> Characteristic:
        """What it is in the registry."""
        return characteristics.get(self.key)

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return self.characteristic.name


FOLLOWED: dict[str, Followed] = {
    each.key: each
    for each in (
        Followed("lash_cold", "lash", "looser", "tighter"),
        Followed("lash_hot", "lash", "looser", "tighter"),
        Followed("seat_load", "springs", "gained", "lost"),
        Followed("installed_height", "springs", "taller", "shorter"),
        Followed("tip_height", "clearances", "higher", "lower"),
    )
}


@dataclass(frozen=True)
class Point:
    """What was read once: after so much running, the mean of a set that counted [base unit], and its u.

    `left_out` says why the line does not go through it; empty: it does.
    """

    running: Decimal
    value: Decimal
    standard: float | None
    look: Build
    name: str
    count: int = 1
    left_out: str = ""


@dataclass(frozen=True)
class Trend:
    """One thing at one valve over the running of its engine. `ran` is how much it has run now, in `run_unit`."""

    job: Build
    address: str
    followed: Followed
    points: tuple[Point, ...]
    limit: LimitFor | None
    run_unit: str
    ran: Decimal
    rule: Rule

    @cached_property
    def fitted(self) -> tuple[Point, ...]:
        """The points that the line goes through."""
        return tuple(point for point in self.points if not point.left_out)

    @cached_property
    def drift(self) -> Drift | None:
        """The line; None while it was read at one running only."""
        running = [float(point.running) for point in self.fitted]
        if not can_be_drawn(running):
            return None
        return fit_drift(running, [float(point.value) for point in self.fitted])

    @cached_property
    def crossing(self) -> Crossing | None:
        """Where the line leaves the limit; None without a line or a limit."""
        if self.drift is None or self.limit is None:
            return None
        low, high = (None if end is None else float(end) for end in (self.limit.low, self.limit.high))
        return crossing_of(self.drift, low=low, high=high)

    @property
    def last(self) -> Point:
        """What was read last."""
        return self.points[-1]

    @property
    def verdict(self) -> str:
        """in, undecided or out, of what was read last."""
        if self.limit is None:
            return ""
        return self.rule.judge(self.last.value, self.limit.low, self.limit.high, self.last.standard)

    @property
    def is_out(self) -> bool:
        """Whether it was out when it was last read."""
        return self.verdict == OUT

    @property
    def moved(self) -> Decimal:
        """From the first reading that counts to the last [base unit]."""
        return self.fitted[-1].value - self.fitted[0].value

    @property
    def doubt(self) -> float | None:
        """U of what it moved [base unit]; None where an uncertainty is not known."""
        ends = (self.fitted[0].standard, self.fitted[-1].standard)
        if ends[0] is None or ends[1] is None:
            return None
        return self.rule.coverage * float((ends[0] ** 2 + ends[1] ** 2) ** 0.5)

    @property
    def is_within_doubt(self) -> bool:
        """Whether it moved by no more than its readings are good to."""
        return self.doubt is not None and abs(float(self.moved)) <= self.doubt

    @property
    def running_left(self) -> float:
        """Running from now to where the line leaves the limit; below zero: it should have. Endless: it does not."""
        if self.is_out:
            return float("-inf")
        if self.crossing is None:
            return float("inf")
        at = self.crossing.at if self.crossing.heading in ("toward", "out") else None
        return float("inf") if at is None else round(at - float(self.ran), 6)

    @property
    def earliest_left(self) -> float:
        """The same to the earliest that its interval leaves open. Lines that may as well not move have none."""
        if self.is_out or self.crossing is None or self.crossing.earliest is None:
            return self.running_left
        return min(round(self.crossing.earliest - float(self.ran), 6), self.running_left)

    @property
    def soonest(self) -> tuple[float, float, str]:
        """For lists: what leaves its limit first comes first."""
        return self.running_left, self.earliest_left, self.address


class TrendBook:
    """The trends of jobs that went out, in a constant number of questions; in one `run_unit`, or in each job's main."""

    def __init__(self, jobs: Iterable[Build], *, run_unit: str = "") -> None:
        self.jobs = {job.pk: job for job in jobs}
        self.records: dict[int, RunningRecord] = records_of(self.jobs)
        self.looks: dict[int, list[Build]] = defaultdict(list)
        for look in Build.objects.filter(follows__in=self.jobs).order_by("opened_on", "pk"):
            assert look.follows_id is not None
            self.looks[look.follows_id].append(look)
        self._unit = run_unit
        self.tools = Toolbox.read()
        self._read = self._readings()
        self._limits = _Limits(self.looks)

    def run_unit(self, job_pk: int) -> str:
        """What the running of a job is counted in here."""
        return self._unit or self.records[job_pk].main_unit or RunUnit.PASSES

    def ran(self, job_pk: int) -> Decimal:
        """How much a job's engine has run now."""
        return self.records[job_pk].totals.get(self.run_unit(job_pk), Decimal(0))

    def trends(self, job_pk: int) -> list[Trend]:
        """Everything of a job that was read at a check or as found, what leaves its limit first at the head."""
        job, found = self.jobs[job_pk], []
        for (address, key), by_look in self._read.get(job_pk, {}).items():
            if set(by_look) == {job_pk}:
                continue  # never looked at again
            limit = self._limits.get(job_pk, FOLLOWED[key].characteristic.limit_key, address)
            found.append(
                Trend(
                    job, address, FOLLOWED[key], tuple(self._points(job, key, by_look)), limit,
                    self.run_unit(job_pk), self.ran(job_pk), self.tools.rule,
                )
            )  # fmt: skip
        return sorted(found, key=lambda trend: trend.soonest)

    def not_again(self, job_pk: int, key: str) -> int:
        """At how many addresses a thing was read as built and never since."""
        read = self._read.get(job_pk, {})
        return sum(found == key and set(by_look) == {job_pk} for (_address, found), by_look in read.items())

    def _readings(self) -> dict[int, dict[tuple[str, str], dict[int, list[Reading]]]]:
        """Job → (address, key) → job or look → its readings that stand; of a return, those that were found."""
        home = {look.pk: job_pk for job_pk, looks in self.looks.items() for look in looks}
        home.update({job_pk: job_pk for job_pk in self.looks})
        found: dict[int, dict[tuple[str, str], dict[int, list[Reading]]]] = defaultdict(
            lambda: defaultdict(lambda: defaultdict(list))
        )
        returns = {look.pk for looks in self.looks.values() for look in looks if look.is_return}
        found_there = Found(returns)
        rows = Reading.objects.standing().filter(build__in=home, characteristic__in=FOLLOWED)
        for reading in rows:
            if reading.build_id in returns and not found_there.was_found(reading):
                continue
            at = found[home[reading.build_id]]
            at[reading.position, reading.characteristic][reading.build_id].append(reading)
        return found

    def _points(self, job: Build, key: str, by_look: Mapping[int, list[Reading]]) -> list[Point]:
        """In the order of the looks. Set anew at one, the line begins again with what was left."""
        points: list[Point] = []
        record, unit = self.records[job.pk], self.run_unit(job.pk)
        checks = 0
        for look in [job, *self.looks[job.pk]]:
            checks += look.is_check
            if look.pk not in by_look:
                continue
            sets = sorted(_sets(by_look[look.pk]).items())
            after = Decimal(0) if look is job else record.at(look).get(unit, Decimal(0))
            name = {BuildKind.CHECK: f"check {checks}", BuildKind.RETURN: "as found"}.get(
                BuildKind(look.kind), "as built"
            )
            if look is not job and len(sets) > 1:
                before = [*points, self._point(after, key, sets[0][1], look, name)]
                points = [replace(each, left_out=each.left_out or SET_ANEW) for each in before]
                name += ", set anew"
            point = self._point(after, key, sets[-1][1], look, name)
            if look.is_return and sum(not each.left_out for each in points) >= BY_ITSELF:
                point = replace(point, left_out=AS_FOUND)
            points.append(point)
        return points

    def _point(self, after: Decimal, key: str, readings: Sequence[Reading], look: Build, name: str) -> Point:
        known = standard_of(
            readings, self.tools, unit_kind=FOLLOWED[key].characteristic.unit_kind,
            taken_for=mostly_read_with.get(key, ""),
        )  # fmt: skip
        return Point(after, mean_of(readings), known, look, name, len(readings))


def _sets(readings: Iterable[Reading]) -> dict[int, list[Reading]]:
    found: dict[int, list[Reading]] = defaultdict(list)
    for reading in readings:
        found[set_number(reading)].append(reading)
    return found


class _Limits:
    """The limits of several jobs as `builds.limits.LimitBook` has them for one: own, papers', the shop's."""

    def __init__(self, job_pks: Iterable[int]) -> None:
        ids = list(job_pks)
        self._own: dict[int, dict[str, LimitFor]] = defaultdict(dict)
        self._shop: dict[str, LimitFor] = {}
        for row in Limit.objects.filter(Q(build__isnull=True) | Q(build__in=ids)):
            rank, rows = (SHOP, self._shop) if row.build_id is None else (JOB, self._own[row.build_id])
            rows[row.key] = LimitFor(row.low, row.high, row.source, row.unit_kind, rank)
        valves: dict[int, list[Valve]] = defaultdict(list)
        for valve in Valve.objects.filter(head__build__in=ids).select_related("head"):
            assert valve.head.build_id is not None
            valves[valve.head.build_id].append(valve)
        cards = {card.build_id: card for card in CamCard.objects.filter(build__in=ids)}
        sheets: dict[int, dict[str, SpringSheet]] = defaultdict(dict)
        for sheet in SpringSheet.objects.filter(build__in=ids):
            sheets[sheet.build_id][sheet.fits] = sheet
        self._papers = {
            pk: limits_on_papers(valves[pk], cards.get(pk), sheets[pk], {**self._shop, **self._own[pk]})
            for pk in ids
        }

    def get(self, job_pk: int, key: str, address: str) -> LimitFor | None:
        """The limit that holds at an address of a job."""
        papers = self._papers[job_pk]
        return (
            self._own[job_pk].get(key)
            or papers.get((key, address))
            or papers.get((key, ""))
            or self._shop.get(key)
        )


def has_trends(job: Build) -> bool:
    """For a section of a job whose engine went out and was looked at since."""
    if job.kind != BuildKind.BUILD or job.went_out_on is None:
        return False
    return Build.objects.filter(follows=job).exists()
