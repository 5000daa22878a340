"""Where the lifter stands, from what can be read with a checking pushrod in place.

Nobody reaches the lifter's cup with a rule. A pushrod that just takes up all clearance joins it to the rocker's cup,
so its length and its lean, with the height at which the shaft stood then, say where the lifter's ball is.
"""

import math

from valvetrain.geometry.arm import RockerArm, require_reach
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar
from valvetrain.geometry.linkage import Point

# Degrees: no pushrod or lifter of an engine leans so far from its valve.
MOST_LEAN = 60.0


def leaning(lean: float, lean_along: float = 0.0) -> Point:
    """Direction of something that stands nearly along the valve, from its lean as seen from two sides.

    Args:
        lean: From the valve's axis, seen along the shaft [deg], -60 to 60; positive: the top leans toward the valve.
        lean_along: From the valve's axis, seen square to the shaft [deg], -60 to 60; positive: the top leans along z.
    Returns:
        x, y, z of length one, upward [-].
    Raises:
        GeometryError: A lean that is not finite or beyond 60 degrees.
    Notes:
        (tan of the one, 1, tan of the other), brought to length one: what a protractor shows from each side is a
        projection. Derived here.
    Examples:
        >>> leaning(45.0)
        (0.70711, 0.70711, 0.0)
    """
    x, z = math.tan(_lean("lean", lean)), math.tan(_lean("lean_along", lean_along))
    size = math.sqrt(x * x + 1.0 + z * z)
    return x / size, 1.0 / size, z / size


def lifter_from_pushrod(
    arm: RockerArm,
    *,
    shaft_height: float,
    shaft_offset: float,
    cup_radius: float,
    cup_angle: float,
    pushrod_length: float,
    lean: float,
    lean_along: float = 0.0,
    cup_offset: float = 0.0,
) -> Point:
    """Centre of the ball in the lifter's cup on the base circle, from a checking pushrod at zero lash.

    Args:
        arm: The rocker's valve side [in].
        shaft_height: Shaft centre H above the closed tip when the pushrod was read [in], negative below.
        shaft_offset: Shaft centre to valve axis D [in], above zero.
        cup_radius: Shaft centre to the centre of the ball in the rocker's cup, P [in], above zero.
        cup_angle: From the arm round to the cup, γ [deg], 90 to 270; above 180 the cup hangs lower.
        pushrod_length: Effective length B between ball centres [in], above zero, at zero lash.
        lean: Pushrod from the valve's axis, seen along the shaft [deg]; positive: its top leans toward the valve.
        lean_along: The same seen square to the shaft [deg]; positive: its top leans along z.
        cup_offset: Cup along the shaft from the roller's plane [in], positive along z.
    Returns:
        x, y, z in the frame of the glossary [in].
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach the closed tip.
    Notes:
        Lifter = cup − B·m, with sin θ = (r − H) / L at the closed valve, the cup at D behind the valve and P along
        θ + γ, and m the pushrod's direction. Derived here.
    Examples:
        >>> lifter_from_pushrod(RockerArm(1.5, 0.25, 0.35), shaft_height=0.25, shaft_offset=1.5,
        ...     cup_radius=1.0, cup_angle=180.0, pushrod_length=8.0, lean=0.0)
        (-2.5, -7.75, 0.0)
    """
    height = scalar("shaft_height", shaft_height)
    above = arm.tip_radius - height
    require_reach(arm, abs(above))
    angle = math.asin(above / arm.length) + math.radians(scalar("cup_angle", cup_angle))
    radius, length = scalar("cup_radius", cup_radius), scalar("pushrod_length", pushrod_length)
    way = leaning(lean, lean_along)
    return (
        radius * math.cos(angle) - scalar("shaft_offset", shaft_offset) - length * way[0],
        height + radius * math.sin(angle) - length * way[1],
        scalar("cup_offset", cup_offset) - length * way[2],
    )


def _lean(where: str, value: float) -> float:
    lean = float(value)
    # Written so that what is not a number is refused as well.
    if not abs(lean) <= MOST_LEAN:
        raise GeometryError(
            f"the lean is {lean:g} degrees",
            where=where,
            right="it must lie within 60 degrees of the valve's axis",
        )
    return math.radians(lean)
