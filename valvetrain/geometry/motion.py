"""How the valve moves with the engine turning, and whether its spring can follow.

Lobe × rocker gives lift, velocity and acceleration by crank angle at a steady speed; the mass of the
moving parts makes a load of the last. Rigid parts throughout: the speed at which the margin ends is where
a perfectly stiff valvetrain would part, and a real one parts earlier. A worksheet, it certifies nothing.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.loads import inertia_load, spring_load
from valvetrain.geometry.lobe import LobeCurve
from valvetrain.geometry.units import MM_PER_INCH, NEWTON_PER_LBF

# One pound is 0.45359237 kg, exactly. Source: NIST SP 811, appendix B.
KG_PER_POUND = 0.45359237
# A pound-force gives one lbf·s²/in an inch per second squared.
KG_PER_LBF_S2_PER_INCH = NEWTON_PER_LBF * 1000.0 / MM_PER_INCH
# One end of a uniform spring moves, the other stands: a third of it counts. Rayleigh; common practice.
SPRING_SHARE = 1.0 / 3.0
# Crank degrees in a second at one turn a minute.
_DEGREES_PER_SECOND_PER_RPM = 6.0


@dataclass(frozen=True)
class ValveMotion:
    """Motion of one valve through the crank angles asked for.

    Args:
        crank_angle: Crank angles [deg].
        rpm: Engine speed [rpm].
        lift: Valve lift [in], zero or more.
        velocity: Velocity of the valve [in/s]; positive: opening.
        acceleration: Acceleration of the valve [in/s²]; positive: opening faster.
    """

    crank_angle: NDArray[np.float64]
    rpm: float
    lift: NDArray[np.float64]
    velocity: NDArray[np.float64]
    acceleration: NDArray[np.float64]


@dataclass(frozen=True)
class SpeedLimit:
    """Where the spring's margin ends as the engine speeds up.

    Args:
        rpm: Engine speed at which the margin is gone [rpm].
        crank_angle: Where in the cycle it goes first [deg].
        lift: Valve lift there [in].
    """

    rpm: float
    crank_angle: float
    lift: float


def mass_from_grams(grams: Numbers) -> Numbers:
    """Give a mass in the unit that goes with inches and pounds-force.

    Args:
        grams: Weight on the scale [g], zero or more.
    Returns:
        Mass [lbf·s²/in].
    Raises:
        GeometryError: A number out of range.
    Notes:
        1 lbf·s²/in = 4.4482216152605 N / 0.0254 m/s² = 175.126835 kg. Source: NIST SP 811.
    Examples:
        >>> mass_from_grams(175.126835)
        0.001
    """
    return plain(require("grams", grams) / (1000.0 * KG_PER_LBF_S2_PER_INCH))


def mass_from_pounds(pounds: Numbers) -> Numbers:
    """Give a mass in the unit that goes with inches and pounds-force.

    Args:
        pounds: Weight on the scale [lb], zero or more.
    Returns:
        Mass [lbf·s²/in].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Pounds over standard gravity, 386.0886 in/s². Source: NIST SP 811.
    Examples:
        >>> mass_from_pounds(386.0886)
        1.0
    """
    return plain(require("pounds", pounds) * (KG_PER_POUND / KG_PER_LBF_S2_PER_INCH))


def equivalent_mass(
    *,
    valve: Numbers,
    spring: Numbers = 0.0,
    rocker: Numbers = 0.0,
    lifter_side: Numbers = 0.0,
    ratio: Numbers = 1.0,
) -> Numbers:
    """Mass at the valve that moves as hard as all the parts together.

    Args:
        valve: Valve with retainer, locks and cap [g], zero or more.
        spring: The spring or springs, whole [g], zero or more.
        rocker: The rocker's moment of inertia about its shaft over arm length squared [g], zero or more.
        lifter_side: Pushrod and lifter [g], zero or more.
        ratio: Rocker ratio [-], above zero.
    Returns:
        Equivalent mass at the valve [lbf·s²/in].
    Raises:
        GeometryError: A number out of range.
    Notes:
        By equal energy: valve + spring / 3 + rocker + lifter side / ratio². The third of the spring is
        Rayleigh's and common practice; the ratio is taken as constant.
    Examples:
        >>> equivalent_mass(valve=150.0, spring=90.0, rocker=30.0, lifter_side=256.0, ratio=1.6)
        0.0017701
    """
    grams = (
        require("grams", valve)
        + SPRING_SHARE * require("grams", spring)
        + require("grams", rocker)
        + require("grams", lifter_side) / np.square(require("ratio", ratio))
    )
    return mass_from_grams(plain(grams))


def valve_motion(
    lobe: LobeCurve,
    crank_angle: Numbers,
    *,
    rpm: float,
    drive: float | PushrodLinkage,
    lash: float = 0.0,
) -> ValveMotion:
    """Lift, velocity and acceleration of the valve by crank angle.

    Args:
        lobe: The lobe's lift by crank angle [in].
        crank_angle: Crank angles to give them at [deg].
        rpm: Engine speed [rpm], above zero.
        drive: A constant rocker ratio, or the linkage itself [- or in].
        lash: Running clearance at the valve, with a constant ratio [in]; a linkage has its own.
    Returns:
        The motion at each angle.
    Raises:
        GeometryError: A lobe that the linkage cannot follow, or a number out of range.
    Notes:
        With h the lobe lift, s the valve lift and ω = 6·rpm degrees a second: ds/dt = s'·h'·ω and
        d²s/dt² = (s''·h'² + s'·h'')·ω². While the lash is not taken up all three are zero; the knock
        with which it is taken up is not in them. Derived here.
    Examples:
        >>> from valvetrain.geometry.lobe import card_lobe
        >>> lobe = card_lobe([(0.020, 280.0), (0.050, 248.0)], max_lift=0.420, nose_at=108.0)
        >>> motion = valve_motion(lobe, [108.0], rpm=7000.0, drive=1.6, lash=0.020)
        >>> motion.lift.tolist(), motion.velocity.tolist()
        ([0.652], [0.0])
    """
    angle = np.atleast_1d(np.asarray(require("crank_angle", crank_angle)))
    speed = scalar("rpm", rpm)
    rate = _DEGREES_PER_SECOND_PER_RPM * speed
    lift, slope, bend = (np.asarray(read(angle)) for read in (lobe.lift, lobe.velocity, lobe.acceleration))
    if isinstance(drive, PushrodLinkage):
        if scalar("lash", lash) != 0.0:
            raise GeometryError(
                "a lash is given beside a linkage",
                where="lash",
                right="the linkage has its own; set it there",
            )
        travel, first, second = drive.roller_travel(lift), drive.ratio(lift), drive.ratio_slope(lift)
    else:
        first, second = scalar("ratio", drive), 0.0
        travel = first * lift - scalar("lash", lash)
    open_now = np.asarray(travel) > 0.0
    return ValveMotion(
        crank_angle=angle,
        rpm=speed,
        lift=np.where(open_now, travel, 0.0),
        velocity=np.where(open_now, first * slope * rate, 0.0),
        acceleration=np.where(open_now, (second * slope**2 + first * bend) * rate**2, 0.0),
    )


def spring_margin(
    motion: ValveMotion, *, seat_load: float, spring_rate: float, mass: float
) -> NDArray[np.float64]:
    """Spring load that is left over at each crank angle.

    Args:
        motion: The valve's motion at the speed asked about [in and s].
        seat_load: Load on the seat [lbf], zero or more.
        spring_rate: Rate of the spring [lbf/in], zero or more.
        mass: Equivalent mass at the valve [lbf·s²/in], zero or more.
    Returns:
        Spring + inertia [lbf] at each angle; below zero the valvetrain would part.
    Raises:
        GeometryError: A number out of range.
    Notes:
        With the whole equivalent mass it is the load left at the lobe, taken to the valve. A worksheet, it
        certifies nothing. Derived here.
    Examples:
        >>> from valvetrain.geometry.lobe import card_lobe
        >>> lobe = card_lobe([(0.020, 280.0), (0.050, 248.0)], max_lift=0.420, nose_at=108.0)
        >>> motion = valve_motion(lobe, [108.0, 400.0], rpm=7000.0, drive=1.6)
        >>> spring_margin(motion, seat_load=200.0, spring_rate=500.0, mass=0.0015)[1].tolist()
        200.0
    """
    spring = spring_load(
        motion.lift, seat_load=scalar("seat_load", seat_load), spring_rate=scalar("spring_rate", spring_rate)
    )
    return np.asarray(spring + inertia_load(motion.acceleration, scalar("mass", mass)))


def speed_limit(motion: ValveMotion, *, seat_load: float, spring_rate: float, mass: float) -> SpeedLimit:
    """Engine speed at which the spring's margin ends.

    Args:
        motion: The valve's motion at any one speed, over the nose at least [in and s].
        seat_load: Load on the seat [lbf], zero or more.
        spring_rate: Rate of the spring [lbf/in], zero or more.
        mass: Equivalent mass at the valve [lbf·s²/in], above zero.
    Returns:
        The speed, and where in the cycle the margin goes first.
    Raises:
        GeometryError: No mass, or no angle among those given at which inertia works against the spring.
    Notes:
        Inertia goes with speed squared, so at each angle the margin ends at rpm·√(spring / −inertia)
        and the least of these is the limit: closed form, at the angles given. Rigid parts: a real
        valvetrain parts earlier. A worksheet, it certifies nothing. Derived here.
    Examples:
        >>> nose = np.array([108.0]), 6000.0, np.array([0.6]), np.array([0.0]), np.array([-400000.0])
        >>> speed_limit(ValveMotion(*nose), seat_load=200.0, spring_rate=500.0, mass=0.001).rpm
        6708.2
    """
    spring = np.asarray(
        spring_load(
            motion.lift,
            seat_load=scalar("seat_load", seat_load),
            spring_rate=scalar("spring_rate", spring_rate),
        )
    )
    inertia = np.asarray(inertia_load(motion.acceleration, scalar("mass", mass)))
    against = inertia < 0.0
    if not against.any():
        raise GeometryError(
            "no inertia works against the spring at the angles given",
            where="motion",
            right="give the moving mass, and angles that run over the nose",
        )
    share = np.full(spring.shape, np.inf)
    np.divide(spring, -inertia, out=share, where=against)
    worst = int(np.argmin(share))
    return SpeedLimit(
        rpm=motion.rpm * float(np.sqrt(share.flat[worst])),
        crank_angle=float(motion.crank_angle.flat[worst]),
        lift=float(motion.lift.flat[worst]),
    )
