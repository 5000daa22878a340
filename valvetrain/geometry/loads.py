"""Loads at the tip, the shaft and the contact. A worksheet: it certifies no part.

Rigid parts and quiet running are taken throughout. What a valvetrain sees from the spring's own surge,
from parts that bend and from a valve that bounces can be far more, and no number here allows for it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar
from valvetrain.geometry.linkage import PushrodLinkage


@dataclass(frozen=True)
class Elastic:
    """What a surface is made of, as far as contact goes.

    Args:
        modulus: Modulus of elasticity E [psi], above zero.
        poisson: Poisson's ratio ν [-], 0 to 0.5.
    Raises:
        GeometryError: A number out of range.
    Examples:
        >>> Elastic(30.0e6, 0.292).modulus
        30000000.0
    """

    modulus: float
    poisson: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "modulus", scalar("modulus", self.modulus))
        object.__setattr__(self, "poisson", scalar("poisson", self.poisson))


# Shigley, Mechanical Engineering Design, table A-5, carbon steel: 30.0 Mpsi, 0.292 (from memory).
STEEL = Elastic(30.0e6, 0.292)
# Philpot, Mechanics of Materials (2017), table D.1a, titanium 6% Al 4% V: 16.5 Mpsi, 0.33.
TITANIUM = Elastic(16.5e6, 0.33)


@dataclass(frozen=True)
class LineContact:
    """Contact of a roller on a flat tip.

    Args:
        pressure: Greatest pressure, in the middle of the contact [psi], zero or more.
        half_width: Half the width of the contact along the travel [in], zero or more.
        mean_pressure: Load over the whole contact [psi], zero or more.
    """

    pressure: Numbers
    half_width: Numbers
    mean_pressure: Numbers


@dataclass(frozen=True)
class ShaftReaction:
    """What one rocker puts on its shaft, in the frame of the valve.

    Args:
        across: Square to the valve axis [lbf]; positive: toward the valve.
        along: Along the valve axis [lbf]; positive: away from the seat, lifting the stand.
        endways: Along the shaft [lbf].
        total: Size of the whole [lbf], zero or more.
        pushrod_load: Load in the pushrod [lbf], zero or more.
    """

    across: Numbers
    along: Numbers
    endways: Numbers
    total: Numbers
    pushrod_load: Numbers


def spring_load(lift_now: Numbers, *, seat_load: Numbers, spring_rate: Numbers) -> Numbers:
    """Load of the valve spring at a lift.

    Args:
        lift_now: How far the valve is open, s [in], zero or more.
        seat_load: Load on the seat [lbf], zero or more.
        spring_rate: Rate of the spring [lbf/in], zero or more.
    Returns:
        Spring load [lbf].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Seat load + rate × lift, for a straight rate. Common practice.
    Examples:
        >>> spring_load(0.6, seat_load=200.0, spring_rate=500.0)
        500.0
    """
    return plain(
        require("seat_load", seat_load) + require("spring_rate", spring_rate) * require("lift_now", lift_now)
    )


def inertia_load(acceleration: Numbers, mass: Numbers) -> Numbers:
    """Load that it takes to give the valve's side its acceleration.

    Args:
        acceleration: Acceleration of the valve, positive: opening faster [in/s²].
        mass: Equivalent mass at the valve [lbf·s²/in], zero or more.
    Returns:
        Mass × acceleration [lbf]; negative over the nose, where it takes load off the tip.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Newton's second law.
    Examples:
        >>> inertia_load(-500000.0, 0.001)
        -500.0
    """
    return plain(require("mass", mass) * require("acceleration", acceleration))


def tip_load(
    lift_now: Numbers,
    *,
    seat_load: Numbers,
    spring_rate: Numbers,
    acceleration: Numbers = 0.0,
    mass: Numbers = 0.0,
) -> Numbers:
    """Load between roller and tip through the lift.

    Args:
        lift_now: How far the valve is open, s [in], zero or more.
        seat_load: Load on the seat [lbf], zero or more.
        spring_rate: Rate of the spring [lbf/in], zero or more.
        acceleration: Acceleration of the valve, positive: opening faster [in/s²].
        mass: Equivalent mass that the tip carries [lbf·s²/in], zero or more.
    Returns:
        Spring + inertia [lbf]; below zero the spring is not enough and the parts would part.
    Raises:
        GeometryError: A number out of range.
    Notes:
        A worksheet, it certifies no part. Off the seat and on a rigid valvetrain; gas load comes on
        top, see ``exhaust_opening_load``. Derived here.
    Examples:
        >>> tip_load(0.6, seat_load=200.0, spring_rate=500.0, acceleration=-400000.0, mass=0.001)
        100.0
    """
    return plain(
        spring_load(lift_now, seat_load=seat_load, spring_rate=spring_rate) + inertia_load(acceleration, mass)
    )


def pushrod_load(tip_load: Numbers, ratio: Numbers, *, pushrod_angle: Numbers = 0.0) -> Numbers:
    """Load in the pushrod that balances a load at the tip.

    Args:
        tip_load: Load between roller and tip, along the valve axis [lbf], zero or more.
        ratio: Rocker ratio at this lift, valve travel over lifter travel [-], above zero.
        pushrod_angle: Pushrod from the lifter's axis [deg], 0 to below 90.
    Returns:
        Load along the pushrod [lbf].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Tip load × ratio / cos(angle), from equal work at tip and lifter, without friction. A worksheet, it
        certifies no part. Derived here.
    Examples:
        >>> pushrod_load(300.0, 1.6, pushrod_angle=60.0)
        960.0
    """
    lean = np.radians(require("pushrod_lean", pushrod_angle))
    return plain(require("tip_load", tip_load) * require("ratio", ratio) / np.cos(lean))


def shaft_reaction(
    tip_load: Numbers,
    ratio: Numbers,
    *,
    pushrod_direction: ArrayLike = (0.0, 1.0, 0.0),
    lifter_direction: ArrayLike = (0.0, 1.0, 0.0),
) -> ShaftReaction:
    """What the rocker puts on its shaft.

    Args:
        tip_load: Load between roller and tip, along the valve axis [lbf], zero or more.
        ratio: Rocker ratio at this lift, valve travel over lifter travel [-], above zero.
        pushrod_direction: From the lifter to the rocker: x, y, z on the last axis [-], any length.
        lifter_direction: Way the lifter rises: x, y, z [-], any length.
    Returns:
        The vector, its size, and the load in the pushrod [lbf].
    Raises:
        GeometryError: A pushrod square to the lifter's axis or worse, or a number out of range.
    Notes:
        Tip load and pushrod load added as vectors. Left out, both directions lie along the valve axis
        and the size is load × (1 + ratio), the rule of the trade. The rocker's own inertia and friction are
        left out. A worksheet, it certifies no part. Derived here.
    Examples:
        >>> shaft_reaction(400.0, 1.6).total
        1040.0
    """
    tip = require("tip_load", tip_load)
    rod = _unit_vectors("pushrod_direction", pushrod_direction)
    way = _unit_vectors("lifter_direction", lifter_direction)
    along = np.sum(rod * way, axis=-1)
    if np.any(along <= 0.0):
        raise GeometryError(
            "the pushrod does not point the way the lifter rises",
            where="pushrod_direction",
            right="give it from the lifter to the rocker, as x, y and z",
        )
    in_rod = np.asarray(tip * require("ratio", ratio) / along)
    across, lifting, endways = (in_rod * rod[..., part] for part in range(3))
    lifting = lifting + tip
    return ShaftReaction(
        across=plain(across),
        along=plain(lifting),
        endways=plain(endways),
        total=plain(np.sqrt(across**2 + lifting**2 + endways**2)),
        pushrod_load=plain(in_rod),
    )


def linkage_reaction(linkage: PushrodLinkage, lifter_lift: Numbers, *, tip_load: Numbers) -> ShaftReaction:
    """What the rocker of a known linkage puts on its shaft.

    Args:
        linkage: The rocker with its pushrod and lifter [in].
        lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        tip_load: Load between roller and tip at that lift [lbf], zero or more.
    Returns:
        The vector, its size, and the load in the pushrod [lbf].
    Raises:
        GeometryError: A lift that the linkage cannot follow, or a number out of range.
    Notes:
        ``shaft_reaction`` with the ratio and the pushrod's direction at that lift. A worksheet, it
        certifies no part.
    Examples:
        >>> from valvetrain.geometry.arm import RockerArm
        >>> linkage = PushrodLinkage(RockerArm(1.5, 0.25, 0.35), shaft_height=-0.05, shaft_offset=1.49,
        ...     cup_radius=1.0, cup_angle=180.0, lifter_point=(-2.49, -8.5, 0.0))
        >>> linkage_reaction(linkage, 0.2, tip_load=400.0).total
        1000.0
    """
    return shaft_reaction(
        tip_load,
        linkage.ratio(lifter_lift),
        pushrod_direction=linkage.pushrod_direction(lifter_lift),
        lifter_direction=linkage.lifter_direction,
    )


def contact_pressure(
    load: Numbers,
    *,
    roller_radius: Numbers,
    contact_width: Numbers,
    roller: Elastic = STEEL,
    tip: Elastic = STEEL,
) -> LineContact:
    """Pressure of a roller on a flat tip.

    Args:
        load: Load between roller and tip [lbf], zero or more.
        roller_radius: Radius of the roller [in], above zero.
        contact_width: Length of the line of contact along the shaft [in], above zero.
        roller: What the roller is made of [psi and -]; steel if left out.
        tip: What the tip, or its cap, is made of [psi and -]; steel if left out.
    Returns:
        Greatest and mean pressure [psi] and half the width of the contact [in].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Hertz: 1/E* = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂, b = √(4FR / πwE*), p = 2F / πbw. A whole, even line
        of contact: a crowned roller or a canted valve has more pressure. A worksheet, it certifies no
        part. Source: Johnson, Contact Mechanics, §4.2 (from memory).
    Examples:
        >>> contact_pressure(1000.0, roller_radius=0.25, contact_width=0.5).pressure
        204346.8
    """
    force = require("tip_load", load)
    radius = require("roller_radius", roller_radius)
    width = require("contact_width", contact_width)
    giving = (1.0 - roller.poisson**2) / roller.modulus + (1.0 - tip.poisson**2) / tip.modulus
    half = np.sqrt(4.0 * force * radius * giving / (np.pi * width))
    # Written without the half width below the line, so that no load has no pressure.
    pressure = np.sqrt(force / (np.pi * width * radius * giving))
    return LineContact(
        pressure=plain(pressure), half_width=plain(half), mean_pressure=plain(0.25 * np.pi * pressure)
    )


def exhaust_opening_load(
    *, seat_load: Numbers, cylinder_pressure: Numbers, head_diameter: Numbers
) -> Numbers:
    """Load at the tip as the exhaust valve leaves its seat against the cylinder.

    Args:
        seat_load: Load of the spring on the seat [lbf], zero or more.
        cylinder_pressure: Pressure in the cylinder above that in the port [psi], zero or more.
        head_diameter: Diameter of the valve's head [in], above zero.
    Returns:
        Load at the tip [lbf].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Seat load + pressure × head area, at rest: what it takes to start the valve comes on top. A
        worksheet, it certifies no part. Common practice.
    Examples:
        >>> exhaust_opening_load(seat_load=250.0, cylinder_pressure=100.0, head_diameter=1.6)
        451.1
    """
    area = 0.25 * np.pi * np.square(require("head_diameter", head_diameter))
    return plain(require("seat_load", seat_load) + require("cylinder_pressure", cylinder_pressure) * area)


def _unit_vectors(quantity: str, value: ArrayLike) -> NDArray[np.float64]:
    vectors = np.asarray(require("lifter_direction", value))
    sizes = np.linalg.norm(vectors, axis=-1, keepdims=True) if vectors.ndim else np.zeros(1)
    if vectors.shape[-1:] != (3,) or np.any(sizes == 0.0):
        raise GeometryError(
            "a direction is not three numbers", where=quantity, right="give x, y and z, not all zero"
        )
    return np.asarray(vectors / sizes)
