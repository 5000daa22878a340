"""What a spring's wire says of it: rate, solid height, weight, surge, stress. Round wire, constant pitch."""

import math

import numpy as np

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import Numbers, plain, require

# Standard gravity 9.80665 m/s², exact, in inches.
GRAVITY = 9.80665 / 0.0254
# Weight of spring steel [lb/in³]. Common textbook value.
STEEL_DENSITY = 0.284


def rate_from_wire(
    *, shear_modulus: Numbers, wire_diameter: Numbers, coil_diameter: Numbers, active_coils: Numbers
) -> Numbers:
    """Rate of a coil spring of round wire from its dimensions.

    Args:
        shear_modulus: Shear modulus G of the wire [psi], above zero.
        wire_diameter: Wire diameter d [in], above zero.
        coil_diameter: Mean coil diameter D, outside less one wire [in], above the wire's.
        active_coils: Coils that are free to move, Na [-], above zero.
    Returns:
        Rate k [lbf/in].
    Raises:
        GeometryError: A number out of range, or a coil no wider than its wire.
    Notes:
        k = G·d⁴ / (8·D³·Na). Shigley, Mechanical Engineering Design, eq. 10-9.
    Examples:
        >>> rate_from_wire(shear_modulus=11.85e6, wire_diameter=0.037, coil_diameter=0.4, active_coils=10.5)
        4.131
    """
    wire, coil = _wire_and_coil(wire_diameter, coil_diameter)
    turns = require("active_coils", active_coils)
    return plain(require("shear_modulus", shear_modulus) * wire**4 / (8.0 * coil**3 * turns))


def solid_height(wire_diameter: Numbers, total_coils: Numbers, *, ground: bool = True) -> Numbers:
    """Height of a spring with all its coils touching.

    Args:
        wire_diameter: Wire diameter d [in], above zero.
        total_coils: All coils, dead ones at the ends included, Nt [-], above zero.
        ground: Whether the ends are ground flat [-], as those of valve springs are.
    Returns:
        Solid height [in].
    Raises:
        GeometryError: A number out of range.
    Notes:
        d·Nt with ground ends, d·(Nt + 1) without. Shigley, Mechanical Engineering Design, table 10-1 (from
        memory). A spring measured solid outranks it: coating and cant take room.
    Examples:
        >>> solid_height(0.2, 6.5)
        1.3
    """
    coils = require("total_coils", total_coils) + (0.0 if ground else 1.0)
    return plain(require("wire_diameter", wire_diameter) * coils)


def spring_weight(
    *,
    wire_diameter: Numbers,
    coil_diameter: Numbers,
    active_coils: Numbers,
    density: Numbers = STEEL_DENSITY,
) -> Numbers:
    """Weight of the coils that move.

    Args:
        wire_diameter: Wire diameter d [in], above zero.
        coil_diameter: Mean coil diameter D [in], above the wire's.
        active_coils: Coils that are free to move, Na [-], above zero.
        density: Weight of the wire γ [lb/in³], above zero; left out: spring steel.
    Returns:
        Weight W [lb].
    Raises:
        GeometryError: A number out of range, or a coil no wider than its wire.
    Notes:
        W = π²·d²·D·Na·γ / 4, the pitch left out of the wire's length. Shigley, Mechanical Engineering
        Design, section 10-8.
    Examples:
        >>> spring_weight(wire_diameter=0.092, coil_diameter=0.4705, active_coils=21.0)
        0.0586
    """
    wire, coil = _wire_and_coil(wire_diameter, coil_diameter)
    turns = require("active_coils", active_coils)
    return plain(0.25 * math.pi**2 * wire**2 * coil * turns * require("density", density))


def surge_frequency(spring_rate: Numbers, spring_weight: Numbers) -> Numbers:
    """Lowest frequency at which a spring held at both ends rings.

    Args:
        spring_rate: Rate k [lbf/in], above zero.
        spring_weight: Weight W of the coils that move [lb], above zero.
    Returns:
        Frequency [Hz].
    Raises:
        GeometryError: A number out of range.
    Notes:
        f = ½·√(k·g / W), both ends always in contact, as a valve spring's are. Shigley, Mechanical
        Engineering Design, section 10-8. A spring should ring well above the engine's firing: the same book
        asks for fifteen to twenty times.
    Examples:
        >>> surge_frequency(48.1, 0.0586)
        281.4
    """
    return plain(
        0.5 * np.sqrt(require("rate", spring_rate) * GRAVITY / require("spring_weight", spring_weight))
    )


def load_for_stress(shear_stress: Numbers, *, wire_diameter: Numbers, coil_diameter: Numbers) -> Numbers:
    """Load that stresses the wire of a spring to a given figure.

    Args:
        shear_stress: Torsional stress S without the correction for curvature [psi], zero or more.
        wire_diameter: Wire diameter d [in], above zero.
        coil_diameter: Mean coil diameter D [in], above the wire's.
    Returns:
        Load P [lbf].
    Raises:
        GeometryError: A number out of range, or a coil no wider than its wire.
    Notes:
        P = π·S·d³ / (8·D). Machinery's Handbook, 31st ed., compression springs, table 5.
    Examples:
        >>> load_for_stress(100_000.0, wire_diameter=0.072, coil_diameter=0.928)
        15.80
    """
    wire, coil = _wire_and_coil(wire_diameter, coil_diameter)
    return plain(math.pi * require("shear_stress", shear_stress) * wire**3 / (8.0 * coil))


def deflection_per_coil(
    shear_stress: Numbers, *, wire_diameter: Numbers, coil_diameter: Numbers, shear_modulus: Numbers
) -> Numbers:
    """How far each active coil gives when the wire is stressed to a given figure.

    Args:
        shear_stress: Torsional stress S without the correction for curvature [psi], zero or more.
        wire_diameter: Wire diameter d [in], above zero.
        coil_diameter: Mean coil diameter D [in], above the wire's.
        shear_modulus: Shear modulus G of the wire [psi], above zero.
    Returns:
        Deflection f of one coil [in].
    Raises:
        GeometryError: A number out of range, or a coil no wider than its wire.
    Notes:
        f = π·S·D² / (G·d). Machinery's Handbook, 31st ed., compression springs, table 5.
    Examples:
        >>> deflection_per_coil(100_000.0, wire_diameter=0.072, coil_diameter=0.928, shear_modulus=11.2e6)
        0.336
    """
    wire, coil = _wire_and_coil(wire_diameter, coil_diameter)
    stress = require("shear_stress", shear_stress)
    return plain(math.pi * stress * coil**2 / (require("shear_modulus", shear_modulus) * wire))


def _wire_and_coil(wire_diameter: Numbers, coil_diameter: Numbers) -> tuple[Numbers, Numbers]:
    wire = require("wire_diameter", wire_diameter)
    coil = require("coil_diameter", coil_diameter)
    if np.any(np.asarray(coil <= wire)):
        raise GeometryError(
            "the coil is no wider than its wire",
            where="coil_diameter",
            right="give the mean diameter: outside less one wire",
        )
    return wire, coil
