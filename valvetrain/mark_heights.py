"""How high a witness mark puts the shaft: from its width, from its ends, and beside what the gauge says. No words here.

Lengths in inches; expanded uncertainties throughout, None where one is not known.
"""

from dataclasses import dataclass
from math import hypot

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.centring import height_error_from_ends
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.travel import height_error_from_sweep, sweep
from valvetrain.marks import MarkState

ROUNDING = 1e-9


@dataclass(frozen=True)
class ByWidth:
    """Height error that a mark's width comes to, high or low: the width alone does not tell which."""

    if_high: float
    if_low: float
    factor: float  # inches of height for each inch of width
    expanded: float | None
    width_expanded: float | None

    @property
    def tells_nothing(self) -> bool:
        """Whether high and low lie within its own uncertainty of the right height."""
        return self.expanded is not None and max(abs(self.if_high), abs(self.if_low)) <= self.expanded


@dataclass(frozen=True)
class ByEnds:
    """Height error, with its sign, from where the contact stands closed and at full lift."""

    height_error: float
    expanded: float | None
    apart: float  # full lift less closed; plus: it rolls out
    apart_expanded: float | None

    @property
    def side(self) -> str:
        """low, high, or nothing where its uncertainty does not tell."""
        if self.expanded is None or abs(self.height_error) <= self.expanded:
            return ""
        return "high" if self.height_error > 0 else "low"


@dataclass(frozen=True)
class Beside:
    """A mark beside the gauge: by how much the two differ, and how well that difference is known."""

    difference: float
    expanded: float | None

    @property
    def agrees(self) -> bool | None:
        """Whether they agree within their uncertainty; None where that is not known."""
        return None if self.expanded is None else abs(self.difference) <= self.expanded + ROUNDING


def _rocker(mark: MarkState) -> tuple[RockerArm, float] | None:
    inputs = mark.valve.inputs
    if inputs.arm is None or inputs.lift is None or mark.expected is None:
        return None
    return inputs.arm, inputs.lift


def narrowest(mark: MarkState) -> float | None:
    """The narrowest mark that the lift can make: with the arm square at half lift."""
    rocker = _rocker(mark)
    return None if rocker is None else float(sweep(*rocker))


def too_narrow(mark: MarkState) -> float | None:
    """By how much a mark is narrower than its lift can make, beyond its uncertainty; None where it is not."""
    least = narrowest(mark)
    if not mark.possible or mark.width is None or least is None:
        return None
    short = least - mark.width
    return short if short > (mark.expanded("width") or 0.0) + ROUNDING else None


def by_width(mark: MarkState) -> ByWidth | None:
    """The height that the width comes to; None without a mark or a rocker, and where no height makes such a mark.

    A mark that is narrower than any by no more than its own uncertainty counts as the narrowest.
    """
    rocker, least = _rocker(mark), narrowest(mark)
    if (
        rocker is None
        or least is None
        or not mark.possible
        or mark.width is None
        or too_narrow(mark) is not None
    ):
        return None
    (arm, lift), square_at = rocker, mark.valve.inputs.square_at
    try:
        found = height_error_from_sweep(arm, lift, max(mark.width, least), square_at=square_at)
    except GeometryError:
        return None
    factor, known = float(found.uncertainty_factor), mark.expanded("width")
    return ByWidth(
        if_high=float(found.if_high),
        if_low=float(found.if_low),
        factor=factor,
        expanded=None if known is None else factor * known,
        width_expanded=known,
    )


def too_wide(mark: MarkState) -> bool:
    """Whether no height of this arm makes so wide a mark."""
    known = _rocker(mark) is not None and mark.possible
    return known and too_narrow(mark) is None and by_width(mark) is None


def by_ends(mark: MarkState) -> ByEnds | None:
    """The height that the two ends come to; None until both are read. `GeometryError` where they cannot be."""
    rocker = _rocker(mark)
    if rocker is None or mark.closed is None or mark.open is None:
        return None
    arm, lift = rocker
    found = height_error_from_ends(
        arm, lift, closed=mark.closed, open_=mark.open, square_at=mark.valve.inputs.square_at
    )
    parts = [mark.reads[key].standard for key in ("mark_closed", "mark_open")]
    known = None if parts[0] is None or parts[1] is None else mark.rule.expanded(hypot(parts[0], parts[1]))
    return ByEnds(
        height_error=float(found.height_error),
        expanded=None if known is None else float(found.uncertainty_factor) * known,
        apart=mark.open - mark.closed,
        apart_expanded=known,
    )


def width_beside_gauge(mark: MarkState) -> Beside | None:
    """The width beside what the height as read by the gauge makes; None while either is missing."""
    now = mark.expected_now
    if now is None or not mark.possible or mark.width is None:
        return None
    return Beside(mark.width - now, _both(mark.expanded("width"), _spread_of_now(mark)))


def ends_beside_gauge(mark: MarkState, found: ByEnds) -> Beside | None:
    """The height by the ends beside the gauge's; None while no height is read."""
    error = mark.valve.height_error
    if error is None:
        return None
    return Beside(found.height_error - error, _both(found.expanded, mark.valve.expanded))


def _spread_of_now(mark: MarkState) -> float | None:
    """How well the width to expect is known from the gauge's own uncertainty."""
    rocker, error, known, now = _rocker(mark), mark.valve.height_error, mark.valve.expanded, mark.expected_now
    if rocker is None or error is None or known is None or now is None:
        return None
    try:
        ends = [
            float(sweep(*rocker, error + way * known, square_at=mark.valve.inputs.square_at))
            for way in (1, -1)
        ]
    except GeometryError:
        return None
    return max(abs(end - now) for end in ends)


def _both(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else hypot(one, other)
