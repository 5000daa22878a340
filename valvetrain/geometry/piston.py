"""Where the piston stands, and how near the valve comes to it.

Crank angles are degrees from the top dead centre of the overlap, as in ``lobe``. A prediction from
measured heights: it says where to look and does not stand in for clay or a dial on the engine.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar


@dataclass(frozen=True)
class ClosestApproach:
    """Where valve and piston come nearest.

    Args:
        clearance: Least clearance along the valve axis [in]; negative: they meet.
        crank_angle: Crank angle of it [deg].
    """

    clearance: float
    crank_angle: float


@dataclass(frozen=True)
class PistonToValve:
    """One valve over its piston.

    Args:
        stroke: Stroke of the crank [in], above zero.
        rod_length: Connecting rod, centre to centre [in], above half the stroke.
        deck_clearance: Piston's crown below the deck at top dead centre [in]; negative: above it.
        gasket_thickness: Head gasket, compressed [in], zero or more.
        valve_recess: Lowest edge of the closed valve above the head's face, along the cylinder [in];
            negative: it hangs below.
        pocket_depth: Pocket under that edge, below the crown, along the cylinder [in], zero or more.
        valve_angle: Valve axis from the cylinder axis β [deg], 0 to 60.
        pocket_angle: Square to the pocket's floor from the cylinder axis [deg], 0 to 60; left out: the
            valve's angle where there is a pocket, 0 on a flat crown.
    Raises:
        GeometryError: A number out of range, or a rod too short for the stroke.
    Examples:
        >>> pair = PistonToValve(stroke=4.0, rod_length=6.0, deck_clearance=0.010, gasket_thickness=0.040,
        ...     valve_recess=0.100, pocket_depth=0.150)
        >>> pair.clearance(0.0, 0.180)
        0.120
    """

    stroke: float
    rod_length: float
    deck_clearance: float
    gasket_thickness: float
    valve_recess: float
    pocket_depth: float = 0.0
    valve_angle: float = 0.0
    pocket_angle: float | None = None

    def __post_init__(self) -> None:
        for name in (
            "stroke",
            "rod_length",
            "deck_clearance",
            "gasket_thickness",
            "valve_recess",
            "pocket_depth",
            "valve_angle",
        ):
            object.__setattr__(self, name, scalar(name, getattr(self, name)))
        if self.pocket_angle is not None:
            object.__setattr__(self, "pocket_angle", scalar("pocket_angle", self.pocket_angle))
        _require_rod(self.stroke, self.rod_length)

    @property
    def _floor_angle(self) -> float:
        if self.pocket_angle is not None:
            return self.pocket_angle
        return self.valve_angle if self.pocket_depth > 0.0 else 0.0

    def room(self, crank_angle: Numbers) -> Numbers:
        """Lift along the valve axis at which the valve would touch the piston.

        Args:
            crank_angle: Crank angle from top dead centre [deg].
        Returns:
            Lift at touch [in]; negative: the closed valve is touched already.
        Raises:
            GeometryError: An angle that is not finite.
        Notes:
            The lowest edge goes down by cos β and across by sin β for each inch of lift, toward a floor that
            rises before it by the tangent of the floor's angle ψ: room = V / (cos β + sin β·tan ψ), with V
            the distance along the cylinder. V·cos β for a pocket cut square to the valve, V / cos β for a flat
            crown. Derived here.
        """
        below = piston_drop(crank_angle, stroke=self.stroke, rod_length=self.rod_length)
        along = self.deck_clearance + self.gasket_thickness + self.valve_recess + self.pocket_depth + below
        valve, floor = np.radians(self.valve_angle), np.radians(self._floor_angle)
        return plain(along / (np.cos(valve) + np.sin(valve) * np.tan(floor)))

    def clearance(self, crank_angle: Numbers, valve_lift: Numbers) -> Numbers:
        """Clearance between valve and piston, along the valve axis.

        Args:
            crank_angle: Crank angle from top dead centre [deg].
            valve_lift: Valve lift at that angle [in], zero or more.
        Returns:
            Further lift that it would take to touch [in]; negative: they meet.
        Raises:
            GeometryError: A number out of range.
        Notes:
            Room less lift. What a dial shows when the valve is pushed open by hand till it touches.
            Derived here.
        """
        return plain(self.room(crank_angle) - require("valve_lift", valve_lift))

    def closest(self, crank_angle: NDArray[np.float64], valve_lift: NDArray[np.float64]) -> ClosestApproach:
        """Least clearance over a run of crank angles.

        Args:
            crank_angle: Crank angles, rising [deg], one or more.
            valve_lift: Valve lift at each [in], zero or more.
        Returns:
            Least clearance and its crank angle.
        Raises:
            GeometryError: Lists that do not pair, no angles, or a number out of range.
        Notes:
            Between the angles given, by the parabola through the least and its two neighbours. Derived here.
        """
        angles = np.atleast_1d(np.asarray(require("crank_angle", crank_angle)))
        lifts = np.atleast_1d(np.asarray(require("valve_lift", valve_lift)))
        if angles.ndim != 1 or angles.shape != lifts.shape or not angles.size:
            raise GeometryError(
                f"there are {angles.size} crank angles and {lifts.size} lifts",
                where="valve_lift",
                right="give one lift for each crank angle",
            )
        if np.any(np.diff(angles) <= 0.0):
            raise GeometryError("the crank angles do not rise", where="crank_angle", right="sort them")
        clearance = np.asarray(self.clearance(angles, lifts))
        least = int(np.argmin(clearance))
        if 0 < least < angles.size - 1:
            return _lowest(angles[least - 1 : least + 2], clearance[least - 1 : least + 2])
        return ClosestApproach(clearance=float(clearance[least]), crank_angle=float(angles[least]))


def piston_drop(crank_angle: Numbers, *, stroke: Numbers, rod_length: Numbers) -> Numbers:
    """How far the piston stands below the top of its stroke.

    Args:
        crank_angle: Crank angle from top dead centre [deg].
        stroke: Stroke of the crank [in], above zero.
        rod_length: Connecting rod, centre to centre [in], above half the stroke.
    Returns:
        Distance from the top [in], from zero to the stroke.
    Raises:
        GeometryError: A rod too short for the stroke, or a number out of range.
    Notes:
        a·(1 − cos α) + r − √(r² − a²·sin² α), a half the stroke and no offset of the pin, written so that it keeps
        its digits near the top. Source: Pulkrabek, Engineering Fundamentals of the Internal Combustion
        Engine, §2.1 (from memory).
    Examples:
        >>> piston_drop(180.0, stroke=4.0, rod_length=6.0)
        4.0
    """
    turned = np.radians(require("crank_angle", crank_angle))
    throw = 0.5 * require("stroke", stroke)
    rod = require("rod_length", rod_length)
    _require_rod(2.0 * throw, rod)
    across = throw * np.sin(turned)
    upright = np.sqrt((rod - across) * (rod + across))
    return plain(2.0 * throw * np.square(np.sin(0.5 * turned)) + np.square(across) / (rod + upright))


def _require_rod(stroke: Numbers, rod_length: Numbers) -> None:
    if np.any(np.asarray(rod_length) <= 0.5 * np.asarray(stroke)):
        raise GeometryError(
            "the rod is no longer than half the stroke",
            where="rod_length",
            right="give the rod from centre to centre, in the unit of the stroke",
        )


def _lowest(angles: NDArray[np.float64], clearance: NDArray[np.float64]) -> ClosestApproach:
    """Lowest point of the parabola through three points, the middle one lowest."""
    before, after = angles[0] - angles[1], angles[2] - angles[1]
    down, up = clearance[0] - clearance[1], clearance[2] - clearance[1]
    curve = (up / after - down / before) / (after - before)
    if not curve > 0.0:
        return ClosestApproach(clearance=float(clearance[1]), crank_angle=float(angles[1]))
    slope = up / after - curve * after
    return ClosestApproach(
        clearance=float(clearance[1] - 0.25 * slope**2 / curve),
        crank_angle=float(angles[1] - 0.5 * slope / curve),
    )
