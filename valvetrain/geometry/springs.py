"""Valve springs: rate, loads and heights, margin to coil bind, and springs in springs.

Heights are measured on the seat that the spring stands on. A load is one spring's, or one set's, at the
retainer. Straight-line springs of round wire throughout: a beehive or a spring whose coils close one
after another has no single rate, and its own table of loads outranks every formula here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require, scalar


@dataclass(frozen=True)
class Spring:
    """One spring of a set, as it stands in the head.

    Args:
        spring_rate: Rate k [lbf/in], above zero.
        seat_load: Load with the valve closed [lbf], zero or more.
        installed_height: Height with the valve closed, on this spring's own seat [in], above zero.
        solid_height: Height with all coils touching [in], above zero, less than installed.
    Raises:
        GeometryError: A number out of range, or a spring that is solid as installed.
    Examples:
        >>> Spring(spring_rate=450.0, seat_load=180.0, installed_height=1.95, solid_height=1.1).solid_height
        1.1
    """

    spring_rate: float
    seat_load: float
    installed_height: float
    solid_height: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "spring_rate", scalar("rate", self.spring_rate))
        for name in ("seat_load", "installed_height", "solid_height"):
            object.__setattr__(self, name, scalar(name, getattr(self, name)))
        if not self.solid_height < self.installed_height:
            raise GeometryError(
                f"a spring that is solid at {self.solid_height:g} in"
                f" stands installed at {self.installed_height:g} in",
                where="solid_height",
                right="installed must be more than solid; check both heights",
            )


@dataclass(frozen=True)
class SpringSet:
    """Springs one inside another under one retainer, at one lift.

    Args:
        spring_rate: Sum of the rates [lbf/in].
        seat_load: Sum of the loads with the valve closed [lbf].
        open_load: Sum of the loads at the lift [lbf].
        margin: What is left to coil bind at the lift, in the spring that binds first [in]; negative: it
            binds before the valve is that far open.
        binds_first: Number of that spring in the order given [-], from 0.
    """

    spring_rate: float
    seat_load: float
    open_load: float
    margin: float
    binds_first: int


def spring_rate(
    *, seat_load: Numbers, open_load: Numbers, installed_height: Numbers, open_height: Numbers
) -> Numbers:
    """Rate of a spring from its loads at two heights.

    Args:
        seat_load: Load at the installed height [lbf], zero or more.
        open_load: Load at the open height [lbf], more than the seat load.
        installed_height: Height with the valve closed [in], above zero.
        open_height: Height with the valve open [in], less than installed.
    Returns:
        Rate k [lbf/in], above zero.
    Raises:
        GeometryError: A number out of range, heights that are not in order, or loads that are not.
    Notes:
        (Open load − seat load) / (installed height − open height). Any two heights do: the smaller
        takes the place of open. Common practice.
    Examples:
        >>> spring_rate(seat_load=180.0, open_load=450.0, installed_height=1.95, open_height=1.35)
        450.0
    """
    squeezed = require("installed_height", installed_height) - require("open_height", open_height)
    gained = require("open_load", open_load) - require("seat_load", seat_load)
    if np.any(np.asarray(squeezed) <= 0.0):
        raise GeometryError(
            "the open height is not less than the installed height",
            where="open_height",
            right="a valve spring gets shorter as the valve opens; check both heights",
        )
    if np.any(np.asarray(gained) <= 0.0):
        raise GeometryError(
            "the open load is not more than the seat load",
            where="open_load",
            right="a spring pushes harder as it gets shorter; check both loads",
        )
    return plain(gained / squeezed)


def open_height(installed_height: Numbers, lift: Numbers) -> Numbers:
    """Height of the spring with the valve fully open.

    Args:
        installed_height: Height with the valve closed [in], above zero.
        lift: Net valve lift S [in], above zero.
    Returns:
        Open height [in], above zero.
    Raises:
        GeometryError: A number out of range, or a lift of the whole spring.
    Notes:
        Installed height − net lift. Common practice.
    Examples:
        >>> open_height(1.95, 0.6)
        1.35
    """
    left = require("installed_height", installed_height) - require("lift", lift)
    if np.any(np.asarray(left) <= 0.0):
        raise GeometryError(
            "the lift is as much as the whole spring",
            where="lift",
            right="check the lift and the installed height",
        )
    return plain(left)


def coil_bind_margin(open_height: Numbers, solid_height: Numbers) -> Numbers:
    """What is left before the coils touch, with the valve fully open.

    Args:
        open_height: Height with the valve open [in], above zero.
        solid_height: Height with all coils touching [in], above zero.
    Returns:
        Margin [in]; negative: the spring binds before the valve is open.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Open height − solid height. Common practice.
    Examples:
        >>> coil_bind_margin(1.35, 1.1)
        0.25
    """
    return plain(require("open_height", open_height) - require("solid_height", solid_height))


def spring_shim(measured_height: Numbers, wanted_height: Numbers) -> Numbers:
    """Shim under the spring that brings it to the height wanted.

    Args:
        measured_height: Installed height as measured, without the shim [in], above zero.
        wanted_height: Installed height that is wanted [in], above zero.
    Returns:
        Thickness [in]; negative: the spring is too short already, and shims must come out, the seat go
        deeper, or the retainer stand higher.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Measured height − wanted height. Common practice.
    Examples:
        >>> spring_shim(1.965, 1.950)
        0.015
    """
    return plain(require("measured_height", measured_height) - require("wanted_height", wanted_height))


def load_at(
    height: Numbers, *, spring_rate: Numbers, seat_load: Numbers, installed_height: Numbers
) -> Numbers:
    """Load of a spring squeezed to a height.

    Args:
        height: Height asked about [in], above zero.
        spring_rate: Rate k [lbf/in], above zero.
        seat_load: Load at the installed height [lbf], zero or more.
        installed_height: Height with that load [in], above zero.
    Returns:
        Load [lbf], zero or more: a spring taller than its free height is loose and pushes nothing.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Seat load + k·(installed height − height). Holds down to the solid height. Common practice.
    Examples:
        >>> load_at(1.35, spring_rate=450.0, seat_load=180.0, installed_height=1.95)
        450.0
    """
    squeezed = require("installed_height", installed_height) - require("height", height)
    load = require("seat_load", seat_load) + require("rate", spring_rate) * squeezed
    return plain(np.maximum(load, 0.0))


def height_for_load(
    wanted_load: Numbers, *, spring_rate: Numbers, seat_load: Numbers, installed_height: Numbers
) -> Numbers:
    """Height at which a spring gives a load.

    Args:
        wanted_load: Load that is wanted [lbf], zero or more.
        spring_rate: Rate k [lbf/in], above zero.
        seat_load: Load at the installed height [lbf], zero or more.
        installed_height: Height with that load [in], above zero.
    Returns:
        Height [in]; at zero load it is the free height.
    Raises:
        GeometryError: A number out of range, or a load that the spring cannot reach in its whole height.
    Notes:
        The inverse of ``load_at``. Whether the coils touch before is for ``coil_bind_margin``. Derived here.
    Examples:
        >>> height_for_load(225.0, spring_rate=450.0, seat_load=180.0, installed_height=1.95)
        1.85
    """
    more = require("wanted_load", wanted_load) - require("seat_load", seat_load)
    height = require("installed_height", installed_height) - more / require("rate", spring_rate)
    if np.any(np.asarray(height) <= 0.0):
        raise GeometryError(
            "the spring cannot give that load in its whole height",
            where="wanted_load",
            right="check the load and the rate",
        )
    return plain(height)


def nest(springs: Sequence[Spring], lift: float) -> SpringSet:
    """Springs one inside another, taken together.

    Args:
        springs: The springs under one retainer, in any order [-], one or more.
        lift: Net valve lift S [in], above zero.
    Returns:
        Sums of rate and loads, and the least margin [lbf, in].
    Raises:
        GeometryError: No spring, a number out of range, or a lift of a whole spring.
    Notes:
        Springs side by side: rates add and loads add. Each may stand on its own step, so each has its own
        installed height; all are squeezed by the same lift. A damper that rubs adds load that is not in
        here. Plain statics.
    Examples:
        >>> outer = Spring(spring_rate=300.0, seat_load=130.0, installed_height=1.95, solid_height=1.10)
        >>> inner = Spring(spring_rate=150.0, seat_load=50.0, installed_height=1.80, solid_height=1.05)
        >>> nest([outer, inner], 0.6)
        SpringSet(spring_rate=450.0, seat_load=180.0, open_load=450.0, margin=0.15, binds_first=1)
    """
    if not springs:
        raise GeometryError("the set has no spring in it", where="springs", right="give at least one spring")
    lift = scalar("lift", lift)
    margins = [
        float(coil_bind_margin(open_height(spring.installed_height, lift), spring.solid_height))
        for spring in springs
    ]
    rate = math.fsum(spring.spring_rate for spring in springs)
    seat = math.fsum(spring.seat_load for spring in springs)
    first = min(range(len(springs)), key=margins.__getitem__)
    return SpringSet(
        spring_rate=rate,
        seat_load=seat,
        open_load=seat + rate * lift,
        margin=margins[first],
        binds_first=first,
    )
