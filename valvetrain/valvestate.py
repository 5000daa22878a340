"""How a valve stands: what was read, what it comes to, how well that is known. Nothing here asks the database."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from statistics import fmean

from builds.models import Reading
from builds.uncertainty import Toolbox
from builds.verdicts import OUT, PLAIN, UNDECIDED, Rule
from valvetrain.budgets import HeightBudget, height_budget
from valvetrain.changes import Inputs
from valvetrain.gathering import LimitValue
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.travel import sweep
from valvetrain.models import HeightGauge, Stand, Valve
from valvetrain.status import Status

# A reading of exactly the limit is in; binary fractions must not decide it.
ROUNDING = 1e-9
DEFAULT_TOLERANCE = 0.005


def within(value: float, limit: LimitValue) -> bool:
    """Whether a value lies within a limit, whatever its uncertainty; exactly at the limit is in."""
    return PLAIN.judge(value, limit.low, limit.high) != OUT


def plain_limit(limit: LimitValue) -> float:
    """Height error [in] that a limit allows either way: the closer side where the two differ."""
    return min((abs(side) for side in (limit.low, limit.high) if side is not None), default=DEFAULT_TOLERANCE)


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
