"""How well a reading is known, how well what is worked out from it is, and what may be said of a limit.

Words and rules are those of JCGM 100:2008 (the GUM) and, for limits, of ISO 14253-1. Inputs are taken as
independent of each other. An uncertainty without a word before it is a standard uncertainty u; expanded
means U = k·u. Any unit does: an uncertainty is in the unit of its quantity.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar

# U = 2u: about 95 % for a result known from many degrees of freedom (GUM 6.3.3, G.6.6).
COVERAGE = 2.0
# Two sigma of the normal distribution, the level that k = 2 stands for.
TWO_SIGMA = 0.9545
# Rounding only, so that a value at exactly a limit is in.
_ROUNDING = 1e-9
# A difference quotient needs a step: this part of the input's size.
_STEP = 1e-3

Outcome = Literal["in", "undecided", "out"]


@dataclass(frozen=True)
class Instrument:
    """What an instrument adds to every reading.

    Args:
        resolution: Smallest step it shows or is read to [the reading's unit], above zero.
        stated: Expanded uncertainty from its certificate or data sheet [the reading's unit], zero or
            more; zero: nothing stated.
        coverage: Coverage factor k that goes with what is stated [-], above zero.
    Raises:
        GeometryError: A number out of range.
    Examples:
        >>> Instrument(resolution=0.0005, stated=0.0004).uncertainty
        0.000246644
    """

    resolution: float
    stated: float = 0.0
    coverage: float = COVERAGE

    def __post_init__(self) -> None:
        for name in ("resolution", "stated", "coverage"):
            object.__setattr__(self, name, scalar(name, getattr(self, name)))

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of one reading [the reading's unit]: its step and what is stated, together."""
        return math.hypot(
            float(from_resolution(self.resolution)), float(from_stated(self.stated, self.coverage))
        )


@dataclass(frozen=True)
class Repeats:
    """Several readings of one thing, and what their scatter says.

    Args:
        mean: Mean of the readings [the reading's unit].
        least: Least of them [the reading's unit].
        greatest: Greatest of them [the reading's unit].
        count: How many [-], 1 or more.
        deviation: Standard deviation of one reading [the reading's unit]; None: one reading has none.
        uncertainty: Standard uncertainty of the mean from scatter alone [the reading's unit]; None likewise.
        degrees_of_freedom: Readings less one [-].
    """

    mean: float
    least: float
    greatest: float
    count: int
    deviation: float | None
    uncertainty: float | None
    degrees_of_freedom: int

    @property
    def spread(self) -> float:
        """Greatest less least [the reading's unit]."""
        return self.greatest - self.least


@dataclass(frozen=True)
class Estimate:
    """An input of a formula: its value and how well it is known.

    Args:
        value: Best value [the input's unit].
        uncertainty: Standard uncertainty u [the input's unit], zero or more.
        degrees_of_freedom: Degrees of freedom of the uncertainty [-], above zero; infinite: known well.
    Raises:
        GeometryError: A number out of range.
    Examples:
        >>> Estimate(0.212, 0.0002).degrees_of_freedom
        inf
    """

    value: float
    uncertainty: float
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        object.__setattr__(self, "value", scalar("value", self.value))
        object.__setattr__(self, "uncertainty", scalar("uncertainty", self.uncertainty))
        if not self.degrees_of_freedom > 0.0:
            raise GeometryError(
                f"degrees of freedom is {self.degrees_of_freedom:g}",
                where="degrees_of_freedom",
                right="it must be above zero; two readings have one",
            )


@dataclass(frozen=True)
class Contribution:
    """What one input adds to the uncertainty of the result.

    Args:
        name: The input's name [-].
        value: The input's value [the input's unit].
        uncertainty: The input's standard uncertainty [the input's unit].
        sensitivity: Change of the result for a change of the input [result's unit per input's].
        degrees_of_freedom: Of the input's uncertainty [-].
        share: Part of the result's variance [%].
    """

    name: str
    value: float
    uncertainty: float
    sensitivity: float
    degrees_of_freedom: float
    share: float

    @property
    def adds(self) -> float:
        """Uncertainty of the result from this input alone, |c|·u [the result's unit]."""
        return abs(self.sensitivity) * self.uncertainty


@dataclass(frozen=True)
class Budget:
    """A result with its uncertainty and where that comes from.

    Args:
        value: The result [the result's unit].
        uncertainty: Combined standard uncertainty u [the result's unit].
        coverage: Coverage factor k [-].
        degrees_of_freedom: Effective degrees of freedom [-], Welch-Satterthwaite.
        contributions: One for each input, the greatest first [the result's unit].
    """

    value: float
    uncertainty: float
    coverage: float
    degrees_of_freedom: float
    contributions: tuple[Contribution, ...]

    @property
    def expanded(self) -> float:
        """Expanded uncertainty U = k·u [the result's unit]."""
        return self.coverage * self.uncertainty


@dataclass(frozen=True)
class Verdict:
    """What may be said of a value against its limits.

    Args:
        outcome: "in", "undecided" or "out" [-].
        margin: Distance to the nearest limit [the value's unit]; negative: beyond it.
        guard: Guard band that was asked for [the value's unit], zero with the rule off.
        too_coarse: Whether the two limits are less than two guard bands apart [-], so that no value could be
            proved in: a better instrument is needed.
    """

    outcome: Outcome | NDArray[np.str_]
    margin: Numbers
    guard: Numbers
    too_coarse: bool


def rectangular(half_width: Numbers) -> Numbers:
    """Uncertainty of a value that may lie anywhere between two bounds alike.

    Args:
        half_width: Half the distance between the bounds, a [any], zero or more.
    Returns:
        Standard uncertainty a/√3 [as the half width].
    Raises:
        GeometryError: A number out of range.
    Notes:
        GUM 4.3.7.
    Examples:
        >>> rectangular(0.001)
        0.000577350
    """
    return plain(require("half_width", half_width) / math.sqrt(3.0))


def triangular(half_width: Numbers) -> Numbers:
    """Uncertainty of a value between two bounds, likelier in the middle.

    Args:
        half_width: Half the distance between the bounds, a [any], zero or more.
    Returns:
        Standard uncertainty a/√6 [as the half width].
    Raises:
        GeometryError: A number out of range.
    Notes:
        GUM 4.3.9.
    Examples:
        >>> triangular(0.001)
        0.000408248
    """
    return plain(require("half_width", half_width) / math.sqrt(6.0))


def from_resolution(resolution: Numbers) -> Numbers:
    """Uncertainty from reading in steps.

    Args:
        resolution: The step [any], above zero.
    Returns:
        Standard uncertainty: step/√12 [as the step], rectangular on half a step.
    Raises:
        GeometryError: A number out of range.
    Notes:
        GUM F.2.2.1.
    Examples:
        >>> from_resolution(0.001)
        0.000288675
    """
    return rectangular(0.5 * require("resolution", resolution))


def from_stated(stated: Numbers, coverage: Numbers = COVERAGE) -> Numbers:
    """Uncertainty from what a certificate states.

    Args:
        stated: Expanded uncertainty U [any], zero or more.
        coverage: Coverage factor k [-], above zero.
    Returns:
        Standard uncertainty U/k [as stated].
    Raises:
        GeometryError: A number out of range.
    Notes:
        GUM 4.3.3.
    Examples:
        >>> from_stated(0.0004, 2.0)
        0.0002
    """
    return plain(require("stated", stated) / require("coverage", coverage))


def repeats(readings: Sequence[float]) -> Repeats:
    """What several readings of one thing say together.

    Args:
        readings: The readings [any], one or more.
    Returns:
        Mean, least, greatest, count, deviation, and the uncertainty of the mean.
    Raises:
        GeometryError: No reading, or one that is not a finite number.
    Notes:
        s/√n with n − 1 degrees of freedom: GUM 4.2.2, 4.2.3. Sums are exact, so that readings that share
        many digits lose none. Few readings say little of their scatter, and two nearly nothing.
    Examples:
        >>> repeats([0.020, 0.022, 0.021]).uncertainty
        0.000577350
    """
    numbers = [scalar("reading", reading) for reading in readings]
    if not numbers:
        raise GeometryError("there is no reading", where="readings", right="give one or more")
    count = len(numbers)
    mean = math.fsum(numbers) / count
    # The mean is rounded once more; what that leaves over is taken out of the squares.
    off = [number - mean for number in numbers]
    squares = math.fsum(each * each for each in off) - math.fsum(off) ** 2 / count
    deviation = math.sqrt(max(squares, 0.0) / (count - 1)) if count > 1 else None
    return Repeats(
        mean=mean,
        least=min(numbers),
        greatest=max(numbers),
        count=count,
        deviation=deviation,
        uncertainty=None if deviation is None else deviation / math.sqrt(count),
        degrees_of_freedom=count - 1,
    )


def reading_estimate(readings: Sequence[float], instrument: Instrument) -> Estimate:
    """A reading, or the mean of several, as an input: scatter and instrument together.

    Args:
        readings: Readings of one thing [any], one or more.
        instrument: What they were taken with [the readings' unit].
    Returns:
        Mean, combined uncertainty, and effective degrees of freedom.
    Raises:
        GeometryError: As ``repeats``.
    Notes:
        A single reading has no scatter to go by: only what is known of the instrument counts. What the
        instrument adds does not shrink with repeats. GUM 4.3.10, G.4.1.
    Examples:
        >>> reading_estimate([0.021], Instrument(resolution=0.001))
        Estimate(value=0.021, uncertainty=0.000288675, degrees_of_freedom=inf)
    """
    several = repeats(readings)
    scatter = several.uncertainty or 0.0
    both = math.hypot(scatter, instrument.uncertainty)
    parts = [(scatter, float(several.degrees_of_freedom or 1)), (instrument.uncertainty, math.inf)]
    return Estimate(several.mean, both, _effective(both, parts))


def root_sum_of_squares(uncertainties: Iterable[float]) -> float:
    """Uncertainties of one quantity, put together.

    Args:
        uncertainties: Each in the unit of the result [any], zero or more.
    Returns:
        Square root of the sum of their squares [as given].
    Raises:
        GeometryError: A number out of range.
    Notes:
        For inputs independent of each other: GUM 5.1.2.
    Examples:
        >>> root_sum_of_squares([0.0003, 0.0004])
        0.0005
    """
    return math.hypot(*(scalar("uncertainty", each) for each in uncertainties))


def combine(
    formula: Callable[..., float],
    inputs: Mapping[str, Estimate],
    *,
    coverage: float = COVERAGE,
    sensitivities: Mapping[str, float] | None = None,
) -> Budget:
    """Uncertainty of what a formula gives, from that of its inputs.

    Args:
        formula: A function that takes the inputs by name and gives one number [the result's unit].
        inputs: What it takes, by name [each in its unit].
        coverage: Coverage factor k of the expanded uncertainty [-], above zero.
        sensitivities: Partial derivatives already known, by name [result's unit per input's]; those left
            out are worked out from the formula.
    Returns:
        The result, its uncertainty, and what each input adds, the greatest first.
    Raises:
        GeometryError: What the formula itself refuses, an input that it refuses on both sides, or a
            result that is not a finite number.
    Notes:
        u² = Σ (c·u)²: GUM 5.1.2; effective degrees of freedom after Welch and Satterthwaite: GUM G.4.1.
        Inputs are independent: one reading used twice must be one input. Derivatives are central
        differences at two steps, carried to the limit; at the end of an input's range (a gap of zero)
        they are taken from the inner side. First order: a formula that bends much within the uncertainty of
        an input needs more than this.
    Examples:
        >>> gap, step = Estimate(0.020, 0.0003), Estimate(0.212, 0.0004)
        >>> budget = combine(lambda step, gap: step - gap, {"step": step, "gap": gap})
        >>> budget.value, budget.uncertainty, [(part.name, part.share) for part in budget.contributions]
        (0.192, 0.0005, [('step', 64.0), ('gap', 36.0)])
    """
    values = {name: estimate.value for name, estimate in inputs.items()}
    known = sensitivities or {}
    strangers = sorted(set(known) - set(inputs))
    if strangers:
        raise GeometryError(
            f"a sensitivity is given for {', '.join(strangers)}, which is no input",
            where="sensitivities",
            right="name the inputs as the formula does",
        )
    result = _result(formula, values)
    return _budget(
        result,
        scalar("coverage", coverage),
        [
            Contribution(
                name=name,
                value=estimate.value,
                uncertainty=estimate.uncertainty,
                sensitivity=(
                    scalar("sensitivity", known[name])
                    if name in known
                    else _slope(formula, values, name, estimate)
                ),
                degrees_of_freedom=estimate.degrees_of_freedom,
                share=0.0,
            )
            for name, estimate in inputs.items()
        ],
    )


def what_if_better(budget: Budget, name: str, uncertainty: float = 0.0) -> Budget:
    """The same result with one input known better, or worse.

    Args:
        budget: The budget as it is [the result's unit].
        name: The input to change [-].
        uncertainty: Its new standard uncertainty [the input's unit], zero or more; left out: known exactly,
            the most that any better tool could do.
    Returns:
        The budget as it would be.
    Raises:
        GeometryError: An input that is not in the budget, or a number out of range.
    Notes:
        The input's value and sensitivity stay; its new uncertainty is taken as known well. Derived here.
    Examples:
        >>> inputs = {"gap": Estimate(0.020, 0.0004), "step": Estimate(0.212, 0.0003)}
        >>> what_if_better(combine(lambda gap, step: step - gap, inputs), "gap").uncertainty
        0.0003
    """
    if name not in {part.name for part in budget.contributions}:
        raise GeometryError(
            f"{name!r} is no input of this budget",
            where="name",
            right="choose one of " + ", ".join(sorted(part.name for part in budget.contributions)),
        )
    better = scalar("uncertainty", uncertainty)
    return _budget(
        budget.value,
        budget.coverage,
        [
            replace(part, uncertainty=better, degrees_of_freedom=math.inf) if part.name == name else part
            for part in budget.contributions
        ],
    )


def coverage_factor(degrees_of_freedom: float, confidence: float = TWO_SIGMA) -> float:
    """Factor from standard to expanded uncertainty for a level of confidence.

    Args:
        degrees_of_freedom: Effective degrees of freedom [-], above zero; infinite for known well.
        confidence: Level of confidence [-], above 0 and below 1; left out: 95.45 %, that of two sigma.
    Returns:
        Coverage factor k [-].
    Raises:
        GeometryError: A number out of range.
    Notes:
        From the t distribution: GUM G.3, table G.2; NIST TN 1297, table B.1.
    Examples:
        >>> coverage_factor(10.0)
        2.28
    """
    level = scalar("confidence", confidence)
    if not degrees_of_freedom > 0.0:
        raise GeometryError(
            f"degrees of freedom is {degrees_of_freedom:g}",
            where="degrees_of_freedom",
            right="it must be above zero; two readings have one",
        )
    tail = 0.5 * (1.0 + level)
    return float(ndtri(tail) if math.isinf(degrees_of_freedom) else stdtrit(degrees_of_freedom, tail))


def guard_factor(risk: float) -> float:
    """Guard band, in standard uncertainties, that holds the risk of a wrong pass down to a figure.

    Args:
        risk: Chance that a value exactly at the limit is passed [-], above 0 up to 0.5.
    Returns:
        Factor on the standard uncertainty [-].
    Raises:
        GeometryError: A risk out of range.
    Notes:
        The normal distribution's one-sided point: 1.645 for 5 % (ISO 14253-1:2017 rounds it to 1.65), 2 for
        2.28 %. JCGM 106:2012, 8.3.3.
    Examples:
        >>> guard_factor(0.05)
        1.644854
    """
    return float(-ndtri(scalar("risk", risk)))


def verdict(
    value: Numbers,
    *,
    lower: float | None = None,
    upper: float | None = None,
    expanded: Numbers = 0.0,
    guarded: bool = True,
) -> Verdict:
    """Whether a value is in its limits, out of them, or too near to say.

    Args:
        value: The measured or worked out value [any].
        lower: Lower limit [as the value]; left out: none.
        upper: Upper limit [as the value]; left out: none.
        expanded: Guard band, mostly the expanded uncertainty U of the value [as the value], zero or more.
        guarded: Whether the shop's guard-band rule is on [-]; off: plainly in or out.
    Returns:
        The outcome, the distance to the nearest limit, and the guard band.
    Raises:
        GeometryError: No limit at all, limits in the wrong order, or a number out of range.
    Notes:
        In: inside a limit by the guard band or more. Out: beyond it by more than the guard band. Between:
        neither is proved. A value of exactly the limit is in when the rule is off. ISO 14253-1 with guard
        band U; JCGM 106:2012, 8.3.2.
    Examples:
        >>> verdict(0.004, lower=-0.005, upper=0.005, expanded=0.0006).outcome
        'in'
        >>> verdict(0.0047, lower=-0.005, upper=0.005, expanded=0.0006).outcome
        'undecided'
    """
    value = require("value", value)
    guard = require("uncertainty", expanded) if guarded else 0.0
    low = -math.inf if lower is None else scalar("lower", lower)
    high = math.inf if upper is None else scalar("upper", upper)
    if lower is None and upper is None:
        raise GeometryError("there is no limit to judge by", where="upper", right="give one limit or both")
    if low > high:
        raise GeometryError(
            f"the lower limit {low:g} is above the upper {high:g}",
            where="lower",
            right="give the smaller as the lower",
        )
    margin = np.minimum(np.asarray(value) - low, high - np.asarray(value))
    proved_in = margin >= np.asarray(guard) - _ROUNDING
    proved_out = margin < -np.asarray(guard) - _ROUNDING
    outcome = np.where(proved_in, "in", np.where(proved_out, "out", "undecided"))
    return Verdict(
        outcome=outcome if outcome.ndim else _outcome(str(outcome)),
        margin=plain(margin),
        guard=guard,
        too_coarse=bool(high - low < 2.0 * float(np.max(guard, initial=0.0)) - _ROUNDING),
    )


def _outcome(word: str) -> Outcome:
    return "in" if word == "in" else "out" if word == "out" else "undecided"


def _budget(value: float, coverage: float, parts: Sequence[Contribution]) -> Budget:
    together = math.hypot(*(part.adds for part in parts))
    shared = [
        replace(part, share=100.0 * (part.adds / together) ** 2 if together > 0.0 else 0.0) for part in parts
    ]
    return Budget(
        value=value,
        uncertainty=together,
        coverage=coverage,
        degrees_of_freedom=_effective(together, [(part.adds, part.degrees_of_freedom) for part in parts]),
        contributions=tuple(sorted(shared, key=lambda part: -part.adds)),
    )


def _effective(together: float, parts: Iterable[tuple[float, float]]) -> float:
    """Degrees of freedom after Welch and Satterthwaite; infinite where nothing is known from few readings."""
    # As parts of the whole, so that the fourth powers of small numbers do not vanish.
    loose = math.fsum((each / together) ** 4 / freedom for each, freedom in parts) if together > 0.0 else 0.0
    return 1.0 / loose if loose > 0.0 else math.inf


def _result(formula: Callable[..., float], values: Mapping[str, float]) -> float:
    return scalar("value", formula(**values))


def _slope(
    formula: Callable[..., float], values: Mapping[str, float], name: str, estimate: Estimate
) -> float:
    """Partial derivative: differences at a step and half of it, carried to the limit."""
    size = max(abs(estimate.value), estimate.uncertainty) or 1.0
    # A power of two is added and taken away without rounding.
    step = 2.0 ** math.floor(math.log2(size * _STEP))

    def at(steps: float) -> float:
        return _result(formula, {**values, name: estimate.value + steps * step})

    def central(part: float) -> float:
        return (at(part) - at(-part)) / (2.0 * part * step)

    def one_sided(way: float) -> float:
        # Exact for a polynomial of the fourth degree.
        weights = (-25.0 / 12.0, 4.0, -3.0, 4.0 / 3.0, -0.25)
        return way * math.fsum(weight * at(way * place) for place, weight in enumerate(weights)) / step

    try:
        return (4.0 * central(0.5) - central(1.0)) / 3.0
    except GeometryError:
        pass
    for way in (1.0, -1.0):
        try:
            return one_sided(way)
        except GeometryError:
            continue
    raise GeometryError(
        f"the formula refuses any change of {name}",
        where=name,
        right="give its sensitivity, or check the value",
    )
