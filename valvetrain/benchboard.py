"""What the bench shows for one head: the plan, one stand's fields, and the act. Everything a template asks."""

from dataclasses import dataclass
from functools import cached_property

from django.http import HttpRequest
from django.urls import reverse

from builds.access import get_me
from builds.characteristics import Characteristic
from builds.measures import show
from builds.models import Reading
from valvetrain.acts import Act, act_for
from valvetrain.benchrow import WAY_WORDS, Row
from valvetrain.characteristics import NET_LIFT, STAND_GAP, TOP_OF_SHAFT
from valvetrain.forms.bench import READABLE
from valvetrain.gathering import HeadRecords
from valvetrain.models import Head, HeightGauge
from valvetrain.packwords import amount, pack_words, shim_words, total_words
from valvetrain.plan import Plan, plan_for
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.status import DRAWN_AS, STATUS_WORDS, Status
from valvetrain.targets import expected_reading, head_state
from valvetrain.valvestate import ValveState


@dataclass
class Board:
    """The bench for one head."""

    head: Head
    state: HeadState
    way: Characteristic
    gauge: HeightGauge | None
    unit: str
    stand: StandState | None
    records: HeadRecords
    focus: str = ""

    @property
    def states(self) -> dict[str, str]:
        """Class on the plan for each address."""
        return self.state.on_plan

    @property
    def states_told(self) -> str:
        """The same as one line, for the plan that is on the screen already."""
        return " ".join(f"{address}={state}" for address, state in self.states.items())

    @cached_property
    def plan(self) -> Plan:
        """The head in plan; drawn only for a whole page."""
        return plan_for(self.head)

    @property
    def links(self) -> str:
        """Start of every balloon's address on the plan."""
        return bench_links(self.head)

    @property
    def ways(self) -> list[tuple[str, str]]:
        """What may be read here."""
        return [(way.key, WAY_WORDS[way.key]) for way in READABLE.values()]

    @property
    def way_words(self) -> str:
        """What is read now."""
        return WAY_WORDS[self.way.key]

    @property
    def gauges(self) -> list[HeightGauge]:
        """The height gauges in the drawer."""
        return list(self.records.gauges.values())

    @property
    def offered_pieces(self) -> str:
        """The pack of the act's button, exact: 0.0150000000x2 0.0020000000x1."""
        act = self.act
        return " ".join(f"{thickness}inx{count}" for thickness, count in act.pieces) if act else ""

    @property
    def offered_words(self) -> str:
        """The same pack as it is called."""
        return shim_words(self.act.pieces, self.unit) if self.act else ""

    @property
    def may_fit(self) -> bool:
        """Whether a pack may still be fitted here."""
        return self.stand is not None and self.head.job.takes_readings

    @property
    def reads_lift(self) -> bool:
        """Whether the fields are for net lift."""
        return self.way.key == NET_LIFT.key

    @property
    def reads_gap(self) -> bool:
        """Whether the fields are for gauge gaps."""
        return self.way.key == STAND_GAP.key

    @cached_property
    def rows(self) -> list[Row]:
        """The fields of the open stand."""
        return [self.row(valve) for valve in self.stand.valves] if self.stand else []

    def row(self, valve: ValveState) -> Row:
        """One valve's field."""
        if self.reads_lift:
            kept = self.records.build.lifts.get(valve.address, [])
        else:
            kept = [read.reading for read in valve.reads if read.reading.characteristic == self.way.key]
        fitted = self.stand is not None and self.stand.pack is not None
        return Row(valve, self.unit, self.way, self._expected(valve), kept[-1] if kept else None, fitted)

    def _expected(self, valve: ValveState) -> str:
        """What the instrument should read when the height is right."""
        if self.reads_lift or valve.target_top is None or valve.arm is None:
            return ""
        if not self.reads_gap:
            down = 0.0 if self.way.key == TOP_OF_SHAFT.key else 2 * valve.arm.shaft_radius
            return f"right: {show(valve.target_top - down, self.unit, with_unit=True)}"
        found = expected_reading(valve, self.gauge) if self.gauge else None
        if found is None:
            return ""
        gap, feeler = float(found.gap), float(found.foot_feeler)
        if feeler > 0:
            return f"right: {amount(feeler, self.unit)} feeler under the foot, gauge just touching"
        return f"right: {amount(gap, self.unit)} over the shaft"

    @cached_property
    def act(self) -> Act | None:
        """What the open stand needs."""
        return act_for(self.stand, self.unit) if self.stand else None

    @property
    def pack_words(self) -> str:
        """The pack in place under the open stand."""
        if self.stand is None or self.stand.pack is None:
            return "no shims yet"
        return pack_words(self.stand.pack, self.unit) + total_words(self.stand.pack, self.unit)

    @property
    def stand_word(self) -> str:
        """The open stand's status in a word."""
        return STATUS_WORDS[self.stand.status] if self.stand else ""

    @property
    def stand_drawn_as(self) -> str:
        """The open stand's class."""
        return DRAWN_AS[self.stand.status] if self.stand else ""

    @property
    def next_words(self) -> str:
        """The next thing to do on this head."""
        stand = self.state.next_stand
        if stand is None:
            return "Every stand is in. Print the setup sheet, look at it, and hand the head on."
        if stand.status in (Status.READ, Status.PROVE):
            valve = stand.next_valve
            verb = "Prove" if stand.status == Status.PROVE else "Read"
            return f"{verb} {valve.address if valve else stand.address}"
        word = {
            Status.SHIM: "Shim",
            Status.OUT: "Mend",
            Status.LOOK: "Look again at",
            Status.WAIT: "Set up",
            Status.UNDECIDED: "Settle",
        }
        return f"{word[stand.status]} {stand.address}"

    @property
    def next_address(self) -> str:
        """Where the next thing to do is."""
        stand = self.state.next_stand
        if stand is None:
            return ""
        valve = stand.next_valve if stand.status in (Status.READ, Status.PROVE) else None
        return valve.address if valve else stand.address

    @property
    def tally(self) -> str:
        """How far the head is."""
        stands = [stand for stand in self.state.stands if stand.valves]
        done = sum(stand.status == Status.DONE for stand in stands)
        return f"{done} of {len(stands)} stands in"

    @property
    def look_again(self) -> list[str]:
        """Every reason why a stand of this head needs another look."""
        valves: dict[str, list[str]] = {}
        for stand in self.state.stands:
            for sentence in stand.changed:
                address, _colon, reason = sentence.partition(": ")
                valves.setdefault(reason, []).append(address)
        return [f"{', '.join(addresses)}: {reason}" for reason, addresses in valves.items()]

    @property
    def has_left(self) -> bool:
        """Whether the engine has gone out: its log is looked at, not written."""
        return not self.head.job.takes_readings

    @property
    def unknown(self) -> str:
        """The address that was asked for and is not on this head."""
        known = {stand.address for stand in self.state.stands} | {
            valve.address for valve in self.state.valves
        }
        return "" if not self.focus or self.focus in known | {"next", "-"} else self.focus

    @property
    def setup_links(self) -> list[tuple[str, str]]:
        """Where to enter what a waiting stand lacks: (words, address)."""
        if self.act is None or self.act.kind != "wait" or self.has_left:
            return []
        lacking = [valve.inputs for valve in self.stand.valves] if self.stand else []
        links = []
        if any(inputs.arm is None for inputs in lacking):
            links.append(("Enter the rockers", reverse("rocker-set-new", args=[self.head.job.pk])))
        if any(inputs.arm is not None and inputs.lift is None for inputs in lacking):
            links.append(("Enter the cam card", reverse("cam-card", args=[self.head.job.pk])))
        return links


def bench_links(head: Head) -> str:
    """Start of the bench's link to any address of a head."""
    return reverse("bench-at", args=[head.pk, "-"])[:-1]


def board_for(request: HttpRequest, records: HeadRecords, address: str = "") -> Board:
    """The bench for a head, open at an address, or at the next thing to do."""
    state = head_state(records)
    chosen = request.session.get("bench", {})
    way = READABLE.get(chosen.get("way", ""), STAND_GAP)
    stand = stand_at(state, address) or state.next_stand or next(iter(state.stands), None)
    gauge = _gauge_for(records, stand, chosen.get("gauges", {}).get(str(records.head.pk), 0))
    return Board(records.head, state, way, gauge, get_me(request).length_unit, stand, records, address)


def _gauge_for(records: HeadRecords, stand: StandState | None, chosen: int) -> HeightGauge | None:
    """The gauge chosen at this head; else the one that read this stand last, or this head; else the first.

    Where nothing is read yet on a job that looks at an engine again, the gauge that read it last before it left.
    """
    if chosen in records.gauges:
        return records.gauges[chosen]
    here = {valve.address for valve in stand.valves} if stand else set()
    used = [
        (position in here, reading.pk, reading.instrument_id)
        for position, readings in records.build.heights.items()
        for reading in readings
        if reading.instrument_id in records.gauges
    ]
    if used:
        return records.gauges[max(used)[2]]
    then = _gauge_of_then(records, here)
    return records.gauges[then] if then else next(iter(records.gauges.values()), None)


def _gauge_of_then(records: HeadRecords, here: set[str]) -> int | None:
    """The gauge that read this stand last, or else any, on the job that this one looks at; one query for a look only."""
    left_by = records.build.build.follows_id
    if left_by is None:
        return None
    read = Reading.objects.filter(
        build_id=left_by, characteristic=STAND_GAP.key, instrument_id__in=list(records.gauges)
    ).values_list("position", "pk", "instrument_id")
    return max(((position in here, pk, gauge) for position, pk, gauge in read), default=(False, 0, None))[2]


def stand_at(state: HeadState, address: str) -> StandState | None:
    """The stand at an address: its own, a pad's, or one of its valves'."""
    for stand in state.stands:
        if address == stand.address or address in {valve.address for valve in stand.valves}:
            return stand
    return None
