"""What is known of where a camera stood over a tip, and what the rest does to points of the tip."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.ellipse import Ellipse
from valvetrain.geometry.guard import scalar

# Square enough to the rim's long axis to tell a side: the cosine to the short one.
_TELLS = 0.5


@dataclass(frozen=True)
class Viewpoint:
    """Where the camera is taken to have stood, as it moves points of the unit disc, and how far that may be off.

    Args:
        boost: Where on the disc the tip's centre is taken to be seen, right and down [-].
        nearness: How far that may be off along the rim's short axis and along its long one [-]; each even
            over plus and minus that much.
        shift: What brings the face back over its rim, right and down on the disc [-].
        shift_doubt: Standard uncertainty of the shift, along the short axis [-].
    """

    boost: tuple[float, float]
    nearness: tuple[float, float]
    shift: tuple[float, float]
    shift_doubt: float


def viewpoint(
    rim: Ellipse,
    *,
    near_side: NDArray[np.float64] | None = None,
    viewing_distance: float = 15.0,
    aim: float = 10.0,
    rim_below: float = 0.0,
    rim_below_standard: float = 0.0,
) -> Viewpoint:
    """What the camera's place does to the points of a tip, as far as it is known.

    Args:
        rim: The rim as seen [px].
        near_side: Rough direction of the rim's nearer side, right and down [-]; None: not known.
        viewing_distance: Least distance at which the camera may have stood [rim diameters], 2 or more.
        aim: How far off the middle of what the camera saw the tip may lie [deg], 0 to 45.
        rim_below: How far the rim lies below the face [rim radii], zero or more.
        rim_below_standard: Standard uncertainty of that [rim radii], zero or more.
    Returns:
        Boost and shift, with their doubts.
    Raises:
        GeometryError: A number out of range.
    Notes:
        A camera at N diameters, tilted τ, sees the tip's centre off the ellipse's, away from itself along
        the short axis, by sin τ/(2N) radii; at 30° and 15 diameters that is 1.7 % of the radius. The
        ellipse tells neither N nor the side. Not knowing the side, as much either way is taken as evenly
        likely; knowing it, all from nothing to that much, so half is taken off and half of the doubt stays.
        Besides, sin(aim)/(2N) every way, for a tip beside the middle of the view and for a tilt too small
        to tell.

        A rim below the face by h is seen h·tan τ off it: taken off when the side is known, else in the
        doubt, either way; what is not known of h is in the doubt in any case. A side told along the long
        axis says nothing about the tilt, and is not used.
        Derived here.
    Examples:
        >>> seen = Ellipse((0.0, 0.0), 400.0, 346.41016, 0.0)
        >>> viewpoint(seen, aim=0.0).nearness
        (0.0166667, 0.0)
        >>> viewpoint(seen, aim=0.0, near_side=np.array([0.0, 1.0])).boost
        (0.0, -0.0083333)
    """
    distance = 2.0 * scalar("viewing_distance", viewing_distance)
    tilt = math.acos(rim.semi_minor / rim.semi_major)
    most, beside = math.sin(tilt) / distance, math.sin(math.radians(scalar("aim", aim))) / distance
    shift = rim_below * math.tan(tilt)
    unsure = rim_below_standard * math.tan(tilt)
    _, short = rim.axes
    toward = 0.0 if near_side is None else float(near_side @ short) / float(np.hypot(*near_side))
    if abs(toward) < _TELLS:
        return Viewpoint(
            (0.0, 0.0), (math.hypot(most, beside), beside), (0.0, 0.0), math.hypot(shift, unsure)
        )
    right, down = (math.copysign(1.0, toward) * short).tolist()
    half = 0.5 * most
    return Viewpoint(
        boost=(0.0 - half * right, 0.0 - half * down),
        nearness=(math.hypot(half, beside), beside),
        shift=(shift * right, shift * down),
        shift_doubt=unsure,
    )
