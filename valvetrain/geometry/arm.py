"""The rocker arm on the valve's side: a roller on an arm about a shaft."""

from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar


@dataclass(frozen=True)
class RockerArm:
    """One rocker, seen along its shaft.

    Args:
        length: Arm length L, shaft centre to roller centre [in], above zero.
        tip_radius: Tip radius r, half the roller's diameter [in], above zero.
        shaft_radius: Shaft radius R, half the shaft's diameter [in], above zero.
    Raises:
        GeometryError: A length that is not one finite number above zero.
    Examples:
        >>> RockerArm(length=1.5, tip_radius=0.237, shaft_radius=0.35).length
        1.5
    """

    length: float
    tip_radius: float
    shaft_radius: float

    def __post_init__(self) -> None:
        for name in ("length", "tip_radius", "shaft_radius"):
            object.__setattr__(self, name, scalar(name, getattr(self, name)))


def require_reach(arm: RockerArm, furthest: Numbers) -> None:
    """Refuse a valve that the arm cannot follow.

    Args:
        arm: The rocker [in].
        furthest: Greatest distance of the roller centre from the shaft's square line [in], zero or more.
    Raises:
        GeometryError: The distance is the arm length or more.
    Notes:
        At exactly the arm length the arm would lie along the valve axis and could not move it, so the
        end is out. Derived here.
    Examples:
        >>> require_reach(RockerArm(1.5, 0.237, 0.35), 1.49)
    """
    worst = float(np.max(furthest, initial=0.0))
    if not worst < arm.length:
        raise GeometryError(
            f"the arm cannot reach: the roller would stand {worst:.4g} in off the shaft's square line"
            f" and the arm is {arm.length:.4g} in long",
            where="lift",
            right="check the lift, the arm length and the shaft height",
        )


def arm_angle(arm: RockerArm, shaft_height: Numbers, lift_now: Numbers) -> Numbers:
    """Angle of the arm from square to the valve axis.

    Args:
        arm: The rocker [in].
        shaft_height: Shaft centre H above the closed tip [in], negative below.
        lift_now: How far the valve is open, s [in], zero or more.
    Returns:
        θ [deg], within ±90; positive: the roller stands above the shaft's square line.
    Raises:
        GeometryError: The arm cannot reach the tip at this lift.
    Notes:
        sin θ = (r − s − H) / L: the roller centre stands r above the tip, and the tip is s below where
        it was closed. Falls as the valve opens. Derived here.
    Examples:
        >>> arm_angle(RockerArm(1.5, 0.25, 0.35), -0.125, 0.75)
        -14.4775
    """
    height = require("shaft_height", shaft_height)
    lift = require("lift_now", lift_now)
    above = arm.tip_radius - lift - height
    require_reach(arm, np.abs(above))
    return plain(np.degrees(np.arcsin(above / arm.length)))
