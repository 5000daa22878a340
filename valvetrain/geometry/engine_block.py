"""The bottom half in numbers: displacement, compression ratio, clearances and piston speed.

Lengths in inches, volumes in cubic inches unless a name says cubic centimetres (cc): chambers and crowns
are measured with a burette.
"""

import math

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require

# 2.54 cm to the inch, exact: NIST SP 811.
CC_PER_CUBIC_INCH = 2.54**3


def displacement(bore: Numbers, stroke: Numbers, *, cylinders: int = 1) -> Numbers:
    """What the pistons sweep in one stroke of each.

    Args:
        bore: Cylinder bore [in], above zero.
        stroke: Stroke [in], above zero.
        cylinders: How many cylinders [-], 1 or more.
    Returns:
        Displacement [in³].
    Raises:
        GeometryError: A number out of range.
    Notes:
        π/4·bore²·stroke for each cylinder. NAVEDTRA 14264, chapter 2.
    Examples:
        >>> displacement(4.0, 3.5, cylinders=8)
        351.858
    """
    if isinstance(cylinders, bool) or not isinstance(cylinders, int) or cylinders < 1:
        raise GeometryError(
            f"cylinders is {cylinders!r}", where="cylinders", right="give a whole number from 1 up"
        )
    return plain(cylinders * _round_volume(require("bore", bore), require("stroke", stroke)))


def clearance_volume(
    *,
    bore: Numbers,
    chamber_volume: Numbers,
    gasket_bore: Numbers,
    gasket_thickness: Numbers,
    deck_clearance: Numbers,
    crown_volume: Numbers = 0.0,
) -> Numbers:
    """What is left above the piston at top centre.

    Args:
        bore: Cylinder bore [in], above zero.
        chamber_volume: Chamber in the head, plug and valves in [cc], zero or more.
        gasket_bore: Bore of the head gasket [in], above zero.
        gasket_thickness: Gasket as squeezed [in], zero or more.
        deck_clearance: Piston's flat below the deck at top centre [in]; negative: it stands proud.
        crown_volume: What the crown fills above its flat, dome less reliefs [cc]; negative: a dish.
    Returns:
        Volume [in³], above zero.
    Raises:
        GeometryError: A number out of range, or volumes that leave nothing.
    Notes:
        Chamber + gasket + deck − crown. The ring around the top land is left out. Common practice.
    Examples:
        >>> clearance_volume(bore=4.0, chamber_volume=64.0, gasket_bore=4.1, gasket_thickness=0.04,
        ...     deck_clearance=0.005, crown_volume=-6.0)
        4.862596
    """
    in_the_head = require("chamber_volume", chamber_volume) - require("crown_volume", crown_volume)
    left = (
        in_the_head / CC_PER_CUBIC_INCH
        + _round_volume(require("gasket_bore", gasket_bore), require("gasket_thickness", gasket_thickness))
        + _round_volume(require("bore", bore), require("deck_clearance", deck_clearance))
    )
    if np.any(np.asarray(left) <= 0.0):
        raise GeometryError(
            "the crown leaves no room above the piston",
            where="crown_volume",
            right="a dome is positive and a dish negative, both in cc; check the chamber and the deck too",
        )
    return plain(left)


def compression_ratio(
    *,
    bore: Numbers,
    stroke: Numbers,
    chamber_volume: Numbers,
    gasket_bore: Numbers,
    gasket_thickness: Numbers,
    deck_clearance: Numbers,
    crown_volume: Numbers = 0.0,
) -> Numbers:
    """Compression ratio from bore, stroke and the volumes above the piston.

    Args:
        bore: Cylinder bore [in], above zero.
        stroke: Stroke [in], above zero.
        chamber_volume: Chamber in the head, plug and valves in [cc], zero or more.
        gasket_bore: Bore of the head gasket [in], above zero.
        gasket_thickness: Gasket as squeezed [in], zero or more.
        deck_clearance: Piston's flat below the deck at top centre [in]; negative: it stands proud.
        crown_volume: What the crown fills above its flat, dome less reliefs [cc]; negative: a dish.
    Returns:
        Ratio to one [-], above 1.
    Raises:
        GeometryError: As ``clearance_volume``.
    Notes:
        (Swept + clearance) / clearance: geometry only, whatever the cam does. Common practice.
    Examples:
        >>> compression_ratio(bore=4.0, stroke=3.5, chamber_volume=64.0, gasket_bore=4.1,
        ...     gasket_thickness=0.04, deck_clearance=0.005, crown_volume=-6.0)
        10.0451
    """
    clearance = clearance_volume(
        bore=bore,
        chamber_volume=chamber_volume,
        gasket_bore=gasket_bore,
        gasket_thickness=gasket_thickness,
        deck_clearance=deck_clearance,
        crown_volume=crown_volume,
    )
    return plain(1.0 + displacement(bore, stroke) / clearance)


def quench_height(gasket_thickness: Numbers, deck_clearance: Numbers) -> Numbers:
    """Gap between the piston's flat and the flat of the head at top centre.

    Args:
        gasket_thickness: Gasket as squeezed [in], zero or more.
        deck_clearance: Piston's flat below the deck at top centre [in]; negative: it stands proud.
    Returns:
        Gap [in]; negative: the piston meets the head.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Gasket + deck clearance. Common practice.
    Examples:
        >>> quench_height(0.04, 0.005)
        0.045
    """
    return plain(require("gasket_thickness", gasket_thickness) + require("deck_clearance", deck_clearance))


def piston_clearance(bore: Numbers, piston_diameter: Numbers) -> Numbers:
    """Piston to wall, on the diameter.

    Args:
        bore: Cylinder bore [in], above zero.
        piston_diameter: Piston where its maker says to measure it [in], above zero.
    Returns:
        Clearance on the diameter [in]; negative: the piston does not go in.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Bore − piston, both at the same temperature. Common practice.
    Examples:
        >>> piston_clearance(4.0300, 4.0255)
        0.0045
    """
    return plain(require("bore", bore) - require("piston_diameter", piston_diameter))


def bearing_clearance(bearing_bore: Numbers, journal: Numbers) -> Numbers:
    """Oil clearance of a bearing, on the diameter.

    Args:
        bearing_bore: Bore of the bearing, bolted up, square to the split [in], above zero.
        journal: Journal diameter [in], above zero.
    Returns:
        Clearance on the diameter [in]; negative: the bearing pinches.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Bore − journal. Common practice.
    Examples:
        >>> bearing_clearance(2.4520, 2.4495)
        0.0025
    """
    return plain(require("bearing_bore", bearing_bore) - require("journal", journal))


def bearing_bore_from_shells(housing_bore: Numbers, shell_thickness: Numbers) -> Numbers:
    """Bore of a bearing from its housing and its shells, where it cannot be reached with a gauge.

    Args:
        housing_bore: Bore of the housing, bolted up without shells [in], above zero.
        shell_thickness: One shell at its crown [in], above zero.
    Returns:
        Bore of the bearing [in].
    Raises:
        GeometryError: A number out of range, or shells that fill the housing.
    Notes:
        Housing − two shells. The crush of the shells stretches the housing a little: a bore measured
        bolted up with shells in outranks it. Common practice.
    Examples:
        >>> bearing_bore_from_shells(2.6410, 0.0945)
        2.4520
    """
    bore = require("housing_bore", housing_bore) - 2.0 * require("shell_thickness", shell_thickness)
    if np.any(np.asarray(bore) <= 0.0):
        raise GeometryError(
            "the shells fill the whole housing",
            where="shell_thickness",
            right="give the thickness of one shell at its crown",
        )
    return plain(bore)


def mean_piston_speed(stroke: Numbers, rpm: Numbers) -> Numbers:
    """Mean speed of the piston.

    Args:
        stroke: Stroke [in], above zero.
        rpm: Engine speed [rpm], above zero.
    Returns:
        Speed [ft/min].
    Raises:
        GeometryError: A number out of range.
    Notes:
        Two strokes each turn: stroke × rpm / 6. Pulkrabek, Engineering Fundamentals of the Internal
        Combustion Engine, chapter 2.
    Examples:
        >>> mean_piston_speed(3.5, 7000.0)
        4083.33
    """
    return plain(require("stroke", stroke) * require("rpm", rpm) / 6.0)


def _round_volume(diameter: Numbers, height: Numbers) -> Numbers:
    return 0.25 * math.pi * diameter**2 * height
