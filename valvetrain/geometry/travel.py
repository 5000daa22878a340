"""Where the roller runs on the tip through the lift, and how wide a mark that leaves.

All of it rests on one distance. With the shaft e high, the roller centre at lift s is
u = s − k·S + e below the shaft's square line, so its contact is √(L² − u²) from the shaft. Through
the lift u runs a length S about the middle value q = e + (½ − k)·S. Everything depends on |q| alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.arm import RockerArm, require_reach
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require

# Rounding only: a nanometre or so, beside marks that are read to a few thousandths.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class ContactTrace:
    """Contact of the roller on the tip through the lift.

    Args:
        lift_now: Lifts, equally spaced from closed to open along the last axis [in].
        contact: Contact at each lift [in]; positive: outboard, away from the shaft.
    """

    lift_now: NDArray[np.float64]
    contact: NDArray[np.float64]


@dataclass(frozen=True)
class ExpectedMark:
    """Edges of the witness mark, from the centre of the tip.

    Args:
        inner: Edge nearer the shaft [in]; positive: outboard, away from the shaft.
        outer: Edge further from the shaft [in]; positive: outboard.
    """

    inner: Numbers
    outer: Numbers


@dataclass(frozen=True)
class HeightFromMark:
    """Height error inferred from the width of a mark: a coarse gauge, both ways round.

    Args:
        magnitude: Distance from the height that stands the arm square at half lift [in], zero or more.
        uncertainty_factor: Inches of height for each inch of mark width [-], about 4.
        if_high: Height error against the target if the shaft stands above that height [in].
        if_low: Height error against the target if the shaft stands below it [in].
    """

    magnitude: Numbers
    uncertainty_factor: Numbers
    if_high: Numbers
    if_low: Numbers


def contact_offsets(
    arm: RockerArm,
    lift: Numbers,
    *,
    height_error: Numbers = 0.0,
    shaft_offset: Numbers | None = None,
    square_at: Numbers = 0.5,
    points: int = 181,
) -> ContactTrace:
    """Trace the contact from closed to full lift.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        height_error: Shaft high, e [in]; negative: low.
        shaft_offset: Shaft centre to valve axis D [in], above zero; left out: from the shaft.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
        points: How many lifts to trace [-], two or more.
    Returns:
        Lifts and contacts [in], with the points along the last axis.
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach.
    Notes:
        c(s) = √(L² − u²) − D. Equal steps need not fall on the square lift: for the width use
        ``sweep``, which is exact. Derived here.
    Examples:
        >>> contact_offsets(RockerArm(1.5, 0.25, 0.35), 0.75, points=3).contact.tolist()
        [1.45237, 1.5, 1.45237]
    """
    if isinstance(points, bool) or not isinstance(points, int) or points < 2:
        raise GeometryError(f"points is {points!r}", where="points", right="give a whole number from 2 up")
    lift, error, square = _checked(arm, lift, height_error, square_at)
    offset = 0.0 if shaft_offset is None else require("shaft_offset", shaft_offset)
    lift_now = np.linspace(np.zeros_like(lift), lift, points, axis=-1)
    below = lift_now + np.asarray(error - square * lift)[..., np.newaxis]
    contact = _across(arm, below) - np.asarray(offset)[..., np.newaxis]
    return ContactTrace(lift_now=lift_now, contact=contact)


def sweep(arm: RockerArm, lift: Numbers, height_error: Numbers = 0.0, *, square_at: Numbers = 0.5) -> Numbers:
    """Width that the contact travels, the width of the witness mark.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        height_error: Shaft high, e [in]; negative: low.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
    Returns:
        Sweep [in], zero or more; least of all at half lift and no error.
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach.
    Notes:
        From the far end, |u| = S/2 + |q|, to square if the arm passes square within the lift, else to
        the near end, |u| = |q| − S/2. Written as a quotient, which keeps its digits for a small lift.
        With q = 0 it is the height of a circular segment of radius L on chord S (Machinery's Handbook,
        31st ed., p. 79). The rest derived here.
    Examples:
        >>> sweep(RockerArm(1.5, 0.25, 0.35), 0.75)
        0.047632
        >>> sweep(RockerArm(1.5, 0.25, 0.35), 0.75, -0.020)
        0.052943
    """
    lift, error, square = _checked(arm, lift, height_error, square_at)
    middle = np.abs(error + (0.5 - square) * lift)
    far = middle + 0.5 * lift
    near = np.maximum(middle - 0.5 * lift, 0.0)
    # far − near, without the cancellation: the whole lift once square is outside it.
    apart = np.minimum(far, lift)
    return plain(apart * (far + near) / (_across(arm, near) + _across(arm, far)))


def expected_mark(
    arm: RockerArm,
    lift: Numbers,
    *,
    shaft_offset: Numbers,
    height_error: Numbers = 0.0,
    square_at: Numbers = 0.5,
) -> ExpectedMark:
    """Edges of the mark that a known shaft position leaves on the tip.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        shaft_offset: Shaft centre to valve axis D [in], above zero.
        height_error: Shaft high, e [in]; negative: low.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
    Returns:
        Inner and outer edge from the tip's centre [in]; positive: outboard.
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach.
    Notes:
        The outer edge is at L − D when the arm passes square within the lift. Derived here.
    Examples:
        >>> expected_mark(RockerArm(1.5, 0.25, 0.35), 0.75, shaft_offset=1.476)
        ExpectedMark(inner=-0.023632, outer=0.024)
    """
    lift, error, square = _checked(arm, lift, height_error, square_at)
    offset = require("shaft_offset", shaft_offset)
    middle = np.abs(error + (0.5 - square) * lift)
    outer = _across(arm, np.maximum(middle - 0.5 * lift, 0.0)) - offset
    return ExpectedMark(inner=plain(_across(arm, middle + 0.5 * lift) - offset), outer=plain(outer))


def lift_with_height_error(
    arm: RockerArm, lift: Numbers, height_error: Numbers, *, square_at: Numbers = 0.5
) -> Numbers:
    """Lift that the same swing of the rocker gives when the shaft stands off its height.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S at the right height [in], above zero.
        height_error: Shaft high, e [in]; negative: low.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
    Returns:
        Net lift [in], above zero.
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach.
    Notes:
        2·L·sin(Δθ/2)·cos(θ mid), with the swing Δθ of the right height and the start angle of the wrong
        one. Square at half lift, the loss is of second order in e; otherwise it is of first order and
        may be a gain. The valve's side only: what the pushrod's side does to the swing comes on top.
        Derived here.
    Examples:
        >>> lift_with_height_error(RockerArm(1.5, 0.25, 0.35), 0.75, 0.020)
        0.749929
    """
    lift, error, square = _checked(arm, lift, height_error, square_at)
    start_right = np.arcsin(square * lift / arm.length)
    swing = start_right + np.arcsin((1.0 - square) * lift / arm.length)
    start = np.arcsin((square * lift - error) / arm.length)
    # The swing cannot run past the arm's reach: the arcsine is convex, so where the whole lift is in
    # reach from this start, the swing is too.
    return plain(2.0 * arm.length * np.sin(0.5 * swing) * np.cos(start - 0.5 * swing))


def height_error_from_sweep(
    arm: RockerArm, lift: Numbers, width: Numbers, *, square_at: Numbers = 0.5
) -> HeightFromMark:
    """Height error from the measured width of the mark.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        width: Width w of the mark along the travel [in], above zero.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
    Returns:
        Magnitude, its uncertainty factor, and the error either way round [in].
    Raises:
        GeometryError: A mark narrower than the lift can make, or wider than the arm can.
    Notes:
        While the arm passes square within the lift, |q| = √(2Lw − w²) − S/2; beyond, the two ends are a
        chord w across and S along, and |q| = (w/2)·√((4L² − S² − w²) / (S² + w²)). The width alone does
        not tell high from low. d|q|/dw comes from the slope of the sweep. Derived here.
    Examples:
        >>> found = height_error_from_sweep(RockerArm(1.5, 0.25, 0.35), 0.75, 0.052943)
        >>> found.magnitude, found.uncertainty_factor
        (0.0200, 3.66)
    """
    lift = require("lift", lift)
    width = require("width", width)
    square = require("square_at", square_at)
    length = arm.length
    _require_possible(arm, lift, width)
    passes_square = width <= length - np.sqrt(np.maximum(length**2 - lift**2, 0.0))
    within = np.sqrt(np.maximum(width * (2.0 * length - width), 0.0)) - 0.5 * lift
    chord = (4.0 * length**2 - lift**2 - width**2) / (lift**2 + width**2)
    beyond = 0.5 * width * np.sqrt(np.maximum(chord, 0.0))
    magnitude = np.maximum(np.where(passes_square, within, beyond), 0.0)
    far = magnitude + 0.5 * lift
    near = np.maximum(magnitude - 0.5 * lift, 0.0)
    factor = 1.0 / (_slope(length, far) - _slope(length, near))
    from_target = (0.5 - square) * lift
    return HeightFromMark(
        magnitude=plain(magnitude),
        uncertainty_factor=plain(factor),
        if_high=plain(magnitude - from_target),
        if_low=plain(-magnitude - from_target),
    )


def centring_move(inner: Numbers, outer: Numbers) -> Numbers:
    """How far to slide the stand so that the mark is centred.

    Args:
        inner: Edge of the mark nearer the shaft, from the tip's centre [in]; positive: outboard.
        outer: Edge further from the shaft [in]; positive: outboard.
    Returns:
        Move of the stand [in]; positive: toward the valve, negative: away from it.
    Raises:
        GeometryError: Edges in the wrong order, or not finite.
    Notes:
        Minus the middle of the mark, at the height at which it was made. Derived here.
    Examples:
        >>> centring_move(-0.010, 0.042)
        -0.016
    """
    inner = require("inner", inner)
    outer = require("outer", outer)
    if np.any(np.asarray(inner) > outer):
        raise GeometryError(
            "the inner edge of the mark lies outboard of its outer edge",
            where="inner",
            right="the inner edge is the one nearer the shaft; outboard is positive",
        )
    return plain(0.5 * (0.0 - inner - outer))


def _checked(
    arm: RockerArm, lift: Numbers, height_error: Numbers, square_at: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Check what every trace starts from, and that the arm reaches at both ends of the lift."""
    lift = require("lift", lift)
    error = require("height_error", height_error)
    square = require("square_at", square_at)
    require_reach(arm, np.abs(error + (0.5 - square) * lift) + 0.5 * lift)
    return lift, error, square


def _across(arm: RockerArm, below: Numbers) -> Numbers:
    """Contact from the shaft with the roller centre this far off the square line."""
    across: Numbers = np.sqrt((arm.length - below) * (arm.length + below))
    return across


def _slope(length: float, below: Numbers) -> Numbers:
    """How fast the contact draws in as the roller leaves the square line, inch for inch."""
    slope: Numbers = below / np.sqrt((length - below) * (length + below))
    return slope


def _require_possible(arm: RockerArm, lift: Numbers, width: Numbers) -> None:
    least = sweep(arm, lift)
    if np.any(narrow := np.asarray(width < least - _ROUNDING)):
        raise GeometryError(
            "the mark is narrower than this lift can make;"
            f" the least is {np.broadcast_to(least, narrow.shape)[narrow][0]:.4f} in",
            where="width",
            right="measure the mark again, or the lift is less than was given",
        )
    # Widest with the arm along the valve axis at one end; from square all the way if it gets there.
    most = np.where(lift < arm.length, np.sqrt(lift * np.maximum(2.0 * arm.length - lift, 0.0)), arm.length)
    if np.any(wide := np.asarray(width >= most - _ROUNDING)):
        raise GeometryError(
            "the mark is wider than this arm can make;"
            f" the most is {np.broadcast_to(most, wide.shape)[wide][0]:.4f} in",
            where="width",
            right="measure the mark again, or check the arm length and the lift",
        )
