"""The rim of a valve tip in a picture, through taps on it."""

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from valvetrain.geometry.ellipse import Ellipse, as_places, cofactors, distances, nearest_ellipse
from valvetrain.geometry.errors import GeometryError

# Taps nearer to each other than this part of the rim's size are one tap, given twice.
SAME_SPOT = 0.001
# The greatest angle that may be left without a tap, seen from the rim's centre [deg].
_WIDEST_GAP = 190.0
# How well the rim must be held by its taps, as a part of its radius.
_HELD = 0.05
# What one tap is taken to scatter, as a part of the rim's radius, where few taps say little: a pixel
# at 800 across the tip.
USUAL_SCATTER = 1.0 / 400.0
# Scatter beyond this part of the radius is no rim.
_LOOSE = 0.04
# Flatter than this, short axis over long, the rim is seen from beside the valve.
_TOO_FLAT = 0.35


@dataclass(frozen=True)
class Rim(Ellipse):
    """The rim of the tip as it is seen, an ellipse.

    Args:
        centre: Its centre, right and down [px].
        semi_major: Half its long axis [px].
        semi_minor: Half its short axis [px].
        turned: Long axis from the horizontal, clockwise on the screen [deg], 0 to below 180.
        scatter: Standard deviation of a tap off the ellipse [px]; None: five taps have none to tell.
        degrees_of_freedom: Taps less five [-].
    """

    scatter: float | None
    degrees_of_freedom: int

    @property
    def tilt(self) -> float:
        """How far the camera looked off square to the tip [deg], from the axes' ratio; which way is open."""
        return math.degrees(math.acos(self.semi_minor / self.semi_major))


def fit_rim(taps: ArrayLike) -> Rim:
    """The rim through taps on it.

    Args:
        taps: Places in the picture [px], shape (n, 2), five or more, round more than half of the rim.
    Returns:
        The rim, with the scatter of the taps off it.
    Raises:
        GeometryError: Fewer than five taps, one given twice, taps on one side, taps on no ellipse, or a rim
            seen from beside the valve.
    Notes:
        ``nearest_ellipse``; the scatter is √(Σd²/(n − 5)). Taps on half of the rim hold it seven times
        worse than the same taps all round, on a third forty times. Derived here.
    Examples:
        >>> rim = fit_rim(Ellipse((300.0, 200.0), 50.0, 45.31538935, 33.0).points(12))
        >>> rim.semi_minor, rim.tilt, rim.degrees_of_freedom
        (45.315389, 25.000, 7)
    """
    right = "tap five or more, spread round the rim"
    places = taps_on(taps, "the rim", where="rim_taps", least=5, right=right)
    size = float(np.ptp(places, axis=0).max())
    refuse_same_spot(places, "the rim", where="rim_taps", near=SAME_SPOT * size)
    try:
        seen = nearest_ellipse(places)
    except GeometryError:
        raise GeometryError(
            "the rim's taps do not lie on an ellipse",
            where="rim_taps",
            right="set each on the edge of the tip's face, spread round the rim",
        ) from None
    off = distances(seen, places)
    freedom = len(places) - 5
    scatter = math.sqrt(float(off @ off) / freedom) if freedom else None
    rim = Rim(seen.centre, seen.semi_major, seen.semi_minor, seen.turned, scatter, freedom)
    _refuse_no_rim(rim, places, off)
    return rim


def taps_on(taps: ArrayLike, words: str, *, where: str, least: int, right: str) -> NDArray[np.float64]:
    """Taps as an array, or a refusal that says on what they were.

    Args:
        taps: Places in the picture [px], shape (n, 2).
        words: On what they were, as the bench says it [-].
        where: Name of the argument, for a form [-].
        least: How many there must be [-].
        right: What would be right [-].
    Returns:
        The same as float64.
    Raises:
        GeometryError: Fewer taps, or one that is not two finite numbers.
    Examples:
        >>> taps_on([[1, 2], [3, 4]], "the rim", where="rim_taps", least=2, right="").tolist()
        [[1.0, 2.0], [3.0, 4.0]]
    """
    try:
        places = as_places(taps, least=0)
    except GeometryError as refused:
        what = refused.what.replace("a point of the picture", "a tap").replace("a point", "a tap")
        raise GeometryError(f"on {words}, {what}", where=where, right=refused.right) from None
    if len(places) < least:
        count = {0: "no taps", 1: "1 tap"}.get(len(places), f"{len(places)} taps")
        raise GeometryError(f"{words} has {count}", where=where, right=right)
    return places


def refuse_same_spot(places: NDArray[np.float64], words: str, *, where: str, near: float) -> None:
    """Refuse a tap that was given twice: it would pass for a repeat that agrees.

    Args:
        places: Places in the picture [px], shape (n, 2).
        words: On what they are, as the bench says it [-].
        where: Name of the argument, for a form [-].
        near: How near is the same spot [px].
    Raises:
        GeometryError: Two taps as near as that.
    Examples:
        >>> refuse_same_spot(np.array([[1.0, 2.0], [3.0, 4.0]]), "the rim", where="rim_taps", near=0.5)
    """
    for (one, first), (other, second) in combinations(enumerate(places, start=1), 2):
        if not np.hypot(*(second - first)) > near:
            raise GeometryError(
                f"taps {one} and {other} on {words} are on the same spot",
                where=where,
                right="move one of them along, or take it away",
            )


def _refuse_no_rim(rim: Rim, places: NDArray[np.float64], off: NDArray[np.float64]) -> None:
    loose = rim.scatter or 0.0
    if loose > _LOOSE * rim.semi_major:
        worst = int(np.argmax(np.abs(off)))
        raise GeometryError(
            f"the rim's taps do not lie on one ellipse; tap {worst + 1} is {abs(off[worst]):.0f} px off it",
            where="rim_taps",
            right="set each on the edge of the tip's face",
        )
    disc = rim.on_disc(places)
    angles = np.sort(np.degrees(np.arctan2(disc[:, 1], disc[:, 0])))
    gap = float(np.max(np.diff(angles, append=angles[0] + 360.0)))
    tap = max(loose, USUAL_SCATTER * rim.semi_major)
    slack = tap**2 * float(np.trace(cofactors(rim, places)))
    if gap > _WIDEST_GAP or not 0.0 < slack < (_HELD * rim.semi_major) ** 2:
        raise GeometryError(
            "the rim's taps are bunched on one side of it",
            where="rim_taps",
            right="spread the taps round the rim, over more than half of it",
        )
    if rim.semi_minor < _TOO_FLAT * rim.semi_major:
        raise GeometryError(
            f"the rim is seen {rim.tilt:.0f} degrees off square",
            where="rim_taps",
            right="take the picture from more above the tip, or tap the tip's own rim",
        )
