"""Contact pressure and reactions against textbook relations and plain statics."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.loads import TITANIUM, Elastic, contact_pressure, linkage_reaction

# A ratio of 0.3 and one modulus: what the rounded factors of the books below were worked for.
BOOK = Elastic(30.0e6, 0.3)
LOAD, RADIUS, WIDTH = 1200.0, 0.235, 0.45


def _contact(roller=BOOK, tip=BOOK):
    return contact_pressure(LOAD, roller_radius=RADIUS, contact_width=WIDTH, roller=roller, tip=tip)


def test_timoshenkos_factors():
    # Published: Timoshenko and Goodier, Theory of Elasticity, contact of cylinders with parallel axes (from
    # memory): pressure 0.418 root(P'E / R), half width 1.52 root(P'R / E).
    line = LOAD / WIDTH
    assert _contact().pressure == pytest.approx(
        0.418 * math.sqrt(line * BOOK.modulus / RADIUS), rel=0.0005 / 0.418
    )
    assert _contact().half_width == pytest.approx(
        1.52 * math.sqrt(line * RADIUS / BOOK.modulus), rel=0.005 / 1.52
    )


def test_roarks_factors():
    # Published: Roark's Formulas for Stress and Strain, cylinder on a flat plate (from memory): greatest stress
    # 0.591 root(pE / D), whole width 2.15 root(pD / E).
    line, diameter = LOAD / WIDTH, 2 * RADIUS
    assert _contact().pressure == pytest.approx(
        0.591 * math.sqrt(line * BOOK.modulus / diameter), rel=0.0005 / 0.591
    )
    width = 2.15 * math.sqrt(line * diameter / BOOK.modulus)
    assert 2 * _contact().half_width == pytest.approx(width, rel=0.005 / 2.15)


def test_shigleys_equations():
    # Independent computation: Shigley, Mechanical Engineering Design, cylindrical contact (from memory):
    # b = root(2F/(pi l) x ((1-v1^2)/E1 + (1-v2^2)/E2) / (1/d1 + 1/d2)), p = 2F / (pi b l), a flat being
    # a cylinder of endless diameter.
    giving = (1 - BOOK.poisson**2) / BOOK.modulus + (1 - TITANIUM.poisson**2) / TITANIUM.modulus
    half = math.sqrt(2 * LOAD / (math.pi * WIDTH) * giving / (1 / (2 * RADIUS) + 0.0))
    found = _contact(tip=TITANIUM)
    assert found.half_width == pytest.approx(half, rel=1e-12)
    assert found.pressure == pytest.approx(2 * LOAD / (math.pi * half * WIDTH), rel=1e-12)


def test_the_half_ellipse_of_pressure_carries_the_load():
    # Independent method: the pressure summed over the contact.
    found = _contact()
    half = found.half_width
    carried = quad(lambda x: found.pressure * math.sqrt(max(1 - (x / half) ** 2, 0.0)), -half, half)[0]
    assert carried * WIDTH == pytest.approx(LOAD, rel=1e-6)
    assert found.mean_pressure == pytest.approx(LOAD / (2 * half * WIDTH), rel=1e-12)


@pytest.mark.parametrize("lift", [0.0, 0.1, 0.25, 0.4])
def test_the_reaction_balances_moments_about_the_shaft(lift):
    # Independent method: the pushrod's load from moments about the shaft instead of from equal work.
    linkage = PushrodLinkage(
        RockerArm(1.5, 0.25, 0.35),
        shaft_height=-0.075,
        shaft_offset=1.48,
        cup_radius=0.95,
        cup_angle=186.0,
        lifter_point=(-2.6, -8.4, 0.25),
        lifter_direction=(0.12, 1.0, -0.05),
        cup_offset=0.1,
    )
    angle = math.radians(linkage.arm_angle(lift))
    cup = 0.95 * np.array([math.cos(angle + math.radians(186.0)), math.sin(angle + math.radians(186.0))])
    rod = linkage.pushrod_direction(lift)
    # A valve pushes the roller up at L cos(angle) in front of the shaft.
    moment = 700.0 * 1.5 * math.cos(angle)
    in_rod = moment / -(cup[0] * rod[1] - cup[1] * rod[0])
    reaction = linkage_reaction(linkage, lift, tip_load=700.0)
    assert reaction.pushrod_load == pytest.approx(in_rod, rel=1e-12)
    whole = in_rod * rod + np.array([0.0, 700.0, 0.0])
    assert (reaction.across, reaction.along, reaction.endways) == pytest.approx(tuple(whole), rel=1e-12)
    assert reaction.total == pytest.approx(np.linalg.norm(whole), rel=1e-12)
    # Trade fact: near load x (1 + ratio) while the forces are near parallel.
    assert reaction.total == pytest.approx(700.0 * (1 + linkage.ratio(lift)), rel=0.03)
