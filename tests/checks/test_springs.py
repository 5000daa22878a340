"""Springs against two handbooks, and the ringing against a chain of masses."""

import math

import numpy as np
import pytest

from valvetrain.geometry.spring_wire import (
    GRAVITY,
    deflection_per_coil,
    load_for_stress,
    rate_from_wire,
    spring_weight,
    surge_frequency,
)

# Published: Machinery's Handbook, 31st ed., compression springs, table 5: outside diameter 1 in, stress
# 100,000 psi, G = 11.2e6 psi: wire, deflection of one coil, load.
TABLE_5 = [(0.072, 0.336, 15.80), (0.0915, 0.253, 33.1), (0.125, 0.1718, 87.6), (0.162, 0.1216, 198.8)]
HANDBOOK_TOLERANCE = 0.003


def _stressed(outside, wire):
    coil = {"wire_diameter": wire, "coil_diameter": outside - wire}
    return deflection_per_coil(100_000.0, shear_modulus=11.2e6, **coil), load_for_stress(100_000.0, **coil)


@pytest.mark.parametrize(("wire", "deflection", "load"), TABLE_5)
def test_the_handbooks_table(wire, deflection, load):
    assert _stressed(1.0, wire) == pytest.approx((deflection, load), rel=HANDBOOK_TOLERANCE)


def test_the_handbooks_worked_design():
    # Published: Machinery's Handbook, 31st ed., pp. 318-319: outside 13/16 in, wire .0915 in.
    assert _stressed(13 / 16, 0.0915) == pytest.approx((0.1594, 41.7), rel=HANDBOOK_TOLERANCE)


@pytest.mark.parametrize(("wire", "deflection", "load"), TABLE_5)
def test_the_handbooks_table_gives_the_rate(wire, deflection, load):
    # Published, as above: load over deflection is the rate of one active coil.
    rate = rate_from_wire(
        shear_modulus=11.2e6, wire_diameter=wire, coil_diameter=1.0 - wire, active_coils=1.0
    )
    assert rate == pytest.approx(load / deflection, rel=2 * HANDBOOK_TOLERANCE)


def test_shigleys_first_spring():
    # Published: Shigley, Mechanical Engineering Design, example 10-1 (partly from memory): 4.13 lbf/in.
    rate = rate_from_wire(shear_modulus=11.85e6, wire_diameter=0.037, coil_diameter=0.400, active_coils=10.5)
    assert rate == pytest.approx(4.13, rel=0.003)


def test_shigleys_ringing_spring():
    # Published: Shigley, example 10-4 (from memory): 48.1 lbf/in, 281 Hz.
    wire = {"wire_diameter": 0.092, "coil_diameter": 0.4705, "active_coils": 21.0}
    rate = rate_from_wire(shear_modulus=11.75e6, **wire)
    assert rate == pytest.approx(48.1, abs=0.05)
    assert surge_frequency(rate, spring_weight(**wire)) == pytest.approx(281.0, abs=0.5)


def test_the_ringing_of_a_chain_of_masses():
    # Independent method: the spring cut into many equal springs and masses, both ends held.
    rate, weight, parts = 300.0, 0.25, 400
    stiffness, mass = rate * parts, weight / GRAVITY / parts
    chain = 2.0 * np.eye(parts - 1) - np.eye(parts - 1, k=1) - np.eye(parts - 1, k=-1)
    lowest = np.linalg.eigvalsh(chain * stiffness / mass)[0]
    assert surge_frequency(rate, weight) == pytest.approx(math.sqrt(lowest) / (2 * math.pi), rel=1e-4)
