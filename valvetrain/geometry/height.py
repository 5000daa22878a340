"""Where the shaft should stand, what a gauge reads, and the pack that makes it so."""

from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.arm import RockerArm, require_reach
from valvetrain.geometry.guard import Numbers, plain, require


@dataclass(frozen=True)
class ReadingToExpect:
    """What a gauge shows when the height is right: a gap, or a feeler under its foot.

    Args:
        gap: Clearance to feel over the shaft [in], zero or more.
        foot_feeler: Blade to lay under the foot so that the gauge just touches [in], zero or more.
    Notes:
        At each valve at least one of the two is zero.
    """

    gap: Numbers
    foot_feeler: Numbers


def target_height(arm: RockerArm, lift: Numbers, square_at: Numbers = 0.5) -> Numbers:
    """Shaft height that stands the arm square at the chosen part of the lift.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        square_at: Part of the lift k at which the arm stands square [-], 0 to 1.
    Returns:
        Shaft centre H above the closed tip [in]; negative: below it, as it mostly is.
    Raises:
        GeometryError: A number out of range, or a lift that the arm cannot follow.
    Notes:
        H = r − k·S. Source: common practice; derived here.
    Examples:
        >>> target_height(RockerArm(1.5, 0.25, 0.35), 0.75)
        -0.125
    """
    lift = require("lift", lift)
    square_at = require("square_at", square_at)
    # The longer part of the lift, as one number: cheap, and enough unless it fails.
    longest = np.max(lift, initial=0.0) * max(np.max(square_at), 1.0 - np.min(square_at))
    if not longest < arm.length:
        require_reach(arm, lift * np.maximum(square_at, 1.0 - square_at))
    return plain(arm.tip_radius - square_at * lift)


def top_of_shaft(arm: RockerArm, lift: Numbers, square_at: Numbers = 0.5) -> Numbers:
    """Top of the shaft above the closed tip when the height is right.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        square_at: Part of the lift at which the arm stands square [-], 0 to 1.
    Returns:
        H + R [in], positive above the tip.
    Raises:
        GeometryError: As ``target_height``.
    Notes:
        r + R − k·S. The worked numbers are common practice, no source.
    Examples:
        >>> top_of_shaft(RockerArm(1.5, 0.237, 0.35), 0.75)
        0.212
    """
    return target_height(arm, lift, square_at) + arm.shaft_radius


def gauge_step(arm: RockerArm, reference_lift: Numbers, square_at: Numbers = 0.5) -> Numbers:
    """Step of a height gauge that was made for a stated lift.

    Args:
        arm: The rocker that the gauge was made for [in].
        reference_lift: Lift S0 that the gauge was made for [in], above zero.
        square_at: Part of the lift at which its maker stands the arm square [-], 0 to 1.
    Returns:
        Step g: height above its foot of the face that reaches over the shaft [in].
    Raises:
        GeometryError: As ``target_height``.
    Notes:
        g = r + R − k·S0, the top of the shaft at that lift. Derived here.
    Examples:
        >>> gauge_step(RockerArm(1.5, 0.237, 0.35), 0.7)
        0.237
    """
    return top_of_shaft(arm, require("reference_lift", reference_lift), square_at)


def height_from_gauge(
    arm: RockerArm,
    *,
    step: Numbers,
    gap: Numbers,
    foot_feeler: Numbers = 0.0,
    dummy_radius: Numbers | None = None,
) -> Numbers:
    """Shaft height from a gauge on the tip that reaches over the shaft, or over a dummy.

    Args:
        arm: The rocker [in].
        step: Gauge step g, reaching face above foot [in].
        gap: Clearance m felt between gauge and shaft [in], zero or more.
        foot_feeler: Blade f under the gauge's foot [in], zero or more.
        dummy_radius: Radius of the dummy shaft under the gauge [in]; left out: that of the shaft itself.
    Returns:
        Shaft centre H above the closed tip [in].
    Raises:
        GeometryError: A negative gap or feeler, or a number that is not finite.
    Notes:
        H = g + f − m − radius under the gauge. A dummy lies in the stand as the shaft does, on the same
        centre, so its own radius is what separates the centre from the gauge. Derived here.
    Examples:
        >>> height_from_gauge(RockerArm(1.5, 0.25, 0.35), step=0.225, gap=0.020)
        -0.145
    """
    radius = arm.shaft_radius if dummy_radius is None else require("dummy_radius", dummy_radius)
    reach = require("step", step) + require("foot_feeler", foot_feeler)
    return plain(reach - require("gap", gap) - radius)


def height_from_top(arm: RockerArm, reading: Numbers) -> Numbers:
    """Shaft height from a depth reading between closed tip and top of shaft.

    Args:
        arm: The rocker [in].
        reading: Top of the shaft above the closed tip [in]; negative: below it.
    Returns:
        Shaft centre H above the closed tip [in].
    Raises:
        GeometryError: A reading that is not finite.
    Notes:
        H = reading − R. Derived here.
    Examples:
        >>> height_from_top(RockerArm(1.5, 0.25, 0.35), 0.225)
        -0.125
    """
    return plain(require("reading", reading) - arm.shaft_radius)


def height_from_underside(arm: RockerArm, reading: Numbers) -> Numbers:
    """Shaft height from a depth reading between closed tip and underside of shaft.

    Args:
        arm: The rocker [in].
        reading: Underside of the shaft above the closed tip [in]; mostly negative, below it.
    Returns:
        Shaft centre H above the closed tip [in].
    Raises:
        GeometryError: A reading that is not finite.
    Notes:
        H = reading + R. Derived here.
    Examples:
        >>> height_from_underside(RockerArm(1.5, 0.25, 0.35), -0.475)
        -0.125
    """
    return plain(require("reading", reading) + arm.shaft_radius)


def reading_to_expect(
    arm: RockerArm,
    lift: Numbers,
    step: Numbers,
    *,
    square_at: Numbers = 0.5,
    dummy_radius: Numbers | None = None,
) -> ReadingToExpect:
    """What this gauge should read at this valve when the height is right.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        step: Gauge step g [in].
        square_at: Part of the lift at which the arm stands square [-], 0 to 1.
        dummy_radius: Radius of the dummy shaft under the gauge [in]; left out: that of the shaft itself.
    Returns:
        The gap over the shaft, or the feeler under the foot [in].
    Raises:
        GeometryError: As ``target_height``.
    Notes:
        g less the top of the (dummy) shaft at target. With the gauge's own rockers that is k·(S − S0):
        more lift than the gauge's leaves a gap, less asks a feeler. Derived here.
    Examples:
        >>> reading_to_expect(RockerArm(1.5, 0.237, 0.35), 0.75, 0.237)
        ReadingToExpect(gap=0.025, foot_feeler=0.0)
    """
    radius = arm.shaft_radius if dummy_radius is None else require("dummy_radius", dummy_radius)
    over = require("step", step) - target_height(arm, lift, square_at) - radius
    return ReadingToExpect(gap=plain(np.maximum(over, 0.0)), foot_feeler=plain(np.maximum(0.0 - over, 0.0)))


def rise_needed(arm: RockerArm, lift: Numbers, height_now: Numbers, *, square_at: Numbers = 0.5) -> Numbers:
    """How far the shaft must rise to stand right.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        height_now: Shaft centre above the closed tip as read [in].
        square_at: Part of the lift at which the arm stands square [-], 0 to 1.
    Returns:
        Rise Δ along the valve axis [in]; positive: raise, negative: lower.
    Raises:
        GeometryError: As ``target_height``.
    Notes:
        Target less now, so the height error is its negative. Derived here.
    Examples:
        >>> rise_needed(RockerArm(1.5, 0.25, 0.35), 0.75, -0.145)
        0.020
    """
    return plain(target_height(arm, lift, square_at) - require("height_now", height_now))


def square_at_for_height(arm: RockerArm, lift: Numbers, height_now: Numbers) -> Numbers:
    """Part of the lift at which the arm stands square with the shaft where it is.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        height_now: Shaft centre above the closed tip as read [in].
    Returns:
        Part of the lift k [-]; below 0 or above 1: the arm does not stand square anywhere in the lift.
    Raises:
        GeometryError: A number out of range, or an arm that cannot reach at both ends of the lift.
    Notes:
        k = (r − H) / S, the inverse of ``target_height``. A shaft that stands low stands the arm square late.
        Derived here.
    Examples:
        >>> square_at_for_height(RockerArm(1.5, 0.25, 0.35), 0.75, -0.140)
        0.52
    """
    lift = require("lift", lift)
    drop = arm.tip_radius - require("height_now", height_now)
    require_reach(arm, np.maximum(np.abs(drop), np.abs(drop - lift)))
    return plain(drop / lift)


def pack_for_rise(rise: Numbers, pad_tilt: Numbers = 0.0, *, pack_in_place: Numbers = 0.0) -> Numbers:
    """Whole pack under the pad that gives a rise.

    Args:
        rise: Rise Δ along the valve axis [in]; negative: lower.
        pad_tilt: Pad normal from the valve axis φ [deg], -45 to 45.
        pack_in_place: Pack that was under the pad when the height was read [in], zero or more.
    Returns:
        Pack along the pad's normal [in]; negative: no shim does it, the stand must come down.
    Raises:
        GeometryError: A tilt beyond 45 degrees, a negative pack in place, or a number that is not finite.
    Notes:
        t = Δ / cos φ on top of what is there. A negative pack t lowers along the axis by |t|·cos φ.
        Derived here.
    Examples:
        >>> pack_for_rise(0.020, 10.0, pack_in_place=0.015)
        0.0353085
    """
    rise = require("rise", rise)
    tilt = require("pad_tilt", pad_tilt)
    return plain(require("pack_in_place", pack_in_place) + rise / np.cos(np.radians(tilt)))


def sideways_shift(thickness: Numbers, pad_tilt: Numbers) -> Numbers:
    """How far a change of pack carries the shaft across, on a tilted pad.

    Args:
        thickness: Pack added along the pad's normal [in]; negative: taken out.
        pad_tilt: Pad normal from the valve axis φ [deg], -45 to 45.
    Returns:
        t·sin φ [in]; positive: toward the valve, so the mark moves outboard by as much.
    Raises:
        GeometryError: A tilt beyond 45 degrees, or a number that is not finite.
    Notes:
        Derived here.
    Examples:
        >>> sideways_shift(0.100, 10.0)
        0.0173648
    """
    tilt = require("pad_tilt", pad_tilt)
    return plain(require("thickness", thickness) * np.sin(np.radians(tilt)))
