"""The sweep against published circular segments: radius is the arm length, chord the lift.

The tolerance is half the last printed digit, carried from the chord to the height where the chord is
the printed result.
"""

import math

import pytest

from valvetrain.geometry.arm import RockerArm, arm_angle
from valvetrain.geometry.travel import height_error_from_sweep, sweep


def _arm(length):
    return RockerArm(length=length, tip_radius=0.25, shaft_radius=0.35)


# Published: Machinery's Handbook, 31st ed., p. 79, worked examples on segments.
HANDBOOK_RADIUS, HANDBOOK_HEIGHT, HANDBOOK_CHORD, CHORD_TOLERANCE = 60.0, 8.0, 59.86, 0.01


def test_the_handbooks_chord_of_a_segment():
    slope = 0.5 * (HANDBOOK_CHORD / 2) / (HANDBOOK_RADIUS - HANDBOOK_HEIGHT)
    assert sweep(_arm(HANDBOOK_RADIUS), HANDBOOK_CHORD) == pytest.approx(
        HANDBOOK_HEIGHT, abs=CHORD_TOLERANCE * slope
    )


def test_the_handbooks_chord_as_a_lift_and_a_height_error():
    # The same segment, with its chord split into a lift and twice the height error.
    found = height_error_from_sweep(_arm(HANDBOOK_RADIUS), HANDBOOK_CHORD - 2 * 5.0, HANDBOOK_HEIGHT)
    assert found.magnitude == pytest.approx(5.0, abs=CHORD_TOLERANCE / 2)


def test_the_handbooks_radius_from_chord_and_height():
    # Published: Machinery's Handbook, 31st ed., p. 79: chord 16, height 6, radius 8 1/3.
    assert sweep(_arm(8 + 1 / 3), 16.0) == pytest.approx(6.0, abs=1e-12)


# Published in the handbooks' table of segments for radius 1; the layout is from memory, and the
# values are closed form: chord 2 sin(angle / 2), height 1 - cos(angle / 2).
SEGMENTS_FOR_RADIUS_ONE = [
    (10, 0.1743114855, 0.003805301908),
    (30, 0.5176380902, 0.03407417371),
    (60, 1.0, 0.1339745962),
]


@pytest.mark.parametrize(("angle", "chord", "height"), SEGMENTS_FOR_RADIUS_ONE)
def test_the_table_of_segments_for_radius_one(angle, chord, height):
    assert sweep(_arm(1.0), chord) == pytest.approx(height, abs=1e-9)
    assert chord == pytest.approx(2 * math.sin(math.radians(angle / 2)), abs=5e-11)


def test_a_segment_from_general_mathematics():
    # Published in a general mathematics reference: chord 21, height 6, radius 12.1875.
    assert sweep(_arm(12.1875), 21.0) == pytest.approx(6.0, abs=5e-5)


def test_its_angle():
    # Published beside it: the arc is 118.97953 degrees; the arm turns through it about square.
    arm = _arm(12.1875)
    closed, opened = (arm_angle(arm, arm.tip_radius - 10.5, lift) for lift in (0.0, 21.0))
    assert closed - opened == pytest.approx(118.97953, abs=5e-6)
