"""The witness mark measured on a picture of the tip, from taps on its rim and on the mark's edges.

Picture: x to the right, y down, in pixels of the upright picture. Tip: x positive outboard, away from the
shaft; y positive toward the front of the engine; in inches from the centre of the tip. The rim is round,
so the ellipse as which it is seen tells the camera's tilt and the scale, and both are taken out.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from valvetrain.geometry.ellipse import as_places
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar
from valvetrain.geometry.mark_reading import (
    Doubts,
    EdgeLine,
    EdgesRead,
    Sight,
    covariance,
    edge_line,
    figures,
    projection,
    read_edges,
)
from valvetrain.geometry.rim import SAME_SPOT, USUAL_SCATTER, Rim, fit_rim, refuse_same_spot, taps_on
from valvetrain.geometry.viewpoint import viewpoint

# How many taps' worth the usual scatter counts for.
_USUAL_COUNT = 4
# How far over the rim a tap on an edge may lie, and how short a piece of edge its taps may span.
_OVER_THE_RIM = 1.05
_SHORT = 0.05


@dataclass(frozen=True)
class MeasuredMark:
    """A witness mark as measured on a picture; each figure with its standard uncertainty.

    Args:
        rim: The rim as seen [px].
        inner: Edge nearer the shaft, from the tip's centre [in]; positive: outboard.
        outer: Edge further from the shaft [in]; positive: outboard.
        width: Outer less inner [in], above zero.
        centre: Middle of the mark [in]; positive: outboard.
        front_width: Width half-way from the centre to the front of the rim [in].
        rear_width: Width half-way from the centre to the rear of the rim [in].
        taper: Front width less rear width [in]; positive: wider in front.
        inner_standard: Standard uncertainty of the inner edge [in].
        outer_standard: Standard uncertainty of the outer edge [in].
        width_standard: Standard uncertainty of the width [in].
        centre_standard: Standard uncertainty of the middle [in].
        front_width_standard: Standard uncertainty of the front width [in].
        rear_width_standard: Standard uncertainty of the rear width [in].
        taper_standard: Standard uncertainty of the taper [in].
        covariance: Of inner and outer, two rows of two [in²].
        tilt: How far the camera looked off square to the tip [deg].
        inch_per_pixel: Scale along the rim's long axis [in/px].
        tap_scatter: Standard uncertainty of one tap that all this rests on [px].
        origin: Where the tip's centre is seen, right and down [px].
        across: What one inch outboard of it is in the picture, right and down [px/in].
        along: What one inch toward the front of it is, right and down [px/in].
        projection: Three rows of three that take (x, y, 1) on the tip [in] to the picture [px], and a divisor.
        rim_diameter: Diameter of the rim that gave the scale [in].
    """

    rim: Rim
    inner: float
    outer: float
    width: float
    centre: float
    front_width: float
    rear_width: float
    taper: float
    inner_standard: float
    outer_standard: float
    width_standard: float
    centre_standard: float
    front_width_standard: float
    rear_width_standard: float
    taper_standard: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    tilt: float
    inch_per_pixel: float
    tap_scatter: float
    origin: tuple[float, float]
    across: tuple[float, float]
    along: tuple[float, float]
    projection: tuple[tuple[float, ...], ...]
    rim_diameter: float


def measure_mark(
    rim_taps: ArrayLike,
    *,
    inner_taps: ArrayLike,
    outer_taps: ArrayLike,
    rim_diameter: float,
    toward_shaft: tuple[float, float],
    toward_front: tuple[float, float],
    rim_diameter_standard: float = 0.0005,
    pixel: float = 1.0,
    viewing_distance: float = 15.0,
    aim: float = 10.0,
    rim_below: float = 0.0,
    rim_below_standard: float = 0.0,
    near_side: tuple[float, float] | None = None,
) -> MeasuredMark:
    """Measure the mark on a picture of the tip.

    Args:
        rim_taps: Taps round the rim [px], shape (n, 2), five or more.
        inner_taps: Taps along the edge nearer the shaft [px], shape (n, 2), two or more.
        outer_taps: Taps along the edge further from the shaft [px], shape (n, 2), two or more.
        rim_diameter: Diameter of the rim that was tapped [in], above zero.
        toward_shaft: Rough direction of the shaft in the picture, right and down [-].
        toward_front: Rough direction of the front of the engine, right and down [-].
        rim_diameter_standard: Standard uncertainty of the diameter [in], zero or more.
        pixel: Size of the pixels that were tapped [px of the picture], above zero.
        viewing_distance: Least distance at which the camera may have stood [rim diameters], 2 or more.
        aim: How far off the middle of what the camera saw the tip may lie [deg], 0 to 45.
        rim_below: How far the tapped rim lies below the face [in], zero or more: a chamfer's height.
        rim_below_standard: Standard uncertainty of that [in], zero or more: an edge broken by nobody knows how much.
        near_side: Rough direction of the rim's side that was nearer to the camera, the side on which the stem
            shows below the tip, right and down [-]; left out: not known.
    Returns:
        Edges, width, centre, taper, and how well each is known.
    Raises:
        GeometryError: As ``fit_rim``, and taps that make no mark: on the wrong side, outside the rim,
            bunched, crossing; or a direction or number that cannot be.
    Notes:
        Tilt: the short axis is stretched to the long one (weak perspective). Derived here.

        Taps: u is pooled from the taps' distances off rim (n − 5) and edges (n − 2 each), together with
        the usual scatter of a pixel at 800 across the tip, or of one pixel if that is more, counted as
        four taps' worth, so that a few lucky taps claim nothing; times √(ν/(ν − 2)), the width of t with so
        few degrees of freedom ν (JCGM 101, 6.4.9.4); never below what the taps alone scatter, nor below
        pixel/√12 (GUM F.2.2.1).

        Where the camera stood: see ``viewpoint``. It is in doubt unless told, and nearly all of that doubt is
        in the centre: the width is free of it.
    Examples:
        >>> from valvetrain.geometry.ellipse import Ellipse
        >>> seen = Ellipse((500.0, 400.0), 400.0, 346.41016, 90.0)
        >>> mark = measure_mark(
        ...     seen.points(8),
        ...     inner_taps=[[465.3590, 300.0], [465.3590, 500.0]],
        ...     outer_taps=[[551.9615, 300.0], [551.9615, 500.0]],
        ...     rim_diameter=0.4,
        ...     toward_shaft=(-1.0, 0.0),
        ...     toward_front=(0.0, -1.0),
        ... )
        >>> mark.tilt, mark.inner, mark.outer, mark.width
        (30.0, -0.0200, 0.0300, 0.0500)
    """
    diameter = scalar("rim_diameter", rim_diameter)
    pixel = scalar("pixel", pixel)
    rim = fit_rim(rim_taps)
    inner, outer = (
        _edge(taps, rim, where, words)
        for taps, where, words in (
            (inner_taps, "inner_taps", "the inner edge"),
            (outer_taps, "outer_taps", "the outer edge"),
        )
    )
    camera = viewpoint(
        rim,
        near_side=None if near_side is None else _direction(near_side, "near_side"),
        viewing_distance=viewing_distance,
        aim=aim,
        rim_below=scalar("rim_below", rim_below) / (0.5 * diameter),
        rim_below_standard=scalar("rim_below_standard", rim_below_standard) / (0.5 * diameter),
    )
    sight = Sight(
        rim=rim,
        inner=inner,
        outer=outer,
        diameter=diameter,
        outboard=-_direction(toward_shaft, "toward_shaft"),
        front=_direction(toward_front, "toward_front"),
        boost=camera.boost,
        shift=camera.shift,
    )
    read = read_edges(sight)
    _refuse_no_mark(sight, read)
    doubts = Doubts(
        taps=_tap_uncertainty(rim, (inner, outer), pixel),
        diameter=scalar("rim_diameter_standard", rim_diameter_standard),
        nearness=camera.nearness,
        shift=camera.shift_doubt,
    )
    found = covariance(sight, doubts, taps=np.asarray(rim_taps, dtype=np.float64))
    inner_at, outer_at, width, centre, front, rear, taper = figures(read).tolist()
    known = np.sqrt(np.diag(found)).tolist()
    seen = projection(sight, read)
    origin = seen[:2, 2]
    across, along = (seen[:2, :2] - np.outer(origin, seen[2, :2])).T
    return MeasuredMark(
        rim=rim,
        inner=inner_at,
        outer=outer_at,
        width=width,
        centre=centre,
        front_width=front,
        rear_width=rear,
        taper=taper,
        inner_standard=known[0],
        outer_standard=known[1],
        width_standard=known[2],
        centre_standard=known[3],
        front_width_standard=known[4],
        rear_width_standard=known[5],
        taper_standard=known[6],
        covariance=((float(found[0, 0]), float(found[0, 1])), (float(found[1, 0]), float(found[1, 1]))),
        tilt=rim.tilt,
        inch_per_pixel=0.5 * diameter / rim.semi_major,
        tap_scatter=doubts.taps,
        origin=(float(origin[0]), float(origin[1])),
        across=(float(across[0]), float(across[1])),
        along=(float(along[0]), float(along[1])),
        projection=tuple(tuple(row) for row in seen.tolist()),
        rim_diameter=diameter,
    )


def _edge(taps: ArrayLike, rim: Rim, where: str, words: str) -> EdgeLine:
    places = taps_on(taps, words, where=where, least=2, right="tap two or more places along it")
    refuse_same_spot(places, words, where=where, near=SAME_SPOT * 2.0 * rim.semi_major)
    away = np.hypot(*rim.on_disc(places).T)
    if np.any(away > _OVER_THE_RIM):
        raise GeometryError(
            f"tap {int(np.argmax(away)) + 1} on {words} lies outside the rim",
            where=where,
            right="set it on the mark's edge, on the face of the tip",
        )
    line = edge_line(places)
    if np.ptp(places @ line.direction) < _SHORT * 2.0 * rim.semi_major:
        raise GeometryError(
            f"the taps on {words} lie close together",
            where=where,
            right="spread them along the edge, one near each end of it",
        )
    return line


def _direction(way: tuple[float, float], where: str) -> NDArray[np.float64]:
    try:
        pair: NDArray[np.float64] = as_places([way], least=1)[0]
    except GeometryError:
        pair = np.zeros(2)
    if not np.hypot(*pair) > 0.0:
        raise GeometryError(
            "a direction in the picture is not two finite numbers, one of them not zero",
            where=where,
            right="give right and down, such as -1 and 0 for the left",
        )
    return pair


def _refuse_no_mark(sight: Sight, read: EdgesRead) -> None:
    inner, outer = ((line.middle - sight.rim.centre) for line in (sight.inner, sight.outer))
    apart = float(np.linalg.solve(sight.rim.shape, outer - inner) @ read.across)
    if not apart > 0.0:
        raise GeometryError(
            "the inner edge lies further from the shaft than the outer edge",
            where="inner_taps",
            right="swap the two edges, or say anew which way the shaft lies",
        )
    # With the bisector as y the edges cross on it, where the width that the taper takes has gone.
    width, radius = read.outer - read.inner, 0.5 * sight.diameter
    lean = abs(read.taper) / sight.diameter
    crossing = 0.5 * width / lean if lean > 0.0 else math.inf
    if abs(crossing) < math.sqrt(max(radius**2 - (0.5 * (read.inner + read.outer)) ** 2, 0.0)):
        raise GeometryError(
            "the two edges cross on the tip",
            where="outer_taps",
            right="tap each edge along its whole length, the inner one nearer the shaft",
        )


def _tap_uncertainty(rim: Rim, edges: tuple[EdgeLine, EdgeLine], pixel: float) -> float:
    usual = max(pixel, USUAL_SCATTER * rim.semi_major)
    freedom = rim.degrees_of_freedom + sum(edge.count - 2 for edge in edges)
    squares = rim.degrees_of_freedom * (rim.scatter or 0.0) ** 2 + sum(edge.squares for edge in edges)
    together = (_USUAL_COUNT * usual**2 + squares) / (_USUAL_COUNT + freedom - 2.0)
    alone = squares / freedom if freedom else 0.0
    return math.sqrt(max(together, alone, pixel**2 / 12.0))
