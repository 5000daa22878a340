"""The ellipse as which a round rim is seen, and the two fits that find it from points.

Picture coordinates: x to the right, y down, in pixels. An ellipse is the unit circle seen through a
symmetric 2 × 2 matrix M, its shape: points are centre + M·(cos t, sin t). M has the semi-axes as
its eigenvalues, and unlike an angle it does not lose its meaning where the ellipse is a circle.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from valvetrain.geometry.errors import GeometryError

# Points this near to a line, as a part of their spread, have no ellipse through them.
_FLAT = 1e-6
# Further out than any picture reaches, and nearer together than any pixel [px].
_FURTHEST, _NEAREST = 1e6, 1e-6
# Looks that the refinement may take before the points are given up.
_MOST_LOOKS = 400


@dataclass(frozen=True)
class Ellipse:
    """An ellipse in the picture.

    Args:
        centre: Its centre, right and down [px].
        semi_major: Half its long axis [px].
        semi_minor: Half its short axis [px].
        turned: Long axis from the horizontal, clockwise on the screen [deg], 0 to below 180.
    Examples:
        >>> Ellipse((300.0, 200.0), 50.0, 40.0, 90.0).points(4).round(9).tolist()
        [[300.0, 250.0], [260.0, 200.0], [300.0, 150.0], [340.0, 200.0]]
    """

    centre: tuple[float, float]
    semi_major: float
    semi_minor: float
    turned: float

    @property
    def shape(self) -> NDArray[np.float64]:
        """The matrix M that makes this ellipse of the unit circle [px]."""
        long, short = self.axes
        shape: NDArray[np.float64] = self.semi_major * np.outer(long, long)
        return shape + self.semi_minor * np.outer(short, short)

    @property
    def axes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Directions of the long and of the short axis [-]."""
        along, down = math.cos(math.radians(self.turned)), math.sin(math.radians(self.turned))
        return np.array([along, down]), np.array([-down, along])

    def points(self, count: int = 72) -> NDArray[np.float64]:
        """Points round the ellipse, to draw it.

        Args:
            count: How many [-], from the end of the long axis on, clockwise on the screen.
        Returns:
            Their places [px], shape (count, 2).
        """
        angle = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
        long, short = self.axes
        across = self.semi_major * np.cos(angle)[:, np.newaxis] * long
        return np.asarray(self.centre) + across + self.semi_minor * np.sin(angle)[:, np.newaxis] * short

    def on_disc(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points of the picture lie on the unit disc, the short axis stretched to the long one.

        Args:
            points: Places in the picture [px], shape (n, 2).
        Returns:
            Places on the disc [-]; 1 from the centre: on the ellipse.
        """
        disc: NDArray[np.float64] = np.linalg.solve(self.shape, (points - np.asarray(self.centre)).T).T
        return disc


def direct_ellipse(points: ArrayLike) -> Ellipse:
    """The ellipse by direct least squares: one step, no start needed.

    Args:
        points: Places in the picture [px], shape (n, 2), five or more.
    Returns:
        The ellipse.
    Raises:
        GeometryError: Fewer than five points, not finite, or on a line or a curve that does not close.
    Notes:
        Least sum of squares of the conic's own polynomial, under 4ac − b² = 1, so that it closes.
        Source: Fitzgibbon, Pilu and Fisher 1999, in the stable form of Halíř and Flusser 1998. It draws
        the ellipse in where points are few or on one side; ``nearest_ellipse`` takes that out.
    Examples:
        >>> seen = Ellipse((300.0, 200.0), 50.0, 45.0, 33.0)
        >>> found = direct_ellipse(seen.points(12))
        >>> found.semi_major, found.semi_minor, found.turned
        (50.0, 45.0, 33.0)
    """
    places = as_places(points)
    origin, size = places.mean(axis=0), float(places.std())
    _refuse_a_line(places - origin)
    x, y = ((places - origin) / size).T
    square = np.column_stack([x * x, x * y, y * y])
    linear = np.column_stack([x, y, np.ones_like(x)])
    follow = -np.linalg.lstsq(linear, square, rcond=None)[0]
    reduced = square.T @ (square + linear @ follow)
    _, vectors = np.linalg.eig(np.array([reduced[2] / 2.0, -reduced[1], reduced[0] / 2.0]))
    vectors = np.real(vectors)
    closed = 4.0 * vectors[0] * vectors[2] - vectors[1] ** 2
    best = int(np.argmax(closed))
    if not closed[best] > 0.0:
        raise _no_ellipse()
    conic = np.concatenate([vectors[:, best], follow @ vectors[:, best]])
    return _from_conic(conic, origin, size)


def nearest_ellipse(points: ArrayLike, start: Ellipse | None = None) -> Ellipse:
    """The ellipse with the least sum of squared distances from the points.

    Args:
        points: Places in the picture [px], shape (n, 2), five or more.
        start: Where to begin [px]; left out: the direct fit.
    Returns:
        The ellipse.
    Raises:
        GeometryError: As ``direct_ellipse``, or points that no ellipse settles on.
    Notes:
        Least squares over centre, shape M, and one place on the ellipse for each point, by
        Levenberg-Marquardt. With taps that scatter equally right and down it is the likeliest ellipse.
        Source: the problem is that of Gander, Golub and Strebel 1994; the form through M derived here.
    Examples:
        >>> found = nearest_ellipse([[0, 0], [4, 0], [0, 2], [4, 2], [2, -0.5], [2, 2.5]])
        >>> found.centre, found.turned
        ((2.0, 1.0), 0.0)
    """
    places = as_places(points)
    begin = direct_ellipse(places) if start is None else start
    size = begin.semi_major
    origin = np.asarray(begin.centre)
    x, y = ((places - origin) / size).T
    disc = begin.on_disc(places)
    shape = begin.shape / size
    first = np.array([0.0, 0.0, shape[0, 0], shape[0, 1], shape[1, 1]])
    count = len(places)
    each = np.arange(count)

    def off(values: NDArray[np.float64]) -> NDArray[np.float64]:
        across, down, xx, xy, yy = values[:5]
        cos, sin = np.cos(values[5:]), np.sin(values[5:])
        return np.concatenate([across + xx * cos + xy * sin - x, down + xy * cos + yy * sin - y])

    def slopes(values: NDArray[np.float64]) -> NDArray[np.float64]:
        xx, xy, yy = values[2:5]
        cos, sin = np.cos(values[5:]), np.sin(values[5:])
        table = np.zeros((2 * count, 5 + count))
        table[:count, 0], table[count:, 1] = 1.0, 1.0
        table[:count, 2], table[:count, 3] = cos, sin
        table[count:, 3], table[count:, 4] = cos, sin
        table[each, 5 + each] = xy * cos - xx * sin
        table[count + each, 5 + each] = yy * cos - xy * sin
        return table

    found = least_squares(
        off,
        np.concatenate([first, np.arctan2(disc[:, 1], disc[:, 0])]),
        jac=slopes,
        method="lm",
        xtol=1e-13,
        ftol=1e-13,
        gtol=1e-13,
        max_nfev=_MOST_LOOKS,
    )
    if not found.success or not np.all(np.isfinite(found.x)):
        raise _no_ellipse()
    across, down, xx, xy, yy = found.x[:5]
    return _from_shape(origin + size * np.array([across, down]), size * np.array([[xx, xy], [xy, yy]]))


def distances(ellipse: Ellipse, points: ArrayLike) -> NDArray[np.float64]:
    """How far points lie off an ellipse, along its normal.

    Args:
        ellipse: The ellipse [px].
        points: Places in the picture [px], shape (n, 2).
    Returns:
        Distances [px], positive outside, shape (n,).
    Notes:
        Newton's method for the place on the ellipse, from the place at the same angle on the disc; for
        points near the ellipse, as taps are. Derived here.
    Examples:
        >>> distances(Ellipse((0.0, 0.0), 5.0, 3.0, 0.0), [[6.0, 0.0], [0.0, 2.5]]).tolist()
        [1.0, -0.5]
    """
    long, short = ellipse.axes
    away = np.asarray(points, dtype=np.float64) - np.asarray(ellipse.centre)
    along, beside = away @ long, away @ short
    major, minor = ellipse.semi_major, ellipse.semi_minor
    angle = np.arctan2(beside / minor, along / major)
    for _ in range(20):
        cos, sin = np.cos(angle), np.sin(angle)
        slope = (major**2 - minor**2) * sin * cos - along * major * sin + beside * minor * cos
        bend = (major**2 - minor**2) * (cos**2 - sin**2) - along * major * cos - beside * minor * sin
        # Far inside, the bend can change its sign; there the angle on the disc is near enough.
        angle = angle - np.where(bend < 0.0, slope / np.minimum(bend, -1e-12), 0.0)
    off = np.hypot(along - major * np.cos(angle), beside - minor * np.sin(angle))
    outside = np.sign(np.hypot(along / major, beside / minor) - 1.0)
    return np.asarray(outside * off, dtype=np.float64)


def cofactors(ellipse: Ellipse, taps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Covariance of an ellipse's centre and shape for taps of standard uncertainty 1.

    Args:
        ellipse: The ellipse nearest to the taps [px].
        taps: The taps on the rim [px], shape (n, 2).
    Returns:
        (JᵀJ)⁻¹ for centre right and down and M's xx, xy and yy [-], shape (5, 5); infinite where the taps
        leave the ellipse open.
    Notes:
        J: how the distance of each tap from the ellipse changes, −n·∂p, with n the normal at the tap.
        Derived here.
    Examples:
        >>> seen = Ellipse((0.0, 0.0), 50.0, 50.0, 0.0)
        >>> np.diag(cofactors(seen, seen.points(8)))[:2].tolist()
        [0.25, 0.25]
    """
    disc = ellipse.on_disc(taps)
    cos, sin = (disc / np.hypot(disc[:, 0], disc[:, 1])[:, np.newaxis]).T
    normal = np.linalg.solve(ellipse.shape, np.vstack([cos, sin]))
    right, down = normal / np.hypot(normal[0], normal[1])
    table = np.column_stack([right, down, right * cos, right * sin + down * cos, down * sin])
    try:
        inverse = np.linalg.inv(table.T @ table)
    except np.linalg.LinAlgError:
        return np.full((5, 5), np.inf)
    return np.asarray(inverse, dtype=np.float64)


def as_places(points: ArrayLike, least: int = 5) -> NDArray[np.float64]:
    """Points of the picture as an array, or a refusal.

    Args:
        points: Places in the picture [px], shape (n, 2).
        least: How many there must be [-].
    Returns:
        The same as float64, shape (n, 2).
    Raises:
        GeometryError: Fewer points, another shape, or a number that is not finite.
    Examples:
        >>> as_places([[1, 2], [3, 4]], least=2).tolist()
        [[1.0, 2.0], [3.0, 4.0]]
    """
    try:
        given = np.asarray(points)
        # Objects are let through for exact decimals; text and flags are not places.
        places = given.astype(np.float64) if given.dtype.kind in "iufO" else np.full((1, 2), np.nan)
    except (TypeError, ValueError):
        places = np.full((1, 2), np.nan)
    if places.size == 0:
        places = np.empty((0, 2))
    if places.ndim != 2 or places.shape[1] != 2 or not np.all(np.isfinite(places)):
        raise GeometryError(
            "a point of the picture is not two finite numbers",
            where="points",
            right="give each as right and down in pixels",
        )
    if np.any(np.abs(places) > _FURTHEST):
        raise GeometryError(
            "a point lies outside of any picture", where="points", right="give right and down in pixels"
        )
    if len(places) < least:
        raise GeometryError(
            f"there are {len(places)} points",
            where="points",
            right=f"give {least} or more",
        )
    return places


def _refuse_a_line(away: NDArray[np.float64]) -> None:
    spread = np.linalg.svd(away, compute_uv=False)
    if not spread[1] > max(_FLAT * spread[0], _NEAREST):
        raise _no_ellipse()


def _no_ellipse() -> GeometryError:
    return GeometryError(
        "the points do not lie on an ellipse", where="points", right="set them round the whole rim"
    )


def _from_conic(conic: NDArray[np.float64], origin: NDArray[np.float64], size: float) -> Ellipse:
    """The ellipse of a·x² + b·xy + c·y² + d·x + e·y + f = 0 in points that were moved and scaled."""
    a, b, c, d, e, f = conic
    form = np.array([[a, b / 2.0], [b / 2.0, c]])
    middle = np.linalg.solve(form, np.array([d, e]) / -2.0)
    within = float(middle @ form @ middle) - f
    # The form divided by what is left at the middle is M⁻².
    values, vectors = np.linalg.eigh(form / within)
    if not np.all(values > 0.0) or not np.all(np.isfinite(values)):
        raise _no_ellipse()
    shape = (vectors / np.sqrt(values)) @ vectors.T
    return _from_shape(origin + size * middle, size * shape)


def _from_shape(centre: NDArray[np.float64], shape: NDArray[np.float64]) -> Ellipse:
    values, vectors = np.linalg.eigh(shape)
    order = np.argsort(np.abs(values))
    minor, major = (float(size) for size in np.abs(values[order]))
    if not minor > _FLAT * major:
        raise _no_ellipse()
    right, down = vectors[:, order[1]]
    turned = math.degrees(math.atan2(down, right)) % 180.0
    return Ellipse(
        centre=(float(centre[0]), float(centre[1])),
        semi_major=major,
        semi_minor=minor,
        turned=0.0 if turned >= 180.0 else turned,
    )
