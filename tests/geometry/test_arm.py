import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm, arm_angle, require_reach
from valvetrain.geometry.errors import GeometryError

ARM = RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35)


@pytest.mark.parametrize("name", ["length", "tip_radius", "shaft_radius"])
@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_it_refuses_a_rocker_without_size(name, bad):
    sizes = {"length": 1.5, "tip_radius": 0.25, "shaft_radius": 0.35, name: bad}
    with pytest.raises(GeometryError, match=name.replace("_", " ").replace("length", "arm length")):
        RockerArm(**sizes)


def test_a_rocker_cannot_be_changed():
    with pytest.raises(AttributeError, match="length"):
        ARM.length = 2.0


def test_the_arm_is_square_when_the_roller_is_level_with_the_shaft():
    # Hand-worked: H = -0.125 puts the roller centre, 0.25 - s, level at s = 0.375.
    assert arm_angle(ARM, -0.125, 0.375) == 0.0


def test_closed_the_roller_stands_above_and_open_below():
    # Hand-worked: asin(0.375 / 1.5) = asin(1/4) = 14.4775 degrees.
    assert arm_angle(ARM, -0.125, 0.0) == pytest.approx(14.4775, abs=5e-5)
    assert arm_angle(ARM, -0.125, 0.75) == pytest.approx(-14.4775, abs=5e-5)


def test_a_shaft_raised_turns_the_roller_down():
    assert arm_angle(ARM, -0.100, 0.0) < arm_angle(ARM, -0.125, 0.0)


def test_thirty_degrees_by_hand():
    # Hand-worked: the roller 0.75 above square on an arm of 1.5 is a sine of one half.
    assert arm_angle(ARM, -0.5, 0.0) == pytest.approx(30.0, abs=1e-12)


def test_many_lifts_at_once():
    angles = arm_angle(ARM, np.array([[-0.125], [-0.1]]), np.linspace(0.0, 0.75, 4))
    assert angles.shape == (2, 4)


@pytest.mark.parametrize("height", [1.75, -1.25])
def test_the_end_of_reach_is_out(height):
    with pytest.raises(GeometryError, match="cannot reach"):
        arm_angle(ARM, height, 0.0)


@pytest.mark.parametrize("height", [1.7499, -1.2499])
def test_just_inside_reach_is_in(height):
    assert 89.0 < abs(arm_angle(ARM, height, 0.0)) < 90.0


def test_reach_of_no_valves_is_no_error():
    assert require_reach(ARM, np.array([])) is None
