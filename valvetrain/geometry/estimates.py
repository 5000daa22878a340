"""How well a value is known that was read: from its instrument, from repeats, from what is stated of it.

Words and rules are those of JCGM 100:2008 (the GUM). An uncertainty without a word before it is a standard uncertainty u;
expanded means U = k·u. Any unit does: an uncertainty is in the unit of its quantity.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar

# U = 2u: about 95 % for a result known from many degrees of freedom (GUM 6.3.3, G.6.6).
COVERAGE = 2.0


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
    return Estimate(several.mean, both, effective_freedom(both, parts))


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


def effective_freedom(together: float, parts: Iterable[tuple[float, float]]) -> float:
    """Degrees of freedom of an uncertainty that is put together from several.

    Args:
        together: The uncertainty of all parts together [any].
        parts: Uncertainty [as that of all] and degrees of freedom [-] of each part.
    Returns:
        Effective degrees of freedom [-]; infinite where nothing is known from few readings.
    Notes:
        Welch-Satterthwaite: GUM G.4.1.
    Examples:
        >>> effective_freedom(5.0, [(3.0, 4.0), (4.0, math.inf)])
        30.864198
    """
    # As parts of the whole, so that the fourth powers of small numbers do not vanish.
    loose = math.fsum((each / together) ** 4 / freedom for each, freedom in parts) if together > 0.0 else 0.0
    return 1.0 / loose if loose > 0.0 else math.inf
