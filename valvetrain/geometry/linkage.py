"""The pushrod's side of the rocker: from lifter travel to valve lift, exactly and in space.

The frame is that of the glossary with z added: x square to the valve axis toward the valve, y along
it away from the seat, z along the shaft, origin at the centre of the closed tip. The rocker turns in
x and y. With v from the shaft centre to the lifter's cup and u the direction of the rocker's cup, the
rigid pushrod says |P·u − v| = B, so a·cos θ + b·sin θ = c with a, b the parts of v in the rocker's plane,
turned back by the cup angle. That has one closed form; the branch is the one on which a rising lifter
opens the valve. The angle itself is never needed: its sine and cosine come straight from a, b and c.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.arm import RockerArm, require_reach
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar

Point = tuple[float, float, float]
# Rounding only: a pushrod that just touches the tip has no lash, not a billionth less than none.
_ROUNDING = 1e-9
# Many lifts are worked through in pieces that stay in the processor's cache, several times faster.
_PIECE = 8192
# Up along the valve axis, and so along most lifters.
_STRAIGHT_UP: Point = (0.0, 1.0, 0.0)


def loop_angle(*, cosine: Numbers, sine: Numbers, constant: Numbers, branch: int = -1) -> Numbers:
    """Angle that closes a loop of two rigid bars.

    Args:
        cosine: Factor a of cos φ [any], finite.
        sine: Factor b of sin φ [any], finite.
        constant: What they must add up to, c [any], finite.
        branch: Which of the two answers [-]: 1 ahead of the direction (a, b), -1 behind it.
    Returns:
        φ with a·cos φ + b·sin φ = c [deg], from -180 to 180.
    Raises:
        GeometryError: Bars that cannot meet, a branch that is neither, or a number that is not finite.
    Notes:
        φ = atan2(b, a) ± acos(c / √(a² + b²)), from its sine and cosine, which keeps its digits where the
        two answers meet. For a four-bar with ground d, input end (x, y), coupler b and output c it is
        (x − d)·cos φ + y·sin φ = (c² + (x − d)² + y² − b²) / 2c. Derived here; compare Norton, Design of
        Machinery, position analysis (Freudenstein's equation).
    Examples:
        >>> loop_angle(cosine=1.0, sine=0.0, constant=0.5, branch=1)
        60.0
    """
    if branch not in (1, -1):
        raise GeometryError(f"branch is {branch!r}", where="branch", right="give 1 or -1")
    a = require("loop_factor", cosine)
    b = require("loop_factor", sine)
    c = require("loop_factor", constant)
    radius, left = _across_and_left(a, b, c)
    if np.any(np.asarray(left) < 0.0) or np.any(np.asarray(radius) == 0.0):
        raise GeometryError(
            "the bars cannot meet", where="constant", right="check their lengths and where they are held"
        )
    cos, sin = _direction(a, b, c, radius, branch * np.sqrt(left))
    return plain(np.degrees(np.arctan2(sin, cos)))


@dataclass(frozen=True)
class PushrodLinkage:
    """One rocker with its pushrod and lifter, as it stands in the engine.

    Args:
        arm: The rocker's valve side [in].
        shaft_height: Shaft centre H above the closed tip [in], negative below.
        shaft_offset: Shaft centre to valve axis D [in], above zero.
        cup_radius: Shaft centre to the centre of the ball in the rocker's cup, P [in], square to the shaft.
        cup_angle: From the arm round to the cup, γ [deg], 90 to 270; above 180 the cup hangs lower.
        lifter_point: Centre of the ball in the lifter's cup, on the base circle: x, y, z [in].
        lifter_direction: Way the lifter rises: x, y, z [-], any length; left out: along the valve axis.
        cup_offset: Cup along the shaft from the roller's plane [in], positive along z.
        pushrod_length: Effective length B between ball centres [in]; left out: the one that leaves the lash.
        lash: Running clearance at the valve [in], zero or more; left out: what the length leaves, else zero.
    Raises:
        GeometryError: Parts that cannot be put together, both a length and a lash, or a pushrod so long
            that it holds the valve open.
    Notes:
        Rigid parts; a solid lifter. The cup stays where it is on the rocker: turning an adjuster moves
        it, so give its place with the adjuster as it runs. Derived here.
    Examples:
        >>> linkage = PushrodLinkage(RockerArm(1.5, 0.25, 0.35), shaft_height=-0.1, shaft_offset=1.48,
        ...     cup_radius=1.0, cup_angle=180.0, lifter_point=(-2.5, -8.5, 0.0), lash=0.016)
        >>> linkage.fitted_length, linkage.valve_lift(0.4)
        (8.15615, 0.58414)
    """

    arm: RockerArm
    shaft_height: float
    shaft_offset: float
    cup_radius: float
    cup_angle: float
    lifter_point: Point
    lifter_direction: Point = _STRAIGHT_UP
    cup_offset: float = 0.0
    pushrod_length: float | None = None
    lash: float | None = None

    def __post_init__(self) -> None:
        for name in ("shaft_height", "shaft_offset", "cup_radius", "cup_angle", "cup_offset"):
            object.__setattr__(self, name, scalar(name, getattr(self, name)))
        object.__setattr__(self, "lifter_point", _point("lifter_point", self.lifter_point))
        object.__setattr__(self, "lifter_direction", _unit("lifter_direction", self.lifter_direction))
        if self.pushrod_length is not None and self.lash is not None:
            raise GeometryError(
                "both the pushrod's length and the lash are given",
                where="lash",
                right="give one; the other follows from it",
            )
        if self.pushrod_length is not None:
            object.__setattr__(self, "pushrod_length", scalar("pushrod_length", self.pushrod_length))
        if self.lash is not None:
            object.__setattr__(self, "lash", scalar("lash", self.lash))
        self._require_that_it_opens()
        if self.fitted_lash < 0.0:
            raise GeometryError(
                f"the pushrod is too long: it holds the valve {-self.fitted_lash:.4f} in open on the base circle",
                where="pushrod_length",
                right=f"at zero lash it is {float(self.pushrod_length_for(self.shaft_height)):.4f} in",
            )

    @cached_property
    def fitted_length(self) -> float:
        """Effective length of the pushrod as the linkage stands [in]."""
        if self.pushrod_length is not None:
            return self.pushrod_length
        return float(self.pushrod_length_for(self.shaft_height, lash=self.lash or 0.0))

    @cached_property
    def fitted_lash(self) -> float:
        """Lash at the valve as the linkage stands [in]; zero or more."""
        if self.pushrod_length is None:
            return self.lash or 0.0
        lash = float(self.lash_for_length(self.pushrod_length))
        return 0.0 if abs(lash) < _ROUNDING else lash

    def valve_lift(self, lifter_lift: Numbers) -> Numbers:
        """Lift of the valve for a lift of the lifter.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            Valve lift s [in]; zero until the lash is taken up.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            s = r − H − L·sin θ. Derived here.
        """
        return plain(np.maximum(self.roller_travel(lifter_lift), 0.0))

    def roller_travel(self, lifter_lift: Numbers) -> Numbers:
        """Place of the roller against the closed tip; the valve lift once the lash is gone.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            How far the roller stands below where it touches the closed tip [in]; on the base circle it is
            the lash above it, so negative.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            Derived here.
        """
        lift = require("lifter_lift", lifter_lift)
        if not isinstance(lift, np.ndarray) or lift.size <= _PIECE:
            return plain(self._travel(self._arm(lift)[1]))
        travel = np.empty(lift.size)
        for start in range(0, lift.size, _PIECE):
            piece = slice(start, start + _PIECE)
            travel[piece] = self._travel(self._arm(lift.reshape(-1)[piece])[1])
        return travel.reshape(lift.shape)

    def arm_angle(self, lifter_lift: Numbers) -> Numbers:
        """Angle of the arm from square to the valve axis.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            θ [deg], within ±90; positive: the roller stands above the shaft's square line.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            Derived here.
        """
        cos, sin = self._arm(require("lifter_lift", lifter_lift))
        return plain(np.degrees(np.arctan2(sin, cos)))

    def ratio(self, lifter_lift: Numbers) -> Numbers:
        """Rocker ratio at one lift: travel of the roller over travel of the lifter, there.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            ds/dℓ [-], above zero.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            With the pushrod m from lifter to cup and the lifter's way d, dθ/dℓ = (m·d) / (m·dC/dθ) and
            ds/dℓ = −L·cos θ·dθ/dℓ. Before the lash is gone it is the roller's, not yet the valve's.
            Derived here.
        """
        return self._slopes(require("lifter_lift", lifter_lift))[0]

    def ratio_slope(self, lifter_lift: Numbers) -> Numbers:
        """How fast the ratio changes with the lift.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            d²s/dℓ² [1/in].
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            The loop's equation differentiated twice. Derived here.
        """
        return self._slopes(require("lifter_lift", lifter_lift))[1]

    def ratio_mean(self, lifter_lift: Numbers) -> Numbers:
        """Mean ratio from the base circle to a lift.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], above zero.
        Returns:
            Travel of the roller over travel of the lifter [-]; the lash is left out of it.
        Raises:
            GeometryError: A lift of zero, or one that the pushrod or the arm cannot follow.
        Notes:
            (s + lash) / ℓ, so that valve lift = mean ratio × lobe lift − lash. Derived here.
        """
        lift = require("lobe_lift", lifter_lift)
        return plain((self.roller_travel(lift) - self.roller_travel(0.0)) / lift)

    def pushrod_direction(self, lifter_lift: Numbers) -> NDArray[np.float64]:
        """Direction of the pushrod, from the lifter to the rocker.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            x, y, z of length one along the last axis [-].
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            Derived here.
        """
        lift = require("lifter_lift", lifter_lift)
        rod = self._rod(lift, self._cup(*self._arm(lift)))
        return np.stack(np.broadcast_arrays(*rod), axis=-1) / self.fitted_length

    def pushrod_angle(self, lifter_lift: Numbers) -> Numbers:
        """Angle between the pushrod and the lifter's axis, in space.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
        Returns:
            Angle [deg], zero or more.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            From the cross and the dot product, which keeps its digits near zero. Derived here.
        """
        return _angle_between(self.pushrod_direction(lifter_lift), np.asarray(self.lifter_direction))

    def cup_tilt(self, lifter_lift: Numbers, axis_angle: float) -> Numbers:
        """Angle between the pushrod and the axis of the rocker's cup, in space.

        Args:
            lifter_lift: Lift of the lifter from the base circle [in], zero or more.
            axis_angle: From the arm to the cup's opening, in the rocker's plane [deg]; -90: square below the arm.
        Returns:
            Angle [deg], zero or more: how far the ball is turned in its cup.
        Raises:
            GeometryError: A lift that the pushrod or the arm cannot follow.
        Notes:
            The cup and its adjuster turn with the rocker. Derived here.
        """
        opening = np.radians(scalar("axis_angle", axis_angle) + self.arm_angle(lifter_lift))
        axis = np.stack([np.cos(opening), np.sin(opening), np.zeros_like(opening)], axis=-1)
        return _angle_between(-self.pushrod_direction(lifter_lift), axis)

    def pushrod_length_for(
        self,
        shaft_height: Numbers | None = None,
        *,
        closed_angle: Numbers | None = None,
        lash: Numbers = 0.0,
    ) -> Numbers:
        """Pushrod that suits a stand height, the valve closed and the lifter on its base circle.

        Args:
            shaft_height: Shaft centre H above the closed tip [in]; left out with no angle: as it stands.
            closed_angle: Arm angle θ at closed [deg] to be reached by the height, instead of a height.
            lash: Clearance to leave at the valve [in], zero or more.
        Returns:
            Effective length B between ball centres [in].
        Raises:
            GeometryError: Both a height and an angle, or an arm that cannot reach.
        Notes:
            H = r − L·sin θ where the angle is given. The lifter and the cup's place on the rocker stay.
            Derived here.
        """
        if shaft_height is not None and closed_angle is not None:
            raise GeometryError(
                "both a shaft height and a closed angle are given",
                where="closed_angle",
                right="give one of them",
            )
        if closed_angle is not None:
            angle = np.radians(require("closed_angle", closed_angle))
            height: Numbers = self.arm.tip_radius - self.arm.length * np.sin(angle)
        else:
            height = require("shaft_height", self.shaft_height if shaft_height is None else shaft_height)
        cup_cos, cup_sin = self._cup(*self._closed_arm(height, require("lash", lash)))
        x, y, z = self._shaft_to_lifter(height)
        across, along = self.cup_radius * cup_cos - x, self.cup_radius * cup_sin - y
        return plain(np.sqrt(across**2 + along**2 + z**2))

    def lash_for_length(self, pushrod_length: Numbers) -> Numbers:
        """Lash that a pushrod leaves, nothing else being touched.

        Args:
            pushrod_length: Effective length B between ball centres [in], above zero.
        Returns:
            Lash at the valve [in]; negative: the valve is held open by so much.
        Raises:
            GeometryError: A pushrod with which the parts cannot be put together.
        Notes:
            Near the right length it falls by the ratio, over the cosine of the pushrod's angle, for every
            inch of pushrod. Derived here.
        """
        length = require("pushrod_length", pushrod_length)
        x, y, z = self._shaft_to_lifter(self.shaft_height)
        apart = x**2 + y**2 + z**2
        constant = (self.cup_radius**2 + apart - length**2) / (2.0 * self.cup_radius)
        return plain(0.0 - self._travel(self._close_loop(*self._turned_back(x, y), constant)[1]))

    @cached_property
    def _turn(self) -> tuple[float, float]:
        """Cosine and sine of the cup angle, exact where the rocker is straight."""
        if self.cup_angle == 180.0:
            return -1.0, 0.0
        angle = np.radians(self.cup_angle)
        return float(np.cos(angle)), float(np.sin(angle))

    @cached_property
    def _constant(self) -> float:
        """The loop's constant on the base circle."""
        x, y, z = self._shaft_to_lifter(self.shaft_height)
        if self.pushrod_length is None:
            # From the closed cup itself, so that the lift starts at the lash to the last digit.
            cos, sin = self._cup(*self._closed_arm(self.shaft_height, self.fitted_lash))
            return float(x * cos + y * sin)
        apart = x**2 + y**2 + z**2
        return float((self.cup_radius**2 + apart - self.fitted_length**2) / (2.0 * self.cup_radius))

    def _shaft_to_lifter(self, height: Numbers) -> tuple[float, Numbers, float]:
        """From the cup's circle's centre to the lifter's ball on the base circle."""
        x, y, z = self.lifter_point
        return x + self.shaft_offset, y - height, z - self.cup_offset

    def _closed_arm(self, height: Numbers, lash: Numbers) -> tuple[Numbers, Numbers]:
        """Cosine and sine of the arm's angle with the roller this far above the closed tip."""
        above = self.arm.tip_radius + lash - height
        require_reach(self.arm, np.abs(above))
        sin = above / self.arm.length
        return np.sqrt((1.0 - sin) * (1.0 + sin)), sin

    def _cup(self, cos: Numbers, sin: Numbers) -> tuple[Numbers, Numbers]:
        """Cosine and sine of the cup's direction, from those of the arm's angle."""
        turn_cos, turn_sin = self._turn
        return cos * turn_cos - sin * turn_sin, sin * turn_cos + cos * turn_sin

    def _turned_back(self, x: Numbers, y: Numbers) -> tuple[Numbers, Numbers]:
        """A direction in the rocker's plane as seen from the arm when the cup is turned to it."""
        turn_cos, turn_sin = self._turn
        return x * turn_cos + y * turn_sin, y * turn_cos - x * turn_sin

    def _arm(self, lift: Numbers) -> tuple[Numbers, Numbers]:
        """Cosine and sine of the arm's angle at these lifts of the lifter."""
        x, y, z = self._shaft_to_lifter(self.shaft_height)
        way_x, way_y, way_z = self.lifter_direction
        along = 2.0 * (x * way_x + y * way_y + z * way_z)
        constant = lift * (lift + along) * (0.5 / self.cup_radius) + self._constant
        start, turned = self._turned_back(x, y), self._turned_back(way_x, way_y)
        return self._close_loop(turned[0] * lift + start[0], turned[1] * lift + start[1], constant)

    def _close_loop(self, a: Numbers, b: Numbers, constant: Numbers) -> tuple[Numbers, Numbers]:
        radius, left = _across_and_left(a, b, constant)
        if np.any(out := np.asarray(left) <= 0.0):
            short = bool((np.broadcast_to(constant, out.shape) > 0.0)[out][0])
            raise GeometryError(
                f"the pushrod is too {'short' if short else 'long'} to join the rocker to the lifter",
                where="pushrod_length",
                right="check its length, the cup's radius and angle, and where the lifter stands",
            )
        cos, sin = _direction(a, b, constant, radius, -np.sqrt(left))
        if np.any(np.asarray(cos) <= 0.0):
            raise GeometryError(
                "the arm would turn past the valve axis",
                where="lifter_lift",
                right="check the lift, the cup's radius and angle, and where the lifter stands",
            )
        return cos, sin

    def _travel(self, sin: Numbers) -> Numbers:
        return (self.arm.tip_radius - self.shaft_height) - self.arm.length * sin

    def _rod(self, lift: Numbers, cup: tuple[Numbers, Numbers]) -> tuple[Numbers, Numbers, Numbers]:
        """The pushrod from the lifter's ball to the rocker's."""
        x, y, z = self._shaft_to_lifter(self.shaft_height)
        way_x, way_y, way_z = self.lifter_direction
        return (
            self.cup_radius * cup[0] - x - way_x * lift,
            self.cup_radius * cup[1] - y - way_y * lift,
            0.0 - z - way_z * lift,
        )

    def _slopes(self, lift: Numbers) -> tuple[Numbers, Numbers]:
        """First and second derivative of the roller's travel by the lifter's."""
        cos, sin = self._arm(lift)
        cup_cos, cup_sin = cup = self._cup(cos, sin)
        rod = self._rod(lift, cup)
        way = self.lifter_direction
        tangent = (-self.cup_radius * cup_sin, self.cup_radius * cup_cos)
        lever = rod[0] * tangent[0] + rod[1] * tangent[1]
        turn = sum((part * along for part, along in zip(rod, way, strict=True)), 0.0) / lever
        # |m|² stays: its second derivative along the travel is zero.
        inward = rod[0] * cup_cos + rod[1] * cup_sin
        crossed = tangent[0] * way[0] + tangent[1] * way[1]
        bend = (self.cup_radius**2 - self.cup_radius * inward) * turn**2 - 2.0 * crossed * turn + 1.0
        length = self.arm.length
        return plain(-length * cos * turn), plain(length * (sin * turn**2 + cos * bend / lever))

    def _require_that_it_opens(self) -> None:
        cos, sin = self._cup(*self._closed_arm(self.shaft_height, 0.0))
        x, y, z = self._shaft_to_lifter(self.shaft_height)
        rod = (self.cup_radius * cos - x, self.cup_radius * sin - y, -z)
        along = sum(part * way for part, way in zip(rod, self.lifter_direction, strict=True))
        # The pushrod must push upward along the lifter's way and turn the roller down.
        if not (along > 0.0 and x * sin - y * cos < 0.0):
            raise GeometryError(
                "a rising lifter would not open the valve",
                where="lifter_point",
                right="the lifter stands below the cup and rises toward it; x grows toward the valve",
            )


def _across_and_left(a: Numbers, b: Numbers, c: Numbers) -> tuple[Numbers, Numbers]:
    """a² + b², and what it leaves beyond c²: below zero there is no answer."""
    radius = a * a + b * b
    return radius, radius - c * c


def _direction(a: Numbers, b: Numbers, c: Numbers, radius: Numbers, root: Numbers) -> tuple[Numbers, Numbers]:
    """Cosine and sine of the angle ahead of (a, b) by the root's side."""
    inverse = 1.0 / radius
    return (a * c - b * root) * inverse, (b * c + a * root) * inverse


def _point(quantity: str, value: object) -> Point:
    numbers = np.asarray(require(quantity, value))
    if numbers.shape != (3,):
        raise GeometryError(
            f"{quantity.replace('_', ' ')} has {numbers.size} numbers",
            where=quantity,
            right="give x, y and z",
        )
    x, y, z = numbers.tolist()
    return x, y, z


def _unit(quantity: str, value: object) -> Point:
    x, y, z = _point(quantity, value)
    size = float(np.sqrt(x * x + y * y + z * z))
    if not size > 0.0:
        raise GeometryError(
            "the lifter's direction is nothing", where=quantity, right="give the way it rises, as x, y and z"
        )
    return x / size, y / size, z / size


def _angle_between(one: NDArray[np.float64], other: NDArray[np.float64]) -> Numbers:
    """Angle between unit vectors along the last axis, in degrees."""
    crossed = np.linalg.norm(np.cross(one, other), axis=-1)
    return plain(np.degrees(np.arctan2(crossed, np.sum(one * other, axis=-1))))
