"""What may be said of a value against its limits, by how well it is known: ISO 14253-1, JCGM 106:2012."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar

# Rounding only, so that a value at exactly a limit is in.
_ROUNDING = 1e-9

Outcome = Literal["in", "undecided", "out"]


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
