"""A pushrod in the hand: what its ends take from a measured length, and the ratio that readings beside it show."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require


def end_allowance(
    ball_radius: Numbers, *, hole_radius: Numbers = 0.0, cup_depth: Numbers | None = None
) -> Numbers:
    """How far an overall measure of a pushrod reaches past the centre of the ball at one end.

    Args:
        ball_radius: Radius of the ball, of the pushrod's own end or of the ball its cup sits on [in], above zero.
        hole_radius: Radius of the oil hole's mouth, or of the gauge's seat on the ball [in]; zero: neither.
        cup_depth: For a cup end, from its rim to its deepest point [in]; left out: a ball end.
    Returns:
        Allowance [in]; negative: the measure stops short of the ball's centre, as at a shallow cup.
    Raises:
        GeometryError: A hole as wide as the ball, or a number out of range.
    Notes:
        Ball end: √(ρ² − h²), all of ρ where nothing is cut away. Cup end: depth − ρ, since the ball
        rests on the deepest point and its centre is ρ above it. Derived here.
    Examples:
        >>> end_allowance(0.15625)
        0.15625
        >>> end_allowance(0.15625, hole_radius=0.070)
        0.13969
        >>> end_allowance(0.15625, cup_depth=0.125)
        -0.03125
    """
    ball = require("ball_radius", ball_radius)
    if cup_depth is not None:
        return plain(require("cup_depth", cup_depth) - ball)
    hole = require("hole_radius", hole_radius)
    if np.any(np.asarray(hole) >= ball):
        raise GeometryError(
            "the hole is as wide as the ball", where="hole_radius", right="give half the width of its mouth"
        )
    return plain(np.sqrt((ball - hole) * (ball + hole)))


def effective_length(overall_length: Numbers, *, rocker_end: Numbers, lifter_end: Numbers) -> Numbers:
    """Length between ball centres, from an overall or a gauge length.

    Args:
        overall_length: Length as measured over both ends [in], above zero.
        rocker_end: Allowance of the end at the rocker [in], from ``end_allowance``.
        lifter_end: Allowance of the end at the lifter [in], from ``end_allowance``.
    Returns:
        Effective length B [in].
    Raises:
        GeometryError: Ends that leave no length, or a number out of range.
    Notes:
        Overall less both allowances. A gauge that sits on the ball reads an overall length with the
        allowance of its own seat. Derived here.
    Examples:
        >>> effective_length(8.0, rocker_end=end_allowance(0.15625, cup_depth=0.125), lifter_end=0.15625)
        7.875
    """
    ends = require("end_allowance", rocker_end) + require("end_allowance", lifter_end)
    return require("pushrod_length", require("overall_length", overall_length) - ends)


def overall_length(effective_length: Numbers, *, rocker_end: Numbers, lifter_end: Numbers) -> Numbers:
    """Length to order or to measure, from the length between ball centres.

    Args:
        effective_length: Effective length B [in], above zero.
        rocker_end: Allowance of the end at the rocker [in], from ``end_allowance``.
        lifter_end: Allowance of the end at the lifter [in], from ``end_allowance``.
    Returns:
        Overall length [in].
    Raises:
        GeometryError: Ends that leave no length, or a number out of range.
    Notes:
        The inverse of ``effective_length``. Derived here.
    Examples:
        >>> overall_length(7.875, rocker_end=-0.03125, lifter_end=0.15625)
        8.0
    """
    ends = require("end_allowance", rocker_end) + require("end_allowance", lifter_end)
    return require("overall_length", require("pushrod_length", effective_length) + ends)


@dataclass(frozen=True)
class MeasuredRatio:
    """Rocker ratio from pairs of readings: lobe lift beside valve lift.

    Args:
        ratio: Slope of valve lift over lobe lift, by least squares [-].
        lash: Lash that the line shows [in]; a little below zero is reading error.
        residuals: Valve lift read less that of the line, one for each pair [in]; the line is zero until
            the lash is gone.
        point_ratios: Ratio from the base circle to each pair, the lash put back [-]; NaN where the lobe
            lift is zero.
    """

    ratio: float
    lash: float
    residuals: NDArray[np.float64]
    point_ratios: NDArray[np.float64]


def measured_ratio(lobe_lift_points: Sequence[float], valve_lift_points: Sequence[float]) -> MeasuredRatio:
    """Rocker ratio over points that were read on the engine.

    Args:
        lobe_lift_points: Lobe lifts read [in], zero or more.
        valve_lift_points: Valve lifts read beside them [in], zero or more, as many.
    Returns:
        Ratio, lash and what is left over at each point.
    Raises:
        GeometryError: Lists that do not pair, fewer than two lifts off the seat, or a ratio not above zero.
    Notes:
        Least squares through the pairs with the valve off its seat: valve = ratio × lobe − lash. A real
        ratio changes through the lift, so residuals that bend are the linkage and residuals that
        scatter are the readings. Derived here.
    Examples:
        >>> found = measured_ratio([0.0, 0.1, 0.2, 0.3], [0.0, 0.135, 0.285, 0.435])
        >>> found.ratio, found.lash
        (1.5, 0.015)
    """
    lobe = np.atleast_1d(np.asarray(require("measured_lobe", lobe_lift_points)))
    valve = np.atleast_1d(np.asarray(require("measured_valve", valve_lift_points)))
    if lobe.ndim != 1 or lobe.shape != valve.shape:
        raise GeometryError(
            f"there are {lobe.size} lobe lifts and {valve.size} valve lifts",
            where="valve_lift_points",
            right="give one valve lift for each lobe lift",
        )
    off_seat = valve > 0.0
    if np.unique(lobe[off_seat]).size < 2:
        raise GeometryError(
            "a ratio needs two different lobe lifts with the valve off its seat",
            where="lobe_lift_points",
            right="read more points through the lift",
        )
    x, y = lobe[off_seat], valve[off_seat]
    from_mean = x - x.mean()
    slope = float(from_mean @ (y - y.mean()) / (from_mean @ from_mean))
    if not slope > 0.0:
        raise GeometryError(
            "the valve lift does not grow with the lobe lift",
            where="valve_lift_points",
            right="check that both lists run the same way",
        )
    lash = float(slope * x.mean() - y.mean())
    whole = np.full(lobe.shape, np.nan)
    np.divide(valve + lash, lobe, out=whole, where=lobe > 0.0)
    return MeasuredRatio(
        ratio=slope,
        lash=lash,
        residuals=valve - np.maximum(slope * lobe - lash, 0.0),
        point_ratios=whole,
    )
