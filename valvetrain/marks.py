"""What the witness marks of a head say: where each lies, how wide and how even it is, and how high that puts the shaft.

Filled from the records in a constant number of queries; nothing here asks the database after that. Lengths in inches.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from math import hypot

from builds.found import set_number
from builds.limits import LimitFor
from builds.models import Build, Reading
from builds.steps import Step
from builds.uncertainty import standard_of
from builds.verdicts import DRAWN_AS, IN, OUT, UNDECIDED, Rule
from valvetrain.changes import changes_since
from valvetrain.gathering import HeadRecords, LimitValue, gather
from valvetrain.mark_log import made_with, move_at, pack_at
from valvetrain.mark_steps import CENTRE_STANDARD, EDGES, MARK_KEYS, STEP_KEY, WIDTH_STANDARD, shape_of
from valvetrain.measured_photos import filed_elsewhere
from valvetrain.models import Head
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState

PACK_SINCE = "A pack was fitted since this mark: ink it and read again."
SLID_SINCE = "The stand was slid since this mark: ink it and read again."
JUDGED = {"width": "sweep", "centre": "mark_centre", "edge_room": "mark_edge", "taper": "mark_taper"}


@dataclass(frozen=True)
class MarkRead:
    """One thing read on a mark: the mean of the readings that count, and how well it is known."""

    readings: tuple[Reading, ...]
    value: float
    standard: float | None


@dataclass
class MarkState:
    """The mark of one valve. Lengths in inches; from the tip's centre line, plus: outboard."""

    valve: ValveState
    stand: StandState
    reads: dict[str, MarkRead]
    limits: dict[str, LimitValue]
    rule: Rule
    again: list[str] = field(default_factory=list)  # why what was read no longer counts as proof
    measured_on: frozenset[int] = frozenset()  # keys of its photos that were measured, those before work too

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def read(self) -> bool:
        """Whether both edges are read."""
        return all(key in self.reads for key in EDGES)

    @property
    def counts(self) -> bool:
        """Whether it is read, can be, and nothing was done to its stand since."""
        return self.read and not self.again and self.possible

    def value(self, key: str) -> float | None:
        """What was read of one thing; None where nothing was."""
        found = self.reads.get(key)
        return None if found is None else found.value

    @property
    def inner(self) -> float | None:
        """Edge nearer the shaft."""
        return self.value("mark_inner")

    @property
    def outer(self) -> float | None:
        """Edge further from the shaft."""
        return self.value("mark_outer")

    @property
    def closed(self) -> float | None:
        """Where the contact stands with the valve closed."""
        return self.value("mark_closed")

    @property
    def open(self) -> float | None:
        """Where the contact stands at full lift."""
        return self.value("mark_open")

    @property
    def width(self) -> float | None:
        """How far the contact swept."""
        return None if self.inner is None or self.outer is None else self.outer - self.inner

    @property
    def possible(self) -> bool:
        """Whether the two edges lie the right way round."""
        return self.width is not None and self.width > 0

    @property
    def centre(self) -> float | None:
        """Middle of the mark."""
        return None if self.inner is None or self.outer is None else (self.inner + self.outer) / 2

    @property
    def edge_room(self) -> float | None:
        """Least room to the tip's rim."""
        if self.inner is None or self.outer is None:
            return None
        return self.tip_radius - max(abs(self.inner), abs(self.outer))

    @property
    def taper(self) -> float | None:
        """Width of its front half less that of its rear half; plus: heavy at the front."""
        front, rear = self.value("mark_front_width"), self.value("mark_rear_width")
        return None if front is None or rear is None else front - rear

    @property
    def shape(self) -> str:
        """even, heavy front or heavy rear; empty where the halves were not measured."""
        if self.taper is None:
            return ""
        limit = self.limits.get("mark_taper")
        return shape_of(self.taper, None if limit is None else _as_limit(limit))

    @property
    def tip_radius(self) -> float:
        """Half the valve tip's diameter."""
        return float(self.valve.valve.tip_diameter) / 2

    def standard(self, what: str) -> float | None:
        """Standard uncertainty of width, centre, edge_room or taper; None where it is not known."""
        read = {key: each.readings for key, each in self.reads.items()}
        if what == "taper":
            return self._apart("mark_front_width", "mark_rear_width")
        if what == "edge_room":
            inner_is_further = abs(self.inner or 0.0) > abs(self.outer or 0.0)
            return self._standard_of(EDGES[0] if inner_is_further else EDGES[1])
        known = (WIDTH_STANDARD if what == "width" else CENTRE_STANDARD)(read)
        apart = self._apart(*EDGES)
        if known is not None or apart is None:
            return known
        return apart if what == "width" else apart / 2

    def _standard_of(self, key: str) -> float | None:
        found = self.reads.get(key)
        return None if found is None else found.standard

    def _apart(self, one: str, other: str) -> float | None:
        parts = [self._standard_of(one), self._standard_of(other)]
        return None if parts[0] is None or parts[1] is None else hypot(parts[0], parts[1])

    def expanded(self, what: str) -> float | None:
        """U of width, centre, edge_room or taper."""
        return self.rule.expanded(self.standard(what))

    def verdict(self, what: str) -> str:
        """in, undecided, out, or nothing, of width, centre, edge_room or taper."""
        if not self.possible:
            return OUT if self.read and what == "width" else ""
        value: float | None = getattr(self, what)
        limit = self.limits.get(JUDGED[what])
        if value is None or limit is None:
            return ""
        standard = self.standard(what) if self.rule.guard_band else None
        return self.rule.judge(value, limit.low, limit.high, standard)

    @property
    def worst(self) -> str:
        """The heaviest of its verdicts."""
        found = {self.verdict(what) for what in JUDGED}
        return next((verdict for verdict in (OUT, UNDECIDED, IN) if verdict in found), "")

    @property
    def drawn_as(self) -> str:
        """The class of its state: todo, look, out or done."""
        if not self.read:
            return "todo"
        if self.worst == OUT:
            return "out"
        return "look" if self.again else DRAWN_AS.get(self.worst) or "done"

    @property
    def status_word(self) -> str:
        """Its state in a word."""
        if not self.read:
            return "to read"
        if self.again and self.worst != OUT:
            return "read again"
        return self.worst or "kept"

    @property
    def expected(self) -> float | None:
        """Width of the mark at the right height."""
        return self.valve.sweep_target

    @property
    def expected_now(self) -> float | None:
        """Width of the mark at the height that the gauge read."""
        return self.valve.sweep_now


def marks_of_head(records: HeadRecords, state: HeadState | None = None) -> list[MarkState]:
    """Every valve's mark on a head, in order along it; one query beside what is gathered already."""
    return _marks_of([records], {records.head.pk: state} if state else {})[records.head.pk]


def marks_of_build(build: Build) -> list[MarkState]:
    """Every valve's mark on a job, in a constant number of queries."""
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    found = _marks_of(gather(heads, with_tools=True), {})
    return [mark for marks in found.values() for mark in marks]


def _marks_of(gathered: Sequence[HeadRecords], known: Mapping[int, HeadState]) -> dict[int, list[MarkState]]:
    states = {each.head.pk: known.get(each.head.pk) or head_state(each) for each in gathered}
    addresses = {valve.address for state in states.values() for valve in state.valves}
    builds = {each.head.job.pk for each in gathered}
    read: dict[tuple[int, str], list[Reading]] = defaultdict(list)
    standing = Reading.objects.standing().filter(
        build__in=builds, characteristic__in=MARK_KEYS, position__in=addresses
    )
    standing = standing.select_related("photo", "instrument", "taken_by").prefetch_related("photo__filings")
    for reading in standing:
        read[reading.build_id, reading.position].append(reading)
    found = {}
    for records in gathered:
        state = states[records.head.pk]
        stands = {valve.address: stand for stand in state.stands for valve in stand.valves}
        found[records.head.pk] = [
            mark_state(records, stands[valve.address], valve, read[records.head.job.pk, valve.address])
            for valve in state.valves
        ]
    return found


def mark_state(
    records: HeadRecords, stand: StandState, valve: ValveState, readings: Iterable[Reading]
) -> MarkState:
    """One valve's mark from its standing readings: those made as the stand stands now, else the newest there are."""
    packs, moves = stand.packs, records.moves.get(stand.stand.pk, [])
    now = (pack_at(packs, None), move_at(moves, None))
    by_key: dict[str, list[Reading]] = defaultdict(list)
    measured_on = set()
    for reading in readings:
        by_key[reading.characteristic].append(reading)
        if reading.photo_id is not None:
            measured_on.add(reading.photo_id)
    kept = {
        key: _that_count(found, lambda each: made_with(each, packs, moves) == now)
        for key, found in by_key.items()
    }
    edges = [reading for key in EDGES for reading in kept.get(key, ())]
    if edges:
        made, newest = made_with(edges[-1], packs, moves), max(map(set_number, edges))
        begun = min(reading.pk for reading in edges if set_number(reading) == newest)
        # What was read of an older mark says nothing of this one.
        kept = {
            key: found
            for key, found in kept.items()
            if key in EDGES
            or (
                made_with(found[-1], packs, moves) == made
                and (set_number(found[-1]) >= newest or found[-1].pk > begun)
            )
        }
    tools = records.tools
    reads = {
        key: MarkRead(
            tuple(found),
            float(sum((each.value or Decimal(0) for each in found), Decimal(0)) / len(found)),
            standard_of(found, tools, taken_for="scale"),
        )
        for key, found in kept.items()
    }
    limits = {key: records.limits[key] for key in JUDGED.values() if key in records.limits}
    mark = MarkState(valve, stand, reads, limits, valve.rule, measured_on=frozenset(measured_on))
    if edges and not valve.left:
        mark.again = _why_again(records, mark, edges, now)
    return mark


def _that_count(readings: list[Reading], is_current: Callable[[Reading], bool]) -> list[Reading]:
    """The readings of one thing that count: the newest set of those made as the stand stands now, else of all."""
    current = [reading for reading in readings if is_current(reading)] or readings
    newest = max(map(set_number, current))
    return [reading for reading in current if set_number(reading) == newest]


def _why_again(
    records: HeadRecords, mark: MarkState, edges: Sequence[Reading], now: tuple[str, str]
) -> list[str]:
    """Why a mark no longer proves anything: work on its stand, or another lift or rocker since."""
    packs, moves = mark.stand.packs, records.moves.get(mark.stand.stand.pk, [])
    made = [made_with(reading, packs, moves) for reading in edges]
    found = []
    if any(pack != now[0] for pack, _move in made):
        found.append(PACK_SINCE)
    if any(move != now[1] for _pack, move in made):
        found.append(SLID_SINCE)
    found = found or changes_since(edges[-1], mark.valve.inputs, records.gauges, mark.address)
    return [*found, *filed_elsewhere(edges, mark.address)]


def read_again(build: Build, step: Step) -> dict[str, str]:
    """For the log: at which valves the mark has to be inked and read again, and why."""
    read = Reading.objects.standing().filter(build=build, characteristic__in=EDGES)
    if step.key != STEP_KEY or not read.exists():
        return {}
    return {mark.address: " ".join(mark.again) for mark in marks_of_build(build) if mark.again}


def _as_limit(limit: LimitValue) -> LimitFor:
    low, high = (None if each is None else Decimal(repr(each)) for each in (limit.low, limit.high))
    return LimitFor(low, high, limit.source)
