"""Between a measured tip and its picture: where a point of one lies in the other, and where the mark's edges run."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from valvetrain.geometry.ellipse import as_places
from valvetrain.geometry.mark import MeasuredMark
from valvetrain.geometry.mark_reading import projected


def to_picture(mark: MeasuredMark, points: ArrayLike) -> NDArray[np.float64]:
    """Where points of the tip are seen in the picture.

    Args:
        mark: The measured mark, for its picture [-].
        points: Places on the tip, outboard and toward the front [in], shape (n, 2).
    Returns:
        Places in the picture [px], shape (n, 2).
    Raises:
        GeometryError: Points that are not pairs of finite numbers.
    Examples:
        >>> from valvetrain.geometry.mark import measure_mark
        >>> from valvetrain.geometry.ellipse import Ellipse
        >>> seen = Ellipse((500.0, 400.0), 400.0, 400.0, 0.0)
        >>> mark = measure_mark(
        ...     seen.points(8),
        ...     inner_taps=[[460.0, 300.0], [460.0, 500.0]],
        ...     outer_taps=[[560.0, 300.0], [560.0, 500.0]],
        ...     rim_diameter=0.4,
        ...     toward_shaft=(-1.0, 0.0),
        ...     toward_front=(0.0, -1.0),
        ... )
        >>> to_picture(mark, [[0.03, 0.1]]).round(6).tolist()
        [[560.0, 200.0]]
    """
    return projected(np.array(mark.projection), as_places(points, least=0))


def to_tip(mark: MeasuredMark, points: ArrayLike) -> NDArray[np.float64]:
    """Where points of the picture lie on the tip.

    Args:
        mark: The measured mark, for its picture [-].
        points: Places in the picture [px], shape (n, 2).
    Returns:
        Places on the tip, outboard and toward the front [in], shape (n, 2).
    Raises:
        GeometryError: Points that are not pairs of finite numbers.
    Examples:
        >>> from valvetrain.geometry.mark import measure_mark
        >>> from valvetrain.geometry.ellipse import Ellipse
        >>> seen = Ellipse((500.0, 400.0), 400.0, 400.0, 0.0)
        >>> mark = measure_mark(
        ...     seen.points(8),
        ...     inner_taps=[[460.0, 300.0], [460.0, 500.0]],
        ...     outer_taps=[[560.0, 300.0], [560.0, 500.0]],
        ...     rim_diameter=0.4,
        ...     toward_shaft=(-1.0, 0.0),
        ...     toward_front=(0.0, -1.0),
        ... )
        >>> to_tip(mark, [[560.0, 200.0]]).round(9).tolist()
        [[0.03, 0.1]]
    """
    return projected(np.linalg.inv(np.array(mark.projection)), as_places(points, least=0))


def edges_on_tip(mark: MeasuredMark) -> NDArray[np.float64]:
    """Where the two edges meet the rim, to draw them.

    Args:
        mark: The measured mark [in].
    Returns:
        Front and rear end of the inner edge, then of the outer [in], shape (2, 2, 2).
    Notes:
        x = inner − y·taper/d and x = outer + y·taper/d with the rim's diameter d. Derived here.
    Examples:
        >>> from valvetrain.geometry.mark import measure_mark
        >>> from valvetrain.geometry.ellipse import Ellipse
        >>> mark = measure_mark(
        ...     Ellipse((500.0, 400.0), 400.0, 400.0, 0.0).points(8),
        ...     inner_taps=[[500.0, 300.0], [500.0, 500.0]],
        ...     outer_taps=[[560.0, 300.0], [560.0, 500.0]],
        ...     rim_diameter=0.4,
        ...     toward_shaft=(-1.0, 0.0),
        ...     toward_front=(0.0, -1.0),
        ... )
        >>> abs(edges_on_tip(mark)[0]).round(6).tolist()
        [[0.0, 0.2], [0.0, 0.2]]
    """
    lean = mark.taper / mark.rim_diameter
    ends = []
    for at, leans in ((mark.inner, -lean), (mark.outer, lean)):
        # On the circle x² + y² = r²; an edge that misses the rim is drawn to its nearest place.
        way = 1.0 + leans * leans
        reach = math.sqrt(max(way * 0.25 * mark.rim_diameter**2 - at * at, 0.0))
        front, rear = ((-at * leans + sign * reach) / way for sign in (1.0, -1.0))
        ends.append([[at + leans * front, front], [at + leans * rear, rear]])
    return np.asarray(ends)
