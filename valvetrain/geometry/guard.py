"""What each quantity may be. Every public function checks its numbers here before it reckons."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.errors import GeometryError

Numbers = float | NDArray[np.float64]


@dataclass(frozen=True)
class _Range:
    words: str
    unit: str
    right: str
    low: float = -math.inf
    high: float = math.inf
    low_allowed: bool = True

    def holds(self, low: float, high: float) -> bool:
        """Whether everything from low to high may be; NaN fails every comparison, so it may not."""
        above = low >= self.low if self.low_allowed else low > self.low
        return above and high <= self.high and math.isfinite(low) and math.isfinite(high)


def _above_zero(words: str, unit: str = "in") -> _Range:
    return _Range(words, unit, "it must be above zero", low=0.0, low_allowed=False)


def _not_below_zero(words: str, unit: str = "in") -> _Range:
    return _Range(words, unit, "it must be zero or more", low=0.0)


def _any(words: str, unit: str = "in") -> _Range:
    return _Range(words, unit, "it must be a finite number")


_CAM_ANGLE = "it must lie from -180 to 180 degrees; past the centre named it is negative"


def _cam_angle(words: str) -> _Range:
    return _Range(words, "deg", _CAM_ANGLE, low=-180.0, high=180.0)


_RANGES = {
    "length": _above_zero("arm length"),
    "tip_radius": _above_zero("tip radius"),
    "shaft_radius": _above_zero("shaft radius"),
    "dummy_radius": _above_zero("dummy shaft's radius"),
    "lift": _above_zero("net lift"),
    "reference_lift": _above_zero("gauge's reference lift"),
    "lift_now": _not_below_zero("lift now"),
    "square_at": _Range("square at", "of the lift", "it must lie from 0 to 1; half lift is 0.5", 0.0, 1.0),
    "shaft_height": _any("shaft height"),
    "height_now": _any("shaft height now"),
    "height_error": _any("height error"),
    "step": _any("gauge step"),
    "gap": _not_below_zero("gap over the shaft"),
    "foot_feeler": _not_below_zero("feeler under the foot"),
    "reading": _any("reading"),
    "rise": _any("rise"),
    "pad_tilt": _Range("pad tilt", "deg", "it must lie from -45 to 45 degrees", -45.0, 45.0),
    "pack_in_place": _not_below_zero("pack in place"),
    "thickness": _any("pack"),
    "piece": _above_zero("shim thickness"),
    "tolerance": _not_below_zero("limit"),
    "shaft_offset": _above_zero("shaft to valve axis"),
    "width": _above_zero("mark width"),
    "inner": _any("inner edge"),
    "outer": _any("outer edge"),
    "closed": _any("contact with the valve closed"),
    "open_": _any("contact at full lift"),
    "move": _any("move across"),
    "slide": _any("slide"),
    "hole_diameter": _above_zero("hole's diameter"),
    "rim_diameter": _above_zero("rim's diameter"),
    "rim_diameter_standard": _not_below_zero("uncertainty of the rim's diameter"),
    "pixel": _above_zero("size of a pixel", "px"),
    "viewing_distance": _Range("viewing distance", "diameters of the rim", "it must be 2 or more", low=2.0),
    "aim": _Range("aim", "deg", "it must lie from 0 to 45 degrees", 0.0, 45.0),
    "rim_below": _not_below_zero("depth of the rim below the face"),
    "rim_below_standard": _not_below_zero("uncertainty of the rim's depth"),
    "bolt_length": _above_zero("bolt length"),
    "bolt_diameter": _above_zero("bolt diameter"),
    "washer": _not_below_zero("washer"),
    "stand_thickness": _above_zero("stand thickness at the bolt"),
    "pack": _not_below_zero("pack"),
    "tapped_depth": _above_zero("tapped depth"),
    "multiple": _above_zero("engagement asked for", "bolt diameters"),
    "lobe_lift": _above_zero("lobe lift"),
    "ratio": _above_zero("rocker ratio", ""),
    "lash": _not_below_zero("lash"),
    "opening_btdc": _cam_angle("opening"),
    "opening_bbdc": _cam_angle("opening"),
    "closing_abdc": _cam_angle("closing"),
    "closing_atdc": _cam_angle("closing"),
    "centreline": _cam_angle("centreline"),
    "card_figure": _any("card's number", "deg"),
    "cup_radius": _above_zero("cup radius"),
    "cup_angle": _Range(
        "cup angle", "deg", "it must lie from 90 to 270 degrees; straight across is 180", 90.0, 270.0
    ),
    "cup_offset": _any("cup's place along the shaft"),
    "axis_angle": _Range("cup axis", "deg", "it must lie from -180 to 180 degrees", -180.0, 180.0),
    "lifter_point": _any("lifter's place"),
    "lifter_direction": _any("lifter's direction", ""),
    "lifter_lift": _not_below_zero("lifter lift"),
    "pushrod_length": _above_zero("pushrod length"),
    "overall_length": _above_zero("pushrod's overall length"),
    "end_allowance": _any("allowance of a pushrod end"),
    "ball_radius": _above_zero("ball radius"),
    "hole_radius": _not_below_zero("hole's radius"),
    "cup_depth": _above_zero("depth of the cup"),
    "closed_angle": _Range(
        "arm angle at closed", "deg", "it must lie within 90 degrees of square", -90.0, 90.0
    ),
    "loop_factor": _any("factor of the loop", ""),
    "measured_lobe": _not_below_zero("lobe lift"),
    "measured_valve": _not_below_zero("valve lift"),
    "max_lift": _above_zero("lobe's most lift"),
    "card_lift": _above_zero("lift that a duration is read at"),
    "card_duration": _Range(
        "duration", "deg", "it must lie above 0 and below 720 degrees", 1e-6, 720.0 - 1e-6
    ),
    "crank_angle": _any("crank angle", "deg"),
    "nose_at": _Range("place of most lift", "deg", "it must lie from -360 to 360 degrees", -360.0, 360.0),
    "ramp": _above_zero("ramp", "deg"),
    "table_angle": _any("angle in the table", "deg"),
    "table_lift": _any("lift in the table"),
    "smoothing": _not_below_zero("smoothing"),
    "rpm": _above_zero("engine speed", "rpm"),
    "grams": _not_below_zero("weight", "g"),
    "pounds": _not_below_zero("weight", "lb"),
    "mass": _not_below_zero("moving mass", "lbf·s²/in"),
    "acceleration": _any("acceleration", "in/s²"),
    "seat_load": _not_below_zero("seat load", "lbf"),
    "spring_rate": _not_below_zero("spring rate", "lbf/in"),
    "rod_length": _above_zero("rod length"),
    "stroke": _above_zero("stroke"),
    "deck_clearance": _any("deck clearance"),
    "gasket_thickness": _not_below_zero("gasket thickness"),
    "valve_recess": _any("valve above the deck"),
    "pocket_depth": _not_below_zero("pocket depth"),
    "valve_angle": _Range("valve angle", "deg", "it must lie from 0 to 60 degrees", 0.0, 60.0),
    "pocket_angle": _Range("pocket angle", "deg", "it must lie from 0 to 60 degrees", 0.0, 60.0),
    "valve_lift": _not_below_zero("valve lift"),
    "inertia_load": _any("inertia load", "lbf"),
    "tip_load": _not_below_zero("load at the tip", "lbf"),
    "roller_radius": _above_zero("roller radius"),
    "contact_width": _above_zero("width of the contact"),
    "modulus": _above_zero("modulus of elasticity", "psi"),
    "poisson": _Range("Poisson's ratio", "", "it must lie from 0 to 0.5", 0.0, 0.5),
    "cylinder_pressure": _not_below_zero("cylinder pressure", "psi"),
    "head_diameter": _above_zero("valve head diameter"),
    "pushrod_lean": _Range("pushrod's lean", "deg", "it must lie from 0 to below 90 degrees", 0.0, 89.9),
    "load": _not_below_zero("load", "lbf"),
    "open_load": _not_below_zero("open load", "lbf"),
    "wanted_load": _not_below_zero("wanted load", "lbf"),
    "rate": _above_zero("spring rate", "lbf/in"),
    "height": _above_zero("spring height"),
    "installed_height": _above_zero("installed height"),
    "open_height": _above_zero("open height"),
    "solid_height": _above_zero("solid height"),
    "measured_height": _above_zero("measured height"),
    "wanted_height": _above_zero("wanted height"),
    "wire_diameter": _above_zero("wire diameter"),
    "coil_diameter": _above_zero("mean coil diameter"),
    "active_coils": _above_zero("active coils", ""),
    "total_coils": _above_zero("total coils", ""),
    "shear_modulus": _above_zero("shear modulus", "psi"),
    "shear_stress": _not_below_zero("shear stress", "psi"),
    "density": _above_zero("density", "lb/in³"),
    "spring_weight": _above_zero("weight of the active coils", "lb"),
    "lash_reading": _not_below_zero("lash reading"),
    "card_lash": _not_below_zero("card's lash"),
    "part_length": _not_below_zero("length of the part"),
    "warmer_by": _any("change of temperature", "°C"),
    "bore": _above_zero("bore"),
    "chamber_volume": _not_below_zero("chamber volume", "cc"),
    "crown_volume": _any("crown volume", "cc"),
    "gasket_bore": _above_zero("gasket bore"),
    "piston_diameter": _above_zero("piston diameter"),
    "bearing_bore": _above_zero("bearing bore"),
    "housing_bore": _above_zero("housing bore"),
    "shell_thickness": _above_zero("shell thickness"),
    "journal": _above_zero("journal"),
    "resolution": _above_zero("resolution", ""),
    "half_width": _not_below_zero("half width", ""),
    "stated": _not_below_zero("stated uncertainty", ""),
    "coverage": _above_zero("coverage factor", ""),
    "uncertainty": _not_below_zero("uncertainty", ""),
    "value": _any("value", ""),
    "sensitivity": _any("sensitivity", ""),
    "lower": _any("lower limit", ""),
    "upper": _any("upper limit", ""),
    "risk": _Range("risk", "", "it must lie above 0 and up to 0.5", 0.0, 0.5, low_allowed=False),
    "confidence": _Range("level of confidence", "", "it must lie above 0 and below 1", 1e-9, 1.0 - 1e-9),
    "pad_position": _any("pad's place along the stand"),
    "valve_position": _any("valve's place along the stand"),
    "bending": _not_below_zero("bending allowance"),
    "thickness_to_buy": _above_zero("thickness to buy"),
    "finest": _above_zero("finest difference"),
    "seconds": _above_zero("time allowed", "s"),
    "figure_to_convert": _any("number to convert", ""),
}


def require(quantity: str, value: object) -> Numbers:
    """Give the value back as float or float array, or refuse it with a sentence.

    Args:
        quantity: Name of the quantity in the glossary [-].
        value: What came in [the quantity's unit].
    Returns:
        The same numbers as float64.
    Raises:
        GeometryError: Text, NaN, infinity, or a number outside the quantity's range.
    Notes:
        Text is refused even when it reads as a number: converting what was typed is done once,
        exactly, before it gets here. An array is scanned for its least and greatest only.
    Examples:
        >>> require("lift", 0.75)
        0.75
    """
    limits = _RANGES[quantity]
    if isinstance(value, float | int) and not isinstance(value, bool):
        number = float(value)
        if limits.holds(number, number):
            return number
        raise _refusal(quantity, np.asarray(number))
    array = _as_array(quantity, value)
    if array.size and not limits.holds(float(array.min()), float(array.max())):
        raise _refusal(quantity, array)
    return plain(array)


def plain(value: Numbers) -> Numbers:
    """Give a single number as a plain float, an array as it is.

    Args:
        value: A result [any].
    Returns:
        The same, never a numpy scalar or an array without dimensions.
    Examples:
        >>> plain(np.float64(0.5))
        0.5
    """
    return value if isinstance(value, np.ndarray) and value.ndim else float(value)


def scalar(quantity: str, value: object) -> float:
    """As ``require``, for a quantity that must be one number.

    Args:
        quantity: Name of the quantity in the glossary [-].
        value: What came in [the quantity's unit].
    Returns:
        The number.
    Raises:
        GeometryError: As ``require``, and for an array.
    Examples:
        >>> scalar("length", 1.5)
        1.5
    """
    number = require(quantity, value)
    if isinstance(number, float):
        return number
    raise GeometryError(
        f"{_RANGES[quantity].words} is {number.size} numbers", where=quantity, right="give one number"
    )


def _as_array(quantity: str, value: object) -> NDArray[np.float64]:
    array = np.asarray(value)
    # Objects are let through for exact decimals; text, flags and complex numbers are not lengths.
    if array.dtype.kind in "iufO":
        try:
            return array.astype(np.float64, copy=False)
        except (TypeError, ValueError):
            pass
    limits = _RANGES[quantity]
    raise GeometryError(f"{limits.words} is {value!r}, not a number", where=quantity, right=limits.right)


def _refusal(quantity: str, array: NDArray[np.float64]) -> GeometryError:
    limits = _RANGES[quantity]
    flat = array.ravel()
    place = next(i for i, number in enumerate(flat.tolist()) if not limits.holds(number, number))
    bad = float(flat[place])
    what = f"{bad:g} {limits.unit}".rstrip() if math.isfinite(bad) else f"{bad}, not a finite number"
    among = f" (number {place + 1} of {flat.size})" if array.ndim else ""
    return GeometryError(f"{limits.words} is {what}{among}", where=quantity, right=limits.right)
