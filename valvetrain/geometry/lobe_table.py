"""A lobe through a table of lift by crank angle, as a cam checker writes it; angles as in ``lobe``."""

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import PPoly, make_interp_spline, make_splrep

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import require, scalar
from valvetrain.geometry.lobe import CYCLE, Array, LobeCurve

# How far the ends of a table may stand off its base circle, inches: half a thousandth, a dial's own error.
TABLE_END = 0.0005


def table_lobe(angles: Sequence[float], lifts: Sequence[float], *, smoothing: float = 0.0) -> LobeCurve:
    """Lobe through a table of lift by crank angle, as a cam checker writes it.

    Args:
        angles: Crank angles, rising [deg], eight or more, at most one cycle.
        lifts: Lobe lifts beside them [in], from the base circle up and back to it.
        smoothing: How far the curve may stay off the table, root mean square [in]; zero: through every point.
    Returns:
        The curve.
    Raises:
        GeometryError: A table that is not one lobe, each fault with its sentence.
    Notes:
        The quintic smoothing spline. Readings to a ten-thousandth look smooth as lift and rough as
        acceleration: give the readings' own uncertainty, about 0.0001, as the smoothing. Where a smoothed
        curve dips below the base circle the lift is given as zero. Method: Dierckx, Curve and Surface
        Fitting with Splines, as in the library.
    Examples:
        >>> angles = [10.0 * step for step in range(25)]
        >>> lobe = table_lobe(angles, [0.2 - 0.2 * float(np.cos(np.radians(1.5 * a))) for a in angles])
        >>> lobe.nose_at, lobe.max_lift
        (120.0, 0.400)
    """
    x = np.atleast_1d(np.asarray(require("table_angle", angles)))
    y = np.atleast_1d(np.asarray(require("table_lift", lifts)))
    _require_a_table(x, y)
    allowed = scalar("smoothing", smoothing)
    spline = make_splrep(x, y, k=5, s=x.size * allowed**2) if allowed else make_interp_spline(x, y, k=5)
    pieces = PPoly.from_spline(spline)
    nose, most = _top(pieces, x)
    # Repeated knots at the ends leave pieces of no width; the curve is the same without them.
    wide = np.flatnonzero(np.diff(pieces.x) > 0.0)
    starts = pieces.x[wide]
    pieces = PPoly(pieces.c[:, wide], np.append(starts, pieces.x[wide[-1] + 1]) - nose)
    return LobeCurve(nose_at=nose, max_lift=most, opens_at=float(x[0]), closes_at=float(x[-1]), pieces=pieces)


def _require_a_table(x: Array, y: Array) -> None:
    if x.ndim != 1 or x.shape != y.shape:
        raise GeometryError(
            f"there are {x.size} angles and {y.size} lifts",
            where="lifts",
            right="give one lift for each angle",
        )
    if x.size < 8:
        raise GeometryError(
            f"the table has {x.size} rows",
            where="angles",
            right="give eight or more, from base circle to base circle",
        )
    if np.any(steps := np.diff(x) <= 0.0):
        row = int(np.argmax(steps)) + 2
        raise GeometryError(
            f"the angles do not rise: row {row} is {x[row - 1]:g} after {x[row - 2]:g} deg",
            where="angles",
            right="sort the table by angle and leave out doubles",
        )
    if x[-1] - x[0] > CYCLE:
        raise GeometryError(
            f"the table runs over {x[-1] - x[0]:g} deg",
            where="angles",
            right="give one cycle, 720 crank degrees, at most",
        )
    if y.max() <= TABLE_END:
        raise GeometryError("the table has no lift", where="lifts", right="give the lobe's lift in inches")
    if y.min() < -TABLE_END:
        raise GeometryError(
            f"the table goes down to {y.min():g} in", where="lifts", right="set the base circle to zero first"
        )
    if max(y[0], y[-1]) > TABLE_END:
        raise GeometryError(
            f"the table does not return to zero: it starts at {y[0]:g} and ends at {y[-1]:g} in",
            where="lifts",
            right="give the whole lobe, from base circle to base circle",
        )


def _top(curve: PPoly, angles: Array) -> tuple[float, float]:
    """Place and height of the highest point: a level stretch of the curve, or an end of a piece."""
    turns = curve.derivative().roots(extrapolate=False)
    places = np.concatenate([turns[np.isfinite(turns)], angles])
    heights = curve(places)
    highest = int(np.argmax(heights))
    return float(places[highest]), float(heights[highest])
