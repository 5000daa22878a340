"""The figures of a mark from a rim and two edge lines in the picture, and how well they are known.

The rim's ellipse carries the picture onto the unit disc, turned anyhow; the bisector of the two edge
lines turns it right. What the ellipse cannot tell is how near the camera stood, and on which side. A near
camera moves the points of the disc among themselves, by a boost: the disc stays where it is, and the tip's
centre is seen off its middle, away from the camera.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.ellipse import Ellipse, cofactors
from valvetrain.geometry.errors import GeometryError

Pair = NDArray[np.float64]
# Where the second of the two widths is read, as a part of the tip's radius, either way of the centre.
HALF_WAY = 0.5
# A difference quotient needs a step: this part of the rim's size, or of one.
_STEP = 1e-5
# Change of inner, outer, width, centre, front width, rear width and taper for inner, outer and taper.
_FOLLOWS = np.array(
    [
        [1.0, 0.0, 0.0],
        [0.0, 1.0, 0.0],
        [-1.0, 1.0, 0.0],
        [0.5, 0.5, 0.0],
        [-1.0, 1.0, 0.5],
        [-1.0, 1.0, -0.5],
        [0.0, 0.0, 1.0],
    ]
)


@dataclass(frozen=True)
class EdgeLine:
    """The straight line through the taps on one edge.

    Args:
        middle: Middle of the taps, right and down [px], shape (2,).
        direction: Unit vector along the line [-], shape (2,).
        spread: Sum of the squared distances of the taps from the middle, along the line [px²].
        squares: Sum of the squared distances of the taps from the line [px²].
        count: How many taps [-].
    """

    middle: Pair
    direction: Pair
    spread: float
    squares: float
    count: int


@dataclass(frozen=True)
class Sight:
    """What was found in the picture of one tip.

    Args:
        rim: The rim's ellipse [px].
        inner: The edge nearer the shaft [px].
        outer: The edge further from it [px].
        diameter: The rim's diameter [in].
        outboard: Rough direction away from the shaft, right and down [-], shape (2,).
        front: Rough direction toward the front of the engine [-], shape (2,).
        boost: Where on the disc the tip's centre is taken to be seen, right and down [-].
        shift: What brings the face back over its rim, right and down on the disc [-].
    """

    rim: Ellipse
    inner: EdgeLine
    outer: EdgeLine
    diameter: float
    outboard: Pair
    front: Pair
    boost: tuple[float, float] = (0.0, 0.0)
    shift: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Doubts:
    """What is not known of a picture.

    Args:
        taps: Standard uncertainty of one tap, right and down alike [px].
        diameter: Standard uncertainty of the rim's diameter [in].
        nearness: How far the boost may be off, along the rim's short axis and along its long one [-]; each
            even over plus and minus that much.
        shift: Standard uncertainty of the shift, along the short axis [-].
    """

    taps: float
    diameter: float
    nearness: tuple[float, float]
    shift: float


@dataclass(frozen=True)
class EdgesRead:
    """The edges in the plane of the tip.

    Args:
        across: Direction of the plane's x, outboard, on the disc [-], shape (2,).
        along: Direction of its y, toward the front, on the disc [-], shape (2,).
        inner: Inner edge where it crosses x [in].
        outer: Outer edge where it crosses x [in].
        taper: Width half-way to the front of the rim less width half-way to its rear [in].
    """

    across: Pair
    along: Pair
    inner: float
    outer: float
    taper: float


def edge_line(taps: NDArray[np.float64]) -> EdgeLine:
    """The line with the least sum of squared distances from the taps on an edge.

    Args:
        taps: Places in the picture [px], shape (n, 2), two or more that are apart.
    Returns:
        The line.
    Notes:
        Through the middle of the taps, along the greater of their two principal directions: the
        likeliest line for taps that scatter equally right and down. Source: Pearson 1901.
    Examples:
        >>> line = edge_line(np.array([[0.0, 0.0], [10.0, 10.0], [20.0, 20.0]]))
        >>> abs(line.direction).tolist(), line.count
        ([0.7071068, 0.7071068], 3)
    """
    middle = taps.mean(axis=0)
    _, sizes, directions = np.linalg.svd(taps - middle)
    return EdgeLine(
        middle=middle,
        direction=directions[0],
        spread=float(sizes[0] ** 2),
        squares=float(sizes[1] ** 2),
        count=len(taps),
    )


def read_edges(sight: Sight) -> EdgesRead:
    """Where the edges cross the line through the tip's centre square to the mark.

    Args:
        sight: What was found in the picture [px].
    Returns:
        Axes and edges in the plane of the tip.
    Raises:
        GeometryError: Edges that run toward the shaft, or directions that are not about square.
    Notes:
        y bisects the two edges, so that a mark that tapers has its edges at equal and opposite angles;
        x is square to it. Lines stay lines in the picture of a plane. Derived here.
    Examples:
        >>> seen = Ellipse((500.0, 400.0), 400.0, 400.0, 0.0)
        >>> inner = edge_line(np.array([[460.0, 300.0], [460.0, 500.0]]))
        >>> outer = edge_line(np.array([[560.0, 300.0], [560.0, 500.0]]))
        >>> right, up = np.array([1.0, 0.0]), np.array([0.0, -1.0])
        >>> read = read_edges(Sight(seen, inner, outer, diameter=0.4, outboard=right, front=up))
        >>> read.inner, read.outer, read.taper
        (-0.02, 0.03, 0.0)
    """
    return _read(sight, np.zeros(_UNKNOWNS))


def figures(read: EdgesRead) -> NDArray[np.float64]:
    """The seven figures of a mark.

    Args:
        read: The edges in the plane of the tip [in].
    Returns:
        Inner, outer, width, centre, front width, rear width and taper [in], shape (7,).
    Notes:
        With y the bisector, the two widths lie half the taper above and below the width. Derived here.
    Examples:
        >>> x, y = np.array([1.0, 0.0]), np.array([0.0, 1.0])
        >>> figures(EdgesRead(x, y, inner=-0.02, outer=0.03, taper=0.01)).tolist()
        [-0.02, 0.03, 0.05, 0.005, 0.055, 0.045, 0.01]
    """
    return np.asarray(_FOLLOWS @ np.array([read.inner, read.outer, read.taper]), dtype=np.float64)


def covariance(sight: Sight, doubts: Doubts, *, taps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Covariance of the seven figures from every doubt together.

    Args:
        sight: What was found in the picture [px].
        doubts: What is not known of it [px and in].
        taps: The taps on the rim [px], shape (n, 2).
    Returns:
        Covariance in the order of ``figures`` [in²], shape (7, 7).
    Notes:
        J·C·Jᵀ (GUM 5.2.2). C of the ellipse and of the lines is that of least squares, from the taps' own
        places, so every tap counts by where it is; J is by difference quotients. Diameter, nearness and
        the rim's depth are each one unknown for the whole picture: they move both edges together, and
        the width hardly at all.
    Examples:
        >>> seen = Ellipse((500.0, 400.0), 400.0, 400.0, 0.0)
        >>> inner = edge_line(np.array([[460.0, 300.0], [460.0, 500.0]]))
        >>> outer = edge_line(np.array([[560.0, 300.0], [560.0, 500.0]]))
        >>> right, up = np.array([1.0, 0.0]), np.array([0.0, -1.0])
        >>> sight = Sight(seen, inner, outer, diameter=0.4, outboard=right, front=up)
        >>> doubts = Doubts(taps=0.0, diameter=0.004, nearness=(0.0, 0.0), shift=0.0)
        >>> np.sqrt(np.diag(covariance(sight, doubts, taps=seen.points(8))))[:3].tolist()
        [0.0002, 0.0003, 0.0005]
    """
    steps = np.full(_UNKNOWNS, _STEP)
    steps[_PIXELS] *= sight.rim.semi_major
    steps[_DIAMETER] *= sight.diameter
    columns = []
    for place, step in enumerate(steps):
        change = np.zeros(_UNKNOWNS)
        change[place] = step
        columns.append((figures(_read(sight, change)) - figures(_read(sight, -change))) / (2.0 * step))
    slopes = np.column_stack(columns)
    return np.asarray(slopes @ _unknowns(sight, doubts, taps) @ slopes.T, dtype=np.float64)


def projection(sight: Sight, read: EdgesRead) -> NDArray[np.float64]:
    """The projection of the tip's plane onto the picture.

    Args:
        sight: What was found in the picture [px].
        read: The edges, for their axes [-].
    Returns:
        Matrix that takes (x, y, 1) [in] to right, down and their common divisor [px], shape (3, 3).
    Examples:
        >>> seen = Ellipse((500.0, 400.0), 400.0, 400.0, 0.0)
        >>> line = edge_line(np.array([[460.0, 300.0], [460.0, 500.0]]))
        >>> right, up = np.array([1.0, 0.0]), np.array([0.0, -1.0])
        >>> sight = Sight(seen, line, line, diameter=0.4, outboard=right, front=up)
        >>> projection(sight, read_edges(sight))[:2].round(6).tolist()
        [[2000.0, 0.0, 500.0], [0.0, -2000.0, 400.0]]
    """
    turned = np.eye(3)
    turned[:2, :2] = 0.5 * sight.diameter * np.vstack([read.across, read.along])
    matrix = np.linalg.inv(turned @ _to_disc(sight, np.zeros(_UNKNOWNS)))
    return np.asarray(matrix / matrix[2, 2], dtype=np.float64)


def projected(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where a projection takes points of a plane.

    Args:
        matrix: The projection [-], shape (3, 3).
        points: The points [any], shape (n, 2).
    Returns:
        Where they go [any], shape (n, 2).
    Examples:
        >>> projected(np.diag([2.0, 3.0, 1.0]), np.array([[1.0, 1.0]])).tolist()
        [[2.0, 3.0]]
    """
    carried = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(carried[:, :2] / carried[:, 2:], dtype=np.float64)


# The unknowns, one row: centre and shape of the ellipse, the inner line's offset and turn, the outer
# line's, the diameter, the boost right and down, and a shift of the disc right and down.
_UNKNOWNS = 14
_PIXELS = [0, 1, 2, 3, 4, 5, 7]
_INNER, _OUTER, _DIAMETER = slice(5, 7), slice(7, 9), 9
_BOOST, _SHIFT = slice(10, 12), slice(12, 14)


def _unknowns(sight: Sight, doubts: Doubts, taps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Covariance of the unknowns."""
    known = np.zeros((_UNKNOWNS, _UNKNOWNS))
    variance = doubts.taps**2
    known[:5, :5] = variance * cofactors(sight.rim, taps)
    for place, line in ((_INNER, sight.inner), (_OUTER, sight.outer)):
        known[place, place] = variance * np.diag([1.0 / line.count, 1.0 / line.spread])
    known[_DIAMETER, _DIAMETER] = doubts.diameter**2
    long, short = sight.rim.axes
    most_short, most_long = doubts.nearness
    known[_BOOST, _BOOST] = (
        most_short**2 * np.outer(short, short) + most_long**2 * np.outer(long, long)
    ) / 3.0
    known[_SHIFT, _SHIFT] = doubts.shift**2 * np.outer(short, short)
    return known


def _read(sight: Sight, change: NDArray[np.float64]) -> EdgesRead:
    """The edges with the unknowns changed by this much."""
    to_disc = _to_disc(sight, change)
    radius = 0.5 * (sight.diameter + float(change[_DIAMETER]))
    ends = []
    for place, line in ((_INNER, sight.inner), (_OUTER, sight.outer)):
        offset, turn = change[place]
        beside = np.array([-line.direction[1], line.direction[0]])
        middle = line.middle + offset * beside
        reach = sight.rim.semi_major * (line.direction * math.cos(turn) + beside * math.sin(turn))
        ends.append(radius * projected(to_disc, np.array([middle - reach, middle + reach])))
    inner, outer = ends
    across, along = _axes(sight, inner[1] - inner[0], outer[1] - outer[0])
    (inner_at, inner_lean), (outer_at, outer_lean) = (_crossing(end, across, along) for end in (inner, outer))
    taper = 2.0 * HALF_WAY * radius * (outer_lean - inner_lean)
    return EdgesRead(across=across, along=along, inner=inner_at, outer=outer_at, taper=taper)


def _to_disc(sight: Sight, change: NDArray[np.float64]) -> NDArray[np.float64]:
    """The projection of the picture onto the disc of the face, the tip's centre in its middle."""
    shape = sight.rim.shape + np.array([[change[2], change[3]], [change[3], change[4]]])
    flat = np.linalg.inv(shape)
    onto = np.eye(3)
    onto[:2, :2] = flat
    onto[:2, 2] = change[_SHIFT] + np.asarray(sight.shift) - flat @ (sight.rim.centre + change[:2])
    return np.asarray(_boost(change[_BOOST] + np.asarray(sight.boost)) @ onto, dtype=np.float64)


def _boost(boost: Pair) -> NDArray[np.float64]:
    """The projection that keeps the disc and brings this point of it to the middle."""
    size = float(np.hypot(boost[0], boost[1]))
    matrix = np.eye(3)
    if size > 0.0:
        narrows = math.sqrt(1.0 - size * size)
        way = boost / size
        matrix[:2, :2] = narrows * np.eye(2) + (1.0 - narrows) * np.outer(way, way)
        matrix[:2, 2] = matrix[2, :2] = 0.0 - boost
    return matrix


def _axes(sight: Sight, inner: Pair, outer: Pair) -> tuple[Pair, Pair]:
    """The plane's axes: x square to the bisector and outboard, y along it and toward the front."""
    inner, outer = inner / np.hypot(inner[0], inner[1]), outer / np.hypot(outer[0], outer[1])
    both = inner + outer if inner @ outer > 0.0 else inner - outer
    along = both / np.hypot(both[0], both[1])
    across = np.array([-along[1], along[0]])
    outboard, front = (_on_disc(sight.rim, way) for way in (sight.outboard, sight.front))
    out, ahead = float(across @ outboard), float(along @ front)
    if abs(float(outboard @ front)) > 0.5:
        raise GeometryError(
            "the shaft and the front of the engine lie on one line in the picture",
            where="toward_front",
            right="the front lies about square to the way to the shaft; say anew which way each lies",
        )
    if abs(out) < 0.5 or abs(ahead) < 0.5:
        raise GeometryError(
            "the edges of the mark run toward the shaft",
            where="toward_shaft",
            right="they lie about square to the way to the shaft; say anew which way it lies,"
            " or tap along the two long edges",
        )
    return math.copysign(1.0, out) * across, math.copysign(1.0, ahead) * along


def _on_disc(rim: Ellipse, way: Pair) -> Pair:
    """A direction of the picture as it is on the disc."""
    on_disc = np.linalg.solve(rim.shape, way)
    return np.asarray(on_disc / np.hypot(on_disc[0], on_disc[1]), dtype=np.float64)


def _crossing(ends: NDArray[np.float64], across: Pair, along: Pair) -> tuple[float, float]:
    """Where a line crosses x, and how far it leans outboard for each inch toward the front."""
    (x, y), (x_end, y_end) = ends @ np.column_stack([across, along])
    lean = (x_end - x) / (y_end - y)
    return float(x - lean * y), float(lean)
