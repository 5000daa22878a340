"""Displacement, compression and piston speed against printed examples."""

import math

import pytest

from valvetrain.geometry.engine_block import compression_ratio, displacement, mean_piston_speed
from valvetrain.geometry.units import mm_to_inch

METRES_PER_FOOT = 0.3048
CC_PER_CUBIC_INCH = 16.387064


def test_the_navys_engine():
    # Published: NAVEDTRA 14264, chapter 2: bore 3.5, stroke 4: 38.43 and 307.44 in³, rounded on the way.
    assert displacement(3.5, 4.0) == pytest.approx(38.43, rel=0.002)
    assert displacement(3.5, 4.0, cylinders=8) == pytest.approx(307.44, rel=0.002)


def test_the_trades_factor_for_swept_volume():
    # Published on hobby pages: bore² x stroke x 12.8704 gives cc.
    assert displacement(1.0, 1.0) * CC_PER_CUBIC_INCH == pytest.approx(12.8704, abs=5e-5)


# Published: Pulkrabek, Engineering Fundamentals of the Internal Combustion Engine, example 2-1 (from
# memory): a square six of 3.0 L at 3600 rpm, 9.5 to 1: bore 8.60 cm, 59 cc left, 10.32 m/s.
BORE_MM, CLEARANCE_CC, RATIO, SPEED = 86.0, 59.0, 9.5, 10.32


def test_the_textbooks_bore():
    bore = mm_to_inch(BORE_MM)
    assert displacement(bore, bore, cylinders=6) * CC_PER_CUBIC_INCH == pytest.approx(3000.0, rel=0.002)


def test_the_textbooks_compression():
    # All that is left above the piston as chamber.
    bore = mm_to_inch(BORE_MM)
    ratio = compression_ratio(
        bore=bore,
        stroke=bore,
        chamber_volume=CLEARANCE_CC,
        gasket_bore=bore,
        gasket_thickness=0.0,
        deck_clearance=0.0,
    )
    assert ratio == pytest.approx(RATIO, abs=0.05)


def test_the_textbooks_piston_speed():
    feet_a_minute = mean_piston_speed(mm_to_inch(BORE_MM), 3600.0)
    assert feet_a_minute * METRES_PER_FOOT / 60.0 == pytest.approx(SPEED, abs=0.005)


def test_the_compression_of_plain_volumes():
    # Independent method: cylinders cut out with a different formula, area times height.
    area = math.pi * 2.0**2
    above = 60.0 / CC_PER_CUBIC_INCH + area * (0.04 + 0.01) + 5.0 / CC_PER_CUBIC_INCH
    ratio = compression_ratio(
        bore=4.0,
        stroke=3.5,
        chamber_volume=60.0,
        gasket_bore=4.0,
        gasket_thickness=0.04,
        deck_clearance=0.01,
        crown_volume=-5.0,
    )
    assert ratio == pytest.approx((area * 3.5 + above) / above, rel=1e-12)
