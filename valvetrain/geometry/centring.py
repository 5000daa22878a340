"""Height from where the contact stands at both ends of the lift, and how to slide a stand to centre a mark.

On a pad whose normal n = (sin φ, cos φ) leans toward the valve, a slide runs along t = (cos φ, −sin φ):
sliding toward the valve also lowers the shaft. The height outranks the centre, so a slide goes with a
change of pack that gives the height back.
"""

from dataclasses import dataclass

import numpy as np

from valvetrain.geometry.arm import RockerArm, require_reach
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require


@dataclass(frozen=True)
class HeightFromEnds:
    """Height error from where the contact stands closed and fully open, with its sign.

    Args:
        height_error: Shaft high, e, against the target [in]; negative: low.
        uncertainty_factor: Inches of height for each inch of the difference closed less open [-], about 2.
    """

    height_error: Numbers
    uncertainty_factor: Numbers


@dataclass(frozen=True)
class CentringSlide:
    """Two ways to carry a shaft across on a tilted pad: with the height kept, and by sliding alone.

    Args:
        slide: Along the pad with the height kept [in]; positive: toward the valve.
        pack_change: Change of pack that goes with it [in]; negative: taken out.
        slide_alone: Along the pad with the pack as it is [in]; positive: toward the valve.
        height_change: What that does to the height [in]; positive: higher.
    """

    slide: Numbers
    pack_change: Numbers
    slide_alone: Numbers
    height_change: Numbers


@dataclass(frozen=True)
class HoleRelief:
    """What a slide asks of the bolt holes.

    Args:
        relief: Length to take off one side of the hole, along the slide [in]; zero: the play is enough.
        play: How far the stand slides either way in the hole as it is [in], zero or more.
        clearance: Room of the bolt in the relieved hole, along the slide [in]: slot length less bolt.
    """

    relief: Numbers
    play: Numbers
    clearance: Numbers


def height_error_from_ends(
    arm: RockerArm, lift: Numbers, *, closed: Numbers, open_: Numbers, square_at: Numbers = 0.5
) -> HeightFromEnds:
    """Height error from where the contact stands with the valve closed and at full lift.

    Args:
        arm: The rocker [in].
        lift: Net valve lift S [in], above zero.
        closed: Contact with the valve closed [in]; positive: outboard, from any one line on the tip.
        open_: Contact at full lift [in]; positive: outboard, from the same line.
        square_at: Part of the lift at which the target stands the arm square [-], 0 to 1.
    Returns:
        Height error with its sign, and its uncertainty factor.
    Raises:
        GeometryError: A number out of range, or ends further apart than this arm can bring them.
    Notes:
        The two contacts are a chord Δ = c(0) − c(S) across and S along the arm's circle, whose middle
        stands q = (Δ/2)·√((4L² − S² − Δ²)/(S² + Δ²)) off the square line, and e = q − (½ − k)·S. A high
        shaft has the closed contact further out. Only the difference counts, so where the shaft stands
        does not. The factor is about L/S: twice as fine as the width, and it tells high from low.
        Derived here.
    Examples:
        >>> found = height_error_from_ends(RockerArm(1.5, 0.25, 0.35), 0.75, closed=0.025, open_=0.015)
        >>> found.height_error, found.uncertainty_factor
        (0.0194, 1.94)
    """
    lift = require("lift", lift)
    square = require("square_at", square_at)
    apart = require("closed", closed) - require("open_", open_)
    require_reach(arm, 0.5 * lift)
    length = arm.length
    # Furthest apart with the arm along the valve axis at one end of the lift.
    most = np.sqrt(lift * (2.0 * length - lift))
    if np.any(wide := np.asarray(np.abs(apart) >= most)):
        raise GeometryError(
            "the contact closed and the contact at full lift are further apart than this arm can bring them;"
            f" the most is {np.broadcast_to(most, wide.shape)[wide][0]:.4f} in",
            where="closed",
            right="read both again from one line, or check the arm length and the lift",
        )
    middle = 0.5 * apart * np.sqrt((4.0 * length**2 - lift**2 - apart**2) / (lift**2 + apart**2))
    return HeightFromEnds(
        height_error=plain(middle - (0.5 - square) * lift),
        uncertainty_factor=plain(
            1.0 / (_draw(length, middle + 0.5 * lift) - _draw(length, middle - 0.5 * lift))
        ),
    )


def centring_slide(move: Numbers, pad_tilt: Numbers = 0.0) -> CentringSlide:
    """How far to slide a stand along its pads for a move of the shaft across.

    Args:
        move: Move of the shaft m across the valve axis [in]; positive: toward the valve.
        pad_tilt: Pad normal from the valve axis φ [deg], -45 to 45.
    Returns:
        The slide and change of pack that keep the height; the slide alone, and what it does to the height.
    Raises:
        GeometryError: A tilt beyond 45 degrees, or a number that is not finite.
    Notes:
        Height kept: s·t + p·n = (m, 0), so s = m·cos φ and p = m·sin φ. Alone: s = m/cos φ, and the height
        changes by −m·tan φ. ``centring_move`` says how far. Derived here.
    Examples:
        >>> found = centring_slide(-0.016, 10.0)
        >>> found.slide, found.pack_change
        (-0.015757, -0.002778)
        >>> found.slide_alone, found.height_change
        (-0.016247, 0.002821)
    """
    move = require("move", move)
    tilt = np.radians(require("pad_tilt", pad_tilt))
    return CentringSlide(
        slide=plain(move * np.cos(tilt)),
        pack_change=plain(move * np.sin(tilt)),
        slide_alone=plain(move / np.cos(tilt)),
        height_change=plain(0.0 - move * np.tan(tilt)),
    )


def hole_relief(slide: Numbers, *, hole_diameter: Numbers, bolt_diameter: Numbers) -> HoleRelief:
    """How much a bolt hole must be relieved for a slide.

    Args:
        slide: Slide of the stand along its pad [in], either way.
        hole_diameter: Diameter of the hole in the stand [in], above zero.
        bolt_diameter: Diameter of the bolt [in], above zero, no more than the hole's.
    Returns:
        Relief, the play there is, and the bolt's room along the slide afterwards.
    Raises:
        GeometryError: A number out of range, or a bolt that does not go into the hole.
    Notes:
        With the bolt in the middle of its hole the stand slides (hole − bolt)/2 either way; what the slide
        asks beyond that comes off the side of the hole that the slide brings to the bolt. The slot is then
        hole plus relief long. Derived here.
    Examples:
        >>> hole_relief(-0.020, hole_diameter=0.390, bolt_diameter=0.375)
        HoleRelief(relief=0.0125, play=0.0075, clearance=0.0275)
    """
    slide = require("slide", slide)
    hole = require("hole_diameter", hole_diameter)
    bolt = require("bolt_diameter", bolt_diameter)
    if np.any(np.asarray(bolt) > hole):
        raise GeometryError(
            "the bolt is thicker than its hole",
            where="bolt_diameter",
            right="measure the bolt's shank and the hole in the stand again",
        )
    play = 0.5 * (hole - bolt)
    relief = np.maximum(np.abs(slide) - play, 0.0)
    return HoleRelief(relief=plain(relief), play=plain(play), clearance=plain(hole + relief - bolt))


def _draw(length: float, below: Numbers) -> Numbers:
    """How fast the contact draws in as the roller leaves the square line, inch for inch."""
    slope: Numbers = below / np.sqrt((length - below) * (length + below))
    return slope
