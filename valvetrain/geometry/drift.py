"""A straight line through readings against running, and the running at which it leaves a limit.

The line is Theil's and Sen's: its slope is the median of the slopes of all pairs of readings at different running, so
that one wild reading in four does not carry it away. Every reading counts alike: no weights. The interval of the slope
is Sen's, from how far Kendall's tau of readings without drift may wander. Nothing here is a forecast of a failure: a line
says what goes on if it goes on as it did.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import theilslopes

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar

CONFIDENCE = 0.95
# A line is followed so many times as far as it was read over, and no further.
HORIZON = 10.0
# Rounding only: a slope below this part of the readings' size over their running is none.
_ROUNDING = 1e-12

Heading = Literal["out", "toward", "away", "level", "far"]
End = Literal["low", "high", ""]


@dataclass(frozen=True)
class Straight:
    """A straight line against running.

    Args:
        slope: Change of the reading for one more of running [reading's unit per running's].
        intercept: Reading at no running [reading's unit].
    Examples:
        >>> Straight(slope=0.0002, intercept=0.016).at(50)
        0.026
    """

    slope: float
    intercept: float

    def at(self, running: float) -> float:
        """Where the line stands.

        Args:
            running: How much it has run [running's unit].
        Returns:
            The reading there [reading's unit].
        """
        return self.intercept + self.slope * running

    def reaches(self, limit: float) -> float | None:
        """Where the line meets a limit.

        Args:
            limit: A limit [reading's unit].
        Returns:
            The running there [running's unit], before or after the readings; None: never, it is level.
        """
        return None if self.slope == 0.0 else (limit - self.intercept) / self.slope


@dataclass(frozen=True)
class Drift:
    """What readings against running come to.

    Args:
        line: The robust line [reading's unit per running's].
        slowest: The line with the least slope of the interval [reading's unit per running's]; None: no interval.
        fastest: The line with the greatest [reading's unit per running's]; None likewise.
        confidence: Part of such intervals that hold the true slope [-]; zero where there is none.
        count: Readings [-].
        places: Different amounts of running among them [-].
        first: Least running read at [running's unit].
        last: Greatest running read at [running's unit].
    """

    line: Straight
    slowest: Straight | None
    fastest: Straight | None
    confidence: float
    count: int
    places: int
    first: float
    last: float

    @property
    def lines(self) -> tuple[Straight, ...]:
        """The line and the two ends of its interval, as far as there are any."""
        return tuple(line for line in (self.line, self.slowest, self.fastest) if line is not None)

    @property
    def is_proved(self) -> bool:
        """Whether the interval leaves no room for a line that goes the other way, or not at all."""
        if self.slowest is None or self.fastest is None:
            return False
        return self.slowest.slope * self.fastest.slope > 0.0


@dataclass(frozen=True)
class Crossing:
    """Where a line leaves its limits.

    Args:
        heading: "out": it is outside where it was last read; "toward": on its way to a limit; "away": it moves
            away from the only limit there is; "level": it does not move; "far": it would leave beyond the horizon [-].
        end: Which limit, "low" or "high" [-]; nothing where none is met.
        at: Running at which it leaves [running's unit]; None: it does not, or came from outside.
        earliest: Least running at which a line of the interval leaves, by either limit [running's unit]; None: none.
        latest: Greatest running at which one leaves [running's unit]; None: one of them never does, or there is no
            interval.
    """

    heading: Heading
    end: End
    at: float | None
    earliest: float | None
    latest: float | None


def can_be_drawn(running: Sequence[float]) -> bool:
    """Whether there is any line at all: readings at two different amounts of running.

    Args:
        running: How much it had run at each reading [running's unit].
    Returns:
        Whether `fit_drift` has an answer.
    Examples:
        >>> can_be_drawn([]), can_be_drawn([0.0]), can_be_drawn([8.0, 8.0]), can_be_drawn([0.0, 8.0])
        (False, False, False, True)
    """
    return len(set(running)) > 1


def fit_drift(
    running: Sequence[float], readings: Sequence[float], *, confidence: float = CONFIDENCE
) -> Drift:
    """Robust straight line through readings against running, with the interval of its slope.

    Args:
        running: How much it had run at each reading [running's unit], zero or more, in any order.
        readings: What was read [any], as many.
        confidence: Level asked of the interval [-], above 0 and below 1.
    Returns:
        The line; its slope is the median of the slopes of all pairs at different running, its intercept the median
        of reading less slope times running. Two readings at different running: the line through both, and no
        interval. Three: an interval that holds the true slope two times in three and no oftener; four: eleven in
        twelve. Readings that are all alike: level, with an interval of nothing. Several at one running count with
        those at another, not with each other.
    Raises:
        GeometryError: No reading, one, or all at the same running: there is no line. A number that is not finite.
            Not as many readings as runnings.
    Notes:
        Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63, 1379-1389; Hollander & Wolfe, Nonparametric Statistical
        Methods, theorems 9.2 to 9.4. By scipy.stats.theilslopes with method="joint". Sen's interval is an approximation
        for many readings; for few it takes the least and the greatest of all slopes, and then holds in
        1 − 2·Π(t!)/n! of cases, t the readings at each running (derived here: it fails only when the errors stand
        in the one order, or in its reverse). Errors are taken as independent and alike, not as normal.
        Each end of the interval has an intercept of its own, the median of what it leaves.
    Examples:
        >>> found = fit_drift([1, 2, 3, 4, 5], [1.26, 1.27, 1.12, 1.16, 1.03])
        >>> found.line.slope, found.line.intercept
        (-0.05625, 1.31625)
        >>> found.slowest.slope, found.fastest.slope
        (-0.15, 0.04)
    """
    x, y = _numbers("running", running), _numbers("readings", readings)
    level = scalar("confidence", confidence)
    if len(x) != len(y):
        raise GeometryError(
            f"there are {len(x)} amounts of running for {len(y)} readings",
            where="readings",
            right="give one for each reading",
        )
    if min(x, default=0.0) < 0.0:
        raise GeometryError(
            f"running is {min(x):g}", where="running", right="it must be zero or more; an engine runs forward"
        )
    if not can_be_drawn(x):
        raise GeometryError(
            f"all {len(x)} readings are at the same running"
            if len(x) > 1
            else f"there are {len(x)} readings",
            where="running",
            right="two readings at different running make a line",
        )
    if len(x) == 2:
        slope = (y[1] - y[0]) / (x[1] - x[0])
        return _drift(x, _through(x, y, slope), None, None, 0.0)
    reached = min(level, _reached(x))
    if min(y) == max(y):
        flat = Straight(0.0, y[0])
        return _drift(x, flat, flat, flat, reached)
    with np.errstate(
        invalid="ignore"
    ):  # so many ties that Sen's variance is nothing: all slopes are taken then
        found = theilslopes(y, x, alpha=level, method="joint")
    slope, low, high = (float(each) for each in (found.slope, found.low_slope, found.high_slope))
    if not (math.isfinite(low) and math.isfinite(high)):
        slopes = _slopes(x, y)
        low, high = min(slopes), max(slopes)
    size = _ROUNDING * max(abs(each) for each in y) / (max(x) - min(x))
    slope, low, high = (0.0 if abs(each) <= size else each for each in (slope, low, high))
    return _drift(x, _through(x, y, slope), _through(x, y, low), _through(x, y, high), reached)


def crossing_of(
    drift: Drift, *, low: float | None = None, high: float | None = None, horizon: float = HORIZON
) -> Crossing:
    """Running at which a line leaves its limits, with the earliest and the latest from the interval of its slope.

    Args:
        drift: The line [reading's unit per running's].
        low: Lower limit [reading's unit]; None: there is none.
        high: Upper limit [reading's unit]; None: there is none.
        horizon: How far the line is followed [times the running read at last], above zero.
    Returns:
        Where it leaves. Exactly at a limit is in.
    Raises:
        GeometryError: No limit at all, or a low one above the high one.
    Notes:
        Derived here: plain geometry of a line. A crossing that is later than the horizon counts as none, since a line is
        no guide so far from its readings; a level or outgoing end of the interval makes the latest None: perhaps never.
    Examples:
        >>> worn = Drift(Straight(0.0002, 0.016), Straight(0.0001, 0.016), Straight(0.0004, 0.016), 0.95, 6, 6, 0, 20)
        >>> found = crossing_of(worn, low=0.014, high=0.022)
        >>> found.heading, found.end, found.at, found.earliest, found.latest
        ('toward', 'high', 30.0, 15.0, 60.0)
    """
    if low is None and high is None:
        raise GeometryError("there is no limit", where="low", right="give a low one, a high one, or both")
    if low is not None and high is not None and low > high:
        raise GeometryError(
            f"the low limit, {low:g}, is above the high one, {high:g}",
            where="low",
            right="change one of them",
        )
    end, at = _leaves(drift.line, low, high)
    farthest = scalar("multiple", horizon) * drift.last
    leaving = [_leaves(line, low, high)[1] for line in drift.lines]
    soon = [each for each in leaving if each is not None and each <= farthest]
    earliest = min(soon, default=None)
    latest = max(soon) if drift.slowest is not None and len(soon) == len(drift.lines) else None
    now = drift.line.at(drift.last)
    if (low is not None and now < low - _slack(low)) or (high is not None and now > high + _slack(high)):
        out: End = "low" if low is not None and now < low else "high"
        return Crossing("out", out, at if end == out else None, earliest, latest)
    if drift.line.slope == 0.0:
        return Crossing("level", "", None, earliest, latest)
    if at is None:
        return Crossing("away", "", None, earliest, latest)
    return Crossing("far" if at > farthest else "toward", end, at, earliest, latest)


def _drift(
    x: Sequence[float], line: Straight, slowest: Straight | None, fastest: Straight | None, confidence: float
) -> Drift:
    return Drift(line, slowest, fastest, confidence, len(x), len(set(x)), min(x), max(x))


def _leaves(line: Straight, low: float | None, high: float | None) -> tuple[End, float | None]:
    """The limit that a line moves toward, and the running at which it meets it."""
    if line.slope > 0.0 and high is not None:
        return "high", line.reaches(high)
    if line.slope < 0.0 and low is not None:
        return "low", line.reaches(low)
    return "", None


def _slack(limit: float) -> float:
    return 1e-9 * max(1.0, abs(limit))


def _through(x: Sequence[float], y: Sequence[float], slope: float) -> Straight:
    """The line of a slope, through the median of what it leaves."""
    left = [each - slope * at for at, each in zip(x, y, strict=True)]
    return Straight(slope, float(np.median(left)))


def _slopes(x: Sequence[float], y: Sequence[float]) -> list[float]:
    pairs = [(i, j) for i in range(len(x)) for j in range(i) if x[i] != x[j]]
    return [(y[i] - y[j]) / (x[i] - x[j]) for i, j in pairs]


def _reached(x: Sequence[float]) -> float:
    """The most that an interval from all slopes can hold: it fails in two orders of the errors."""
    ties = math.prod(math.factorial(count) for count in Counter(x).values())
    return 1.0 - 2.0 * ties / math.factorial(len(x)) if len(x) < 100 else 1.0


def _numbers(name: str, values: Sequence[float]) -> list[float]:
    found = [float(value) for value in values]
    bad = next((value for value in found if not math.isfinite(value)), None)
    if bad is not None:
        raise GeometryError(f"{bad} is not a finite number", where=name, right="read it again")
    return found
