"""How a valve, a stand and a head stand: what was read, what it comes to, and what is next.

Nothing here asks the database; `targets` fills these from the records. Lengths are in inches throughout.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from statistics import fmean

from builds.models import Reading
from valvetrain.changes import Inputs
from valvetrain.gathering import LimitValue
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.engagement import EngagementVerdict, engagement_verdict
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import PackChoice, Piece, StandNeed, choose_packs
from valvetrain.geometry.travel import sweep
from valvetrain.models import FittedPack, Head, HeightGauge, ShimStock, Stand, Valve

# A reading of exactly the limit is in; binary fractions must not decide it.
ROUNDING = 1e-9
DEFAULT_TOLERANCE = 0.005
# Fewer shims are worth this much height [in]: less than a feeler can tell.
CLOSE_ENOUGH = 0.0005


def within(value: float, limit: LimitValue) -> bool:
    """Whether a value lies within a limit; exactly at the limit is in."""
    above = limit.low is None or value >= limit.low - ROUNDING
    return above and (limit.high is None or value <= limit.high + ROUNDING)


class Status(StrEnum):
    """How a stand or a valve stands. The value is also the class on the drawing."""

    WAIT = "wait"  # something is missing before it can be read
    READ = "read"  # no height is read yet
    SHIM = "shim"  # read without its pack: the pack is the next thing
    PROVE = "prove"  # the pack is fitted and not read again
    DONE = "done"
    LOOK = "look"  # in, but what it was judged by has changed since
    OUT = "out"


STATUS_WORDS = {
    Status.WAIT: "waits", Status.READ: "to read", Status.SHIM: "to shim", Status.PROVE: "to prove",
    Status.DONE: "in", Status.LOOK: "look again", Status.OUT: "out",
}  # fmt: skip
DRAWN_AS = {
    Status.WAIT: "todo", Status.READ: "todo", Status.SHIM: "todo", Status.PROVE: "todo",
    Status.DONE: "done", Status.LOOK: "look", Status.OUT: "out",
}  # fmt: skip


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
    problem: str = ""
    target_top: float | None = None
    reads: list[HeightRead] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def arm(self) -> RockerArm | None:
        """The rocker as the geometry takes it, once the rocker set is entered."""
        return self.inputs.arm

    @property
    def top_now(self) -> float | None:
        """Top of the shaft above the tip: the mean of this set's readings."""
        return fmean(read.top for read in self.reads) if self.reads else None

    @property
    def spread(self) -> float | None:
        """Range of the repeats, where there are any."""
        tops = [read.top for read in self.reads]
        return max(tops) - min(tops) if len(tops) > 1 else None

    @property
    def height_error(self) -> float | None:
        """How high the shaft stands; negative: low."""
        if self.top_now is None or self.target_top is None:
            return None
        return self.top_now - self.target_top

    @property
    def rise(self) -> float | None:
        """How far the shaft must go up; negative: down."""
        return None if self.height_error is None else -self.height_error

    @property
    def verdict(self) -> str:
        """in, out, or nothing when there is no height yet."""
        if self.height_error is None:
            return ""
        return "in" if within(self.height_error, self.tolerance) else "out"

    @property
    def sweep_target(self) -> float | None:
        """Width of the mark at the right height."""
        return self._sweep(0.0)

    @property
    def sweep_now(self) -> float | None:
        """Width of the mark at the height that was read."""
        return None if self.height_error is None else self._sweep(self.height_error)

    @property
    def sweep_verdict(self) -> str:
        """Whether the mark at the height that was read is narrow enough for the shop."""
        if self.sweep_now is None or self.sweep_limit is None:
            return ""
        return "in" if within(self.sweep_now, self.sweep_limit) else "out"

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
        return Status.LOOK if self.changed else Status.DONE


@dataclass
class StandState:
    """One stand with its valves, its pack, and what to do next. Lengths in inches."""

    stand: Stand
    valves: list[ValveState]
    packs: list[FittedPack]
    tolerance: LimitValue
    multiples: dict[str, float]
    shims: list[ShimStock]

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
        """Thickness under each pad."""
        return float(self.pack.total()) if self.pack else 0.0

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
        for status in (Status.WAIT, Status.READ, Status.PROVE, Status.OUT, Status.SHIM, Status.LOOK):
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
    def choice(self) -> PackChoice | None:
        """The pack that makes the worst valve least wrong, from the drawer; None until every valve is read."""
        if not self.all_read:
            return None
        need = StandNeed(
            name=self.address,
            rises=[valve.rise for valve in self.valves if valve.rise is not None],
            pads=max(1, len(self.stand.pads.all())),
            pad_tilt=float(self.stand.pad_tilt),
            pack_in_place=self.pack_total,
        )
        stock = [Piece(float(piece.thickness), piece.count) for piece in self.shims]
        high = self.tolerance.high
        tolerance = DEFAULT_TOLERANCE if high is None else high
        return choose_packs([need], stock, tolerance=tolerance, close_enough=CLOSE_ENOUGH)[0]

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

    @property
    def engagement_now(self) -> EngagementVerdict | None:
        """Thread engagement with the pack in place."""
        return self.engagement(self.pack_total)


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
        """The stand to go to next: prove what is fitted, then read, then shim, then mend, then look again."""
        order = [Status.PROVE, Status.READ, Status.SHIM, Status.OUT, Status.LOOK, Status.WAIT]
        for status in order:
            for stand in self.stands:
                if stand.valves and stand.status == status:
                    return stand
        return None
