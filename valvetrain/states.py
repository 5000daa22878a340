"""How a valve, a stand and a head stand: what was read, what it comes to, and what is next.

Nothing here asks the database; `targets` fills these from the records. Lengths are in inches throughout.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from math import cos, radians
from statistics import fmean

from builds.models import Reading
from builds.uncertainty import Toolbox
from builds.verdicts import IN, OUT, PLAIN, UNDECIDED, Rule
from valvetrain.budgets import HeightBudget, height_budget
from valvetrain.changes import Inputs
from valvetrain.drawer_count import InDrawer, pieces_in, within_reach
from valvetrain.gathering import LimitValue
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.engagement import EngagementVerdict, engagement_verdict
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import PackChoice, Piece, StandNeed, choose_packs
from valvetrain.geometry.travel import sweep
from valvetrain.models import FittedPack, Head, HeightGauge, Pad, Stand, Valve

# A reading of exactly the limit is in; binary fractions must not decide it.
ROUNDING = 1e-9
DEFAULT_TOLERANCE = 0.005
# Fewer shims are worth this much height [in]: less than a feeler can tell.
CLOSE_ENOUGH = 0.0005


def within(value: float, limit: LimitValue) -> bool:
    """Whether a value lies within a limit, whatever its uncertainty; exactly at the limit is in."""
    return PLAIN.judge(value, limit.low, limit.high) != OUT


def plain_limit(limit: LimitValue) -> float:
    """Height error [in] that a limit allows either way: the closer side where the two differ."""
    return min((abs(side) for side in (limit.low, limit.high) if side is not None), default=DEFAULT_TOLERANCE)


class Status(StrEnum):
    """How a stand or a valve stands. The value is also the class on the drawing."""

    WAIT = "wait"  # something is missing before it can be read
    READ = "read"  # no height is read yet
    SHIM = "shim"  # read without its pack: the pack is the next thing
    PROVE = "prove"  # the pack is fitted and not read again
    DONE = "done"
    UNDECIDED = "undecided"  # too near a limit to call, by the shop's guard-band rule
    LOOK = "look"  # in, but what it was judged by has changed since
    OUT = "out"


STATUS_WORDS = {
    Status.WAIT: "waits", Status.READ: "to read", Status.SHIM: "to shim", Status.PROVE: "to prove",
    Status.DONE: "in", Status.LOOK: "look again", Status.OUT: "out",
    Status.UNDECIDED: "undecided",
}  # fmt: skip
DRAWN_AS = {
    Status.WAIT: "todo", Status.READ: "todo", Status.SHIM: "todo", Status.PROVE: "todo",
    Status.DONE: "done", Status.LOOK: "look", Status.OUT: "out",
    Status.UNDECIDED: "look",
}  # fmt: skip
LEAST_FINISHED_FIRST = (
    Status.WAIT, Status.READ, Status.PROVE, Status.OUT, Status.SHIM, Status.UNDECIDED, Status.LOOK,
)  # fmt: skip
NEXT_FIRST = (
    Status.PROVE, Status.READ, Status.SHIM, Status.OUT, Status.UNDECIDED, Status.LOOK, Status.WAIT,
)  # fmt: skip


@dataclass(frozen=True)
class HeightRead:
    """One height reading of a valve and what it comes to: top of shaft above the closed tip [in]."""

    reading: Reading
    top: float
    foot_feeler: float


@dataclass
class ValveState:
    """One valve: what it is judged by, what was read, and what that comes to. Lengths in inches."""

    valve: Valve
    stand: Stand
    inputs: Inputs
    tolerance: LimitValue
    sweep_limit: LimitValue | None
    tools: Toolbox = field(default_factory=Toolbox)
    gauges: dict[int, HeightGauge] = field(default_factory=dict)
    problem: str = ""
    target_top: float | None = None
    reads: list[HeightRead] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    held_rule: Rule | None = None
    left: bool = False  # the engine has gone out: judged by what held then, and nothing asks for another look

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def arm(self) -> RockerArm | None:
        """The rocker as the geometry takes it, once the rocker set is entered."""
        return self.inputs.arm

    # Kept once worked out: a state is filled before anybody asks it, and asked many times for one answer.
    @cached_property
    def top_now(self) -> float | None:
        """Top of the shaft above the tip: the mean of this set's readings."""
        return fmean(read.top for read in self.reads) if self.reads else None

    @cached_property
    def spread(self) -> float | None:
        """Range of the repeats, where there are any."""
        tops = [read.top for read in self.reads]
        return max(tops) - min(tops) if len(tops) > 1 else None

    @property
    def unsettled(self) -> bool:
        """Whether the repeats disagree by more than the whole limit: then their mean decides nothing."""
        low, high = self.tolerance.low, self.tolerance.high
        if self.spread is None or low is None or high is None:
            return False
        return self.spread > high - low + ROUNDING

    @cached_property
    def height_error(self) -> float | None:
        """How high the shaft stands; negative: low."""
        if self.top_now is None or self.target_top is None:
            return None
        return self.top_now - self.target_top

    @property
    def rise(self) -> float | None:
        """How far the shaft must go up; negative: down."""
        return None if self.height_error is None else -self.height_error

    @cached_property
    def verdict(self) -> str:
        """in, undecided, out, or nothing when there is no height yet."""
        return self.judge(self.height_error, self.tolerance, self.budget if self.rule.guard_band else None)

    @property
    def rule(self) -> Rule:
        """The shop's rule for its verdicts."""
        return self.held_rule or self.tools.rule

    def judge(self, value: float | None, limit: LimitValue, budget: HeightBudget | None) -> str:
        """The verdict on a height error of this valve [in] that is as well known as a budget says."""
        # A budget is worked out only where it decides something.
        standard = budget.standard if budget is not None and self.rule.guard_band else None
        return self.rule.judge(value, limit.low, limit.high, standard)

    @cached_property
    def budget(self) -> HeightBudget | None:
        """How well the height error is known; None while there is no height."""
        return None if self.height_error is None else self.budget_of(self.reads)

    def budget_of(self, reads: Sequence[HeightRead]) -> HeightBudget | None:
        """How well the height error is known that a set of readings gives."""
        return height_budget([read.reading for read in reads], self.inputs, self.gauges, self.tools)

    @property
    def expanded(self) -> float | None:
        """U of the height error; None while there is no height."""
        return None if self.budget is None else self.budget.expanded

    @property
    def too_coarse(self) -> bool:
        """Whether the limits lie closer than the tools can tell: then no height could be proved in."""
        standard = None if self.budget is None else self.budget.standard
        return self.rule.too_coarse(self.tolerance.low, self.tolerance.high, standard)

    @property
    def sweep_target(self) -> float | None:
        """Width of the mark at the right height."""
        return self._sweep(0.0)

    @cached_property
    def sweep_now(self) -> float | None:
        """Width of the mark at the height that was read."""
        return None if self.height_error is None else self._sweep(self.height_error)

    @property
    def sweep_verdict(self) -> str:
        """Whether the mark at the height that was read is narrow enough for the shop."""
        if self.sweep_now is None or self.sweep_limit is None:
            return ""
        return self.rule.judge(
            self.sweep_now, self.sweep_limit.low, self.sweep_limit.high, self._sweep_standard()
        )

    def _sweep_standard(self) -> float | None:
        """How well the mark's width is known from the height's uncertainty alone; only asked by the rule that uses it."""
        if not self.rule.guard_band or self.budget is None or self.height_error is None:
            return None
        off = self.budget.standard
        ends = [self._sweep(self.height_error + way * off) for way in (1, -1)]
        return None if None in ends else max(abs((end or 0.0) - (self.sweep_now or 0.0)) for end in ends)

    def _sweep(self, error: float) -> float | None:
        if self.arm is None or self.inputs.lift is None or self.problem:
            return None
        try:
            return float(sweep(self.arm, self.inputs.lift, error, square_at=self.inputs.square_at))
        except GeometryError:
            return None

    def status(self, *, fitted: bool) -> Status:
        """How this valve stands, given whether a pack is fitted."""
        if self.problem or self.target_top is None:
            return Status.WAIT
        if not self.reads:
            return Status.PROVE if fitted else Status.READ
        if self.verdict == "out":
            return Status.OUT if fitted else Status.SHIM
        if self.verdict == UNDECIDED:
            return Status.UNDECIDED
        return Status.LOOK if (self.changed or self.unsettled) and not self.left else Status.DONE


def along_the_stand(places: Sequence[float], packs: Sequence[float], at: float) -> float:
    """Pack [in] at a place along a stand: on the line between the two pads beside it, or on along the last two.

    >>> along_the_stand([0.0, 2.0], [0.010, 0.014], 1.5)
    0.013
    """
    known = sorted(zip(places, packs, strict=True))
    if len(known) == 1:
        return known[0][1]
    right = next((n for n in range(1, len(known) - 1) if known[n][0] >= at), len(known) - 1)
    (left_at, left), (right_at, pack) = known[right - 1], known[right]
    if right_at == left_at:
        return max(left, pack)
    return left + (pack - left) * (at - left_at) / (right_at - left_at)


@dataclass
class StandState:
    """One stand with its valves, its pack, and what to do next. Lengths in inches."""

    stand: Stand
    valves: list[ValveState]
    packs: list[FittedPack]
    tolerance: LimitValue
    multiples: dict[str, float]
    shims: list[InDrawer]

    @property
    def address(self) -> str:
        """The stand's printed address."""
        return self.stand.address

    @property
    def pack(self) -> FittedPack | None:
        """The pack in place; None before anything was fitted."""
        return self.packs[-1] if self.packs else None

    @property
    def pack_total(self) -> float:
        """Thickness under each pad, as measured or as its pieces say; under the thickest where the pads differ."""
        return float(self.pack.total()) if self.pack else 0.0

    @property
    def told_total(self) -> float:
        """The total as it is written behind a pack's pieces: none where each pad has its own."""
        return 0.0 if self.pack is not None and self.pack.differs else self.pack_total

    @property
    def pads(self) -> list[Pad]:
        """Its pads, along the stand."""
        return list(self.stand.pads.all())

    @property
    def pad_count(self) -> int:
        """How many pads get a pack: a stand whose pads are not entered has one."""
        return max(1, len(self.pads))

    @property
    def pad_packs(self) -> list[float]:
        """Thickness under each pad, in the order of the pads."""
        if self.pack is None:
            return [0.0] * self.pad_count
        return [float(self.pack.total(pad.pk)) for pad in self.pads] or [self.pack_total]

    @property
    def pack_at_valves(self) -> list[float]:
        """Thickness of the pack where each valve is: the same for all, unless the pads differ."""
        if self.pack is None or not self.pack.differs:
            return [self.pack_total for _ in self.valves]
        places = [float(pad.along) for pad in self.pads]
        return [along_the_stand(places, self.pad_packs, float(valve.valve.along)) for valve in self.valves]

    @cached_property
    def own_pieces(self) -> Counter[Decimal]:
        """The pieces under this stand now, all its pads together: a new pack may use them again."""
        return pieces_in(self.pack, self.pad_count)

    @cached_property
    def reach(self) -> list[InDrawer]:
        """What a new pack for this stand may be made of: the drawer, and what lies under the stand."""
        return within_reach(self.shims, self.own_pieces)

    @property
    def pack_id(self) -> str:
        """What the readings of this set name as their pack."""
        return str(self.pack.client_id) if self.pack else ""

    @property
    def all_read(self) -> bool:
        """Whether every valve has a height in this set and a target."""
        return bool(self.valves) and all(valve.height_error is not None for valve in self.valves)

    @cached_property
    def status(self) -> Status:
        """How the stand stands: as its valves do, the least finished first."""
        fitted = self.pack is not None
        found = {valve.status(fitted=fitted) for valve in self.valves}
        if not found:
            return Status.WAIT
        for status in LEAST_FINISHED_FIRST:
            if status in found:
                return status
        return Status.DONE

    @property
    def changed(self) -> list[str]:
        """Why this stand needs another look, one sentence for each reason."""
        return [sentence for valve in self.valves for sentence in valve.changed]

    @property
    def next_valve(self) -> ValveState | None:
        """The valve to read next on this stand."""
        return next((valve for valve in self.valves if not valve.problem and not valve.reads), None)

    @cached_property
    def beyond_shims(self) -> str:
        """Why no pack can serve, whatever the drawer holds: "lower" or "tips"; empty where one might."""
        errors = [valve.height_error for valve in self.valves if valve.height_error is not None]
        low, high = self.tolerance.low, self.tolerance.high
        if not errors or len(errors) < len(self.valves) or low is None or high is None:
            return ""
        if max(errors) - min(errors) > high - low + ROUNDING:
            return "tips"
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        without = max(errors) - self.pack_total * along_axis
        return "lower" if without > high + ROUNDING else ""

    @property
    def needed_packs(self) -> list[float]:
        """What each valve would have the pack be, along the valve's axis: what is there now, and its rise."""
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        return [
            (valve.rise or 0.0) + pack * along_axis
            for valve, pack in zip(self.valves, self.pack_at_valves, strict=True)
        ]

    @cached_property
    def proved_within(self) -> float | None:
        """Height error [in] either way at which its least known valve is still in by the shop's rule; None: at none."""
        rules = [valve.rule for valve in self.valves if valve.rule.guard_band]
        if not rules:
            return plain_limit(self.tolerance)
        budgets = [valve.budget for valve in self.valves]
        known = [budget.standard for budget in budgets if budget is not None]
        least = max(known, default=None) if len(known) == len(budgets) else None
        return rules[0].proved_within(plain_limit(self.tolerance), least)

    def aim(self, needs: Sequence[float]) -> float:
        """Height error [in] that one pack may leave: what can be proved in, or the plain limit where no pack could."""
        proved = self.proved_within
        if proved is None or (max(needs) - min(needs)) / 2 > proved + ROUNDING:
            return plain_limit(self.tolerance)
        return proved

    def verdict_left(self, residuals: Sequence[float]) -> str:
        """The heaviest verdict of its valves where a pack leaves these height errors [in]."""
        found = {
            valve.judge(left, valve.tolerance, valve.budget if valve.rule.guard_band else None)
            for valve, left in zip(self.valves, residuals, strict=True)
        }
        return next((verdict for verdict in (OUT, UNDECIDED, IN) if verdict in found), "")

    @cached_property
    def choice(self) -> PackChoice | None:
        """The pack that makes the worst valve least wrong, from the drawer; None until every valve is read."""
        return self._choose(self.needed_packs) if self.all_read else None

    @cached_property
    def choice_for_most(self) -> PackChoice | None:
        """Where no pack serves all valves: the pack for the group that one can serve; None without a majority."""
        low, high = self.tolerance.low, self.tolerance.high
        if not self.all_read or low is None or high is None:
            return None
        needs = sorted(self.needed_packs)
        groups = [[each for each in needs if 0 <= each - first <= high - low + ROUNDING] for first in needs]
        most = max(groups, key=len)
        return self._choose(most) if 2 * len(most) > len(needs) else None

    def _choose(self, needs: Sequence[float]) -> PackChoice:
        need = StandNeed(
            name=self.address, rises=list(needs), pads=self.pad_count, pad_tilt=float(self.stand.pad_tilt)
        )
        stock = [Piece(float(piece.thickness), piece.count) for piece in self.reach]
        return choose_packs([need], stock, tolerance=self.aim(needs), close_enough=CLOSE_ENOUGH)[0]

    def left_over(self, choice: PackChoice) -> list[float]:
        """What a pack leaves at each valve; positive: high."""
        along_axis = cos(radians(float(self.stand.pad_tilt)))
        return [choice.thickness * along_axis - need for need in self.needed_packs]

    def engagement(self, pack: float) -> EngagementVerdict | None:
        """Thread engagement with a pack [in] under each pad; None where the bolt's sizes do not make sense."""
        stand = self.stand
        try:
            return engagement_verdict(
                bolt_length=float(stand.bolt_length),
                washer=float(stand.washer_thickness),
                stand_thickness=float(stand.thickness_at_bolt),
                pack=pack,
                tapped_depth=float(stand.tapped_depth),
                bolt_diameter=float(stand.bolt_diameter),
                material=stand.head.material,
                multiples=self.multiples,
            )
        except GeometryError:
            return None

    def engagement_under(self, packs: Sequence[float]) -> EngagementVerdict | None:
        """Thread engagement with each pad's own pack [in]: the least thread of any, and the furthest past it."""
        least, most = self.engagement(max(packs)), self.engagement(min(packs))
        if least is None or most is None:
            return None
        return replace(least, past_thread=most.past_thread)

    @property
    def engagement_now(self) -> EngagementVerdict | None:
        """Thread engagement with the pack in place."""
        return self.engagement_under(self.pad_packs)


@dataclass
class HeadState:
    """One head: its stands, and what is next."""

    head: Head
    stands: list[StandState]
    gauges: dict[int, HeightGauge]

    @property
    def valves(self) -> list[ValveState]:
        """Every valve, in order along the head."""
        return sorted(
            (valve for stand in self.stands for valve in stand.valves), key=lambda state: state.valve.order
        )

    @property
    def done(self) -> bool:
        """Whether every stand is in and nothing changed since."""
        return bool(self.stands) and all(stand.status == Status.DONE for stand in self.stands if stand.valves)

    @property
    def on_plan(self) -> dict[str, str]:
        """Class of the balloon on the plan for each address."""
        found = {}
        for stand in self.stands:
            found[stand.address] = f"is-{DRAWN_AS[stand.status]}"
            for valve in stand.valves:
                found[valve.address] = f"is-{DRAWN_AS[valve.status(fitted=stand.pack is not None)]}"
        return found

    @property
    def next_stand(self) -> StandState | None:
        """The stand to go to next: prove what is fitted, then read, then shim, then mend, then look again.

        A stand that shims cannot mend comes after those they can, so that it holds nobody up.
        """
        order = [Status.PROVE, Status.READ, Status.SHIM, Status.OUT, Status.LOOK, Status.WAIT]
        waiting = [stand for stand in self.stands if stand.valves and stand.status in order]
        return min(
            waiting, key=lambda stand: (bool(stand.beyond_shims), order.index(stand.status)), default=None
        )
