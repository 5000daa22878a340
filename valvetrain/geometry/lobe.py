"""A lobe's lift by crank angle: a smooth curve through a card's few points.

Angles are crankshaft degrees, zero at the top dead centre of the overlap, positive after it; one
cycle is 720. So an intake centreline of 108 ATDC is 108, an exhaust's of 112 BTDC is -112, an intake
opening 28 BTDC is -28 and closing 71 ABDC is 251, an exhaust opening 75 BBDC is -255. A table taken
on the camshaft's own degrees is doubled first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BPoly, PPoly, make_interp_spline

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar

Array = NDArray[np.float64]
CYCLE = 720.0
# Crank degrees from the lowest lift on the card down to the base circle. Common practice, no source: a
# card does not say; lobes for solid lifters run about so long.
RAMP = 30.0
# Degrees that an event is found to. Floating point only.
_HALVINGS = 60
# Slopes below this, in inches a degree, are rounding and not a lobe that turns back.
_FLAT = 1e-12
_TIGHTENINGS = 60


@dataclass(frozen=True)
class LobeCurve:
    """Lift of one lobe through the cycle.

    Args:
        nose_at: Crank angle of most lift [deg].
        max_lift: Most lift of the lobe [in].
        opens_at: Where the lift leaves the base circle [deg], before the nose.
        closes_at: Where it comes back to it [deg], after the nose.
        pieces: Lift by degrees from the nose, as piecewise polynomials [in].
    Notes:
        Made by ``card_lobe``, ``event_lobe`` or, in ``lobe_table``, ``table_lobe``. Outside its ends the lift is zero.
    """

    nose_at: float
    max_lift: float
    opens_at: float
    closes_at: float
    pieces: PPoly

    def lift(self, crank_angle: Numbers) -> Numbers:
        """Lift of the lobe.

        Args:
            crank_angle: Crank angle [deg]; any turn of the engine.
        Returns:
            Lobe lift [in], zero or more.
        Raises:
            GeometryError: An angle that is not finite.
        """
        return plain(np.maximum(self._read(crank_angle, 0), 0.0))

    def velocity(self, crank_angle: Numbers) -> Numbers:
        """Slope of the lift.

        Args:
            crank_angle: Crank angle [deg]; any turn of the engine.
        Returns:
            Velocity [in/deg]; positive: opening.
        Raises:
            GeometryError: An angle that is not finite.
        """
        return plain(self._read(crank_angle, 1))

    def acceleration(self, crank_angle: Numbers) -> Numbers:
        """Slope of the velocity.

        Args:
            crank_angle: Crank angle [deg]; any turn of the engine.
        Returns:
            Acceleration [in/deg²]; negative over the nose.
        Raises:
            GeometryError: An angle that is not finite.
        """
        return plain(self._read(crank_angle, 2))

    def events_at(self, lift: Numbers) -> tuple[Numbers, Numbers]:
        """Where the lobe comes up to a lift and where it falls below it.

        Args:
            lift: Lobe lift [in], above zero and below the most.
        Returns:
            Opening and closing [crank deg], opening first; the closing may pass 360.
        Raises:
            GeometryError: A lift that the lobe does not reach.
        Notes:
            By halving on each flank, to the rounding of the numbers. Derived here.
        """
        wanted = require("card_lift", lift)
        if np.any(np.asarray(wanted) >= self.max_lift):
            raise GeometryError(
                f"the lobe lifts {self.max_lift:.4g} in and never comes to {float(np.max(wanted)):.4g} in",
                where="lift",
                right="give a lift below the lobe's most",
            )
        sides = (self.opens_at - self.nose_at, self.closes_at - self.nose_at)
        opening, closing = (self._halved(wanted, side) for side in sides)
        return plain(self.nose_at + opening), plain(self.nose_at + closing)

    def duration_at(self, lift: Numbers) -> Numbers:
        """Crank degrees for which the lobe is above a lift.

        Args:
            lift: Lobe lift [in], above zero and below the most.
        Returns:
            Duration [deg].
        Raises:
            GeometryError: A lift that the lobe does not reach.
        Notes:
            Derived here.
        """
        opening, closing = self.events_at(lift)
        return plain(closing - opening)

    def _read(self, crank_angle: Numbers, derivative: int) -> Array:
        from_nose = np.asarray(require("crank_angle", crank_angle)) - self.nose_at
        # One cycle with the nose in its middle, however the lobe's own ends lie.
        turned = np.mod(from_nose + 0.5 * CYCLE, CYCLE) - 0.5 * CYCLE
        low, high = self.pieces.x[0], self.pieces.x[-1]
        on_lobe = (turned >= low) & (turned <= high)
        read = self.pieces(np.clip(turned, low, high), nu=derivative)
        return np.asarray(np.where(on_lobe, read, 0.0))

    def _halved(self, wanted: Numbers, side: float) -> Array:
        above, below = np.zeros(np.shape(wanted)), np.full(np.shape(wanted), side)
        for _ in range(_HALVINGS):
            middle = 0.5 * (above + below)
            higher = self.pieces(middle) >= wanted
            above, below = np.where(higher, middle, above), np.where(higher, below, middle)
        return np.asarray(0.5 * (above + below))


def card_lobe(
    points: Sequence[tuple[float, float]], *, max_lift: float, nose_at: float, ramp: float = RAMP
) -> LobeCurve:
    """Lobe with equal flanks through the durations of a cam card.

    Args:
        points: Pairs of lobe lift and the duration at it [in and crank deg], one or more, in any order.
        max_lift: Most lift of the lobe [in], above every lift of the points.
        nose_at: Centreline [crank deg]: ATDC for an intake, minus the BTDC for an exhaust.
        ramp: From the lowest of the lifts down to the base circle [crank deg], above zero.
    Returns:
        The curve, through every point.
    Raises:
        GeometryError: Points that no lobe can have, each with its sentence.
    Notes:
        As ``event_lobe``, half of each duration on either side of the nose.
    Examples:
        >>> lobe = card_lobe([(0.020, 280.0), (0.050, 248.0), (0.200, 160.0)], max_lift=0.420, nose_at=108.0)
        >>> lobe.lift(108.0), lobe.duration_at(0.050), lobe.events_at(0.050)
        (0.420, 248.0, (-16.0, 232.0))
    """
    nose = scalar("nose_at", nose_at)
    events = [
        (lift, nose - 0.5 * whole, nose + 0.5 * whole)
        for lift, whole in ((lift, scalar("card_duration", duration)) for lift, duration in points)
    ]
    return event_lobe(events, max_lift=max_lift, nose_at=nose, ramp=ramp)


def event_lobe(
    events: Sequence[tuple[float, float, float]], *, max_lift: float, nose_at: float, ramp: float = RAMP
) -> LobeCurve:
    """Lobe with its own opening and closing flank, through the events of a cam card.

    Args:
        events: Lobe lift, opening and closing at it [in, crank deg, crank deg], one or more, in any order.
        max_lift: Most lift of the lobe [in], above every lift of the events.
        nose_at: Crank angle of most lift [deg].
        ramp: From the lowest of the lifts down to the base circle [crank deg], above zero.
    Returns:
        The curve, through every event.
    Raises:
        GeometryError: Events that no lobe can have, each with its sentence.
    Notes:
        On each flank the quintic spline of least mean square jerk through the points, flat at the nose and flat
        and unaccelerated where it meets the base circle. Where that would turn back, its slopes and
        accelerations at the points are drawn in until it does not. So each flank is monotone, and lift,
        velocity and acceleration have no jump, at the nose either. What lies between the points is a
        smooth lobe that agrees with the card, not the grinder's own: take a table where there is one.
        Derived here.
    Examples:
        >>> lobe = event_lobe([(0.050, -18.0, 231.0)], max_lift=0.420, nose_at=105.0)
        >>> lobe.events_at(0.050)
        (-18.0, 231.0)
    """
    most = scalar("max_lift", max_lift)
    nose = scalar("nose_at", nose_at)
    foot = scalar("ramp", ramp)
    rows = sorted(
        (scalar("card_lift", lift), scalar("crank_angle", opens), scalar("crank_angle", closes))
        for lift, opens, closes in events
    )
    _require_a_lobe(rows, most=most, nose=nose)
    _, opens, closes = rows[0]
    if closes - opens + 2.0 * foot > CYCLE:
        raise GeometryError(
            "the lobe would be open for more than the whole cycle",
            where="ramp",
            right="check the duration at the lowest lift and the ramp",
        )
    lifts = np.array([0.0, *(row[0] for row in rows), most])
    up = np.array([opens - foot, *(row[1] for row in rows), nose]) - nose
    down = np.array([closes + foot, *(row[2] for row in rows), nose]) - nose
    return LobeCurve(
        nose_at=nose,
        max_lift=most,
        opens_at=nose + float(up[0]),
        closes_at=nose + float(down[0]),
        pieces=_flanks(lifts, up, down),
    )


def _require_a_lobe(rows: list[tuple[float, float, float]], *, most: float, nose: float) -> None:
    if not rows:
        raise GeometryError(
            "the card has no lift with a duration", where="points", right="give at least one, as 0.050 in"
        )
    if rows[-1][0] >= most:
        raise GeometryError(
            f"the card has an event at {rows[-1][0]:g} in and the lobe lifts only {most:g} in",
            where="max_lift",
            right="give the lift at the cam, not at the valve, for both",
        )
    for (low, early, late), (high, opens, closes) in pairwise(rows):
        if low == high:
            raise GeometryError(
                f"the lift {low:g} in is given twice", where="points", right="give each lift once"
            )
        if not (early < opens and closes < late):
            raise GeometryError(
                f"the lobe is not open for longer at {low:g} in than at {high:g} in",
                where="points",
                right="a lower lift is passed earlier and later; check the lifts and their degrees",
            )
    if not rows[-1][1] < nose < rows[-1][2]:
        raise GeometryError(
            "the place of most lift is not between opening and closing",
            where="nose_at",
            right="check the centreline: BTDC is negative, ATDC positive",
        )


def _flanks(lifts: Array, up: Array, down: Array) -> PPoly:
    """Both flanks as one curve over degrees from the nose."""
    opening, closing = _smoothest(lifts, up), _smoothest(lifts, down)
    # One acceleration at the nose for both, so that it does not jump there.
    at_nose = 0.5 * (opening(0.0, 2) + closing(0.0, 2))
    places = np.concatenate([up, down[-2::-1]])
    heights = np.concatenate([lifts, lifts[-2::-1]])
    if not np.array_equal(up, -down):
        opening, closing = _smoothest(lifts, up, at_nose), _smoothest(lifts, down, at_nose)
    slopes = np.concatenate([opening(up, 1), closing(down[-2::-1], 1)])
    bends = np.concatenate([opening(up, 2), closing(down[-2::-1], 2)])
    nose = lifts.size - 1
    slopes[[0, nose, -1]] = 0.0
    bends[[0, -1]] = 0.0
    bends[nose] = min(at_nose, 0.0)
    secants = np.diff(heights) / np.diff(places)
    rising = np.sign(np.arange(places.size) - nose) * -1.0
    # A slope the wrong way is no start; half the gentler of its neighbours is.
    gentle = 0.5 * np.minimum(np.abs(np.append(secants, 0.0)), np.abs(np.append(0.0, secants)))
    slopes = np.where(slopes * rising > 0.0, slopes, rising * gentle)
    slopes[[0, nose, -1]] = 0.0
    return _without_turning_back(places, heights, slopes, bends)


def _smoothest(lifts: Array, places: Array, nose_bend: float | None = None) -> PPoly:
    """Quintic spline through one flank; even about the nose, or with a given acceleration there."""
    order = np.argsort(places)
    foot = [(1, 0.0), (2, 0.0)]
    nose = [(1, 0.0), (3, 0.0) if nose_bend is None else (2, nose_bend)]
    ends = (foot, nose) if places[0] < 0.0 else (nose, foot)
    return PPoly.from_spline(make_interp_spline(places[order], lifts[order], k=5, bc_type=ends))


def _without_turning_back(places: Array, heights: Array, slopes: Array, bends: Array) -> PPoly:
    """Quintics that meet in slope and bend, both drawn in where a piece would turn back."""
    secants = np.abs(np.diff(heights) / np.diff(places))
    # No monotone piece is steeper at a joint than a few times its own mean.
    steepest = 3.0 * np.minimum(np.append(secants, np.inf), np.append(np.inf, secants))
    for _ in range(_TIGHTENINGS):
        curve = PPoly.from_bernstein_basis(
            BPoly.from_derivatives(places, np.stack([heights, slopes, bends], axis=-1))
        )
        turned = _turning_back(curve, np.sign(np.diff(heights)))
        if not turned.any():
            return curve
        touched = np.append(turned, False) | np.append(False, turned)
        # The bend first and faster: with little of it a moderate slope is monotone already.
        bends = np.where(touched, 0.6 * bends, bends)
        slopes = np.where(touched, np.sign(slopes) * np.minimum(0.9 * np.abs(slopes), steepest), slopes)
    return curve


def _turning_back(curve: PPoly, ways: Array) -> NDArray[np.bool_]:
    """Which pieces somewhere run against their way: the least slope is at an end or where it is level."""
    slope = curve.derivative()
    bend = slope.derivative()
    widths = np.diff(curve.x)
    found = np.zeros(widths.size, dtype=bool)
    for piece, (width, way) in enumerate(zip(widths, ways, strict=True)):
        levels = np.roots(bend.c[:, piece])
        inside = levels.real[(np.abs(levels.imag) < 1e-9) & (levels.real > 0.0) & (levels.real < width)]
        places = np.concatenate([[0.0, width], inside])
        found[piece] = bool(np.any(way * np.polyval(slope.c[:, piece], places) < -_FLAT))
    return found
