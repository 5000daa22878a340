"""How well a result is known that was worked out from estimates, and where the doubt comes from.

Words and rules are those of JCGM 100:2008 (the GUM). Inputs are taken as independent of each other. An uncertainty
without a word before it is a standard uncertainty u; expanded means U = k·u. Any unit does: an uncertainty is in the unit
of its quantity.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from scipy.special import ndtri, stdtrit

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.estimates import COVERAGE, Estimate, effective_freedom
from valvetrain.geometry.guard import scalar

# Two sigma of the normal distribution, the level that k = 2 stands for.
TWO_SIGMA = 0.9545
# A difference quotient needs a step: this part of the input's size.
_STEP = 1e-3


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


def _budget(value: float, coverage: float, parts: Sequence[Contribution]) -> Budget:
    together = math.hypot(*(part.adds for part in parts))
    shared = [
        replace(part, share=100.0 * (part.adds / together) ** 2 if together > 0.0 else 0.0) for part in parts
    ]
    return Budget(
        value=value,
        uncertainty=together,
        coverage=coverage,
        degrees_of_freedom=effective_freedom(
            together, [(part.adds, part.degrees_of_freedom) for part in parts]
        ),
        contributions=tuple(sorted(shared, key=lambda part: -part.adds)),
    )


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
