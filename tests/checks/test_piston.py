"""The piston against a textbook example and against the crank drawn as it stands."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from valvetrain.geometry.piston import piston_drop

# Published: Pulkrabek, Engineering Fundamentals of the Internal Combustion Engine, example 2-1 (from memory):
# a 3.0 L square V6 at 3600 rpm, rod 16.6 cm: stroke 8.60 cm, mean piston speed 10.32 m/s, and at 20 degrees
# after the top the piston moves at 0.668 of that, a figure cut there rather than rounded.
STROKE, ROD, RPM, MEAN_SPEED, SHARE_AT_20 = 8.60, 16.6, 3600.0, 10.32, 0.668


def test_pulkrabeks_stroke():
    # Hand-worked from the displacement: six cylinders with bore and stroke alike.
    assert (4 * 3000.0 / 6 / math.pi) ** (1 / 3) == pytest.approx(STROKE, abs=0.005)


def test_pulkrabeks_mean_piston_speed():
    down = piston_drop(180.0, stroke=STROKE, rod_length=ROD) - piston_drop(0.0, stroke=STROKE, rod_length=ROD)
    assert 2 * down * RPM / 60 / 100 == pytest.approx(MEAN_SPEED, abs=0.005)


def test_pulkrabeks_speed_at_twenty_degrees():
    # Taken as a difference quotient of the position.
    step = 1e-3
    down = piston_drop(20.0 + step, stroke=STROKE, rod_length=ROD) - piston_drop(
        20.0 - step, stroke=STROKE, rod_length=ROD
    )
    speed = down / (2 * step) * 360.0
    assert speed / (2 * STROKE) == pytest.approx(SHARE_AT_20, abs=0.001)


@given(st.floats(-360.0, 360.0), st.floats(2.0, 6.0), st.floats(0.55, 3.0))
def test_the_crank_drawn_as_it_stands(angle, stroke, rod_ratio):
    # Independent method: the wrist pin's height at which the rod has its length, searched for.
    throw, rod = stroke / 2, stroke * rod_ratio
    pin = (throw * math.sin(math.radians(angle)), throw * math.cos(math.radians(angle)))
    height = brentq(lambda y: math.hypot(pin[0], y - pin[1]) - rod, pin[1], pin[1] + 2 * rod, xtol=1e-14)
    assert piston_drop(angle, stroke=stroke, rod_length=rod) == pytest.approx(throw + rod - height, abs=1e-11)
