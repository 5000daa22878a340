from dataclasses import replace

import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm, arm_angle
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.linkage import PushrodLinkage, loop_angle
from valvetrain.geometry.pushrod import measured_ratio

ARM = RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35)
# A straight rocker 1.5 to 1 with its shaft 0.05 below the tip: the roller is level with the shaft at a
# lift of 0.3, and there the cup is too, 1.0 behind the shaft and straight above the lifter.
STRAIGHT = PushrodLinkage(
    ARM,
    shaft_height=-0.05,
    shaft_offset=1.48,
    cup_radius=1.0,
    cup_angle=180.0,
    lifter_point=(-2.48, -8.5, 0.0),
)
# Its pushrod cut to 8.25, so that the lifter's 0.2 brings it just there.
UPRIGHT = replace(STRAIGHT, pushrod_length=8.25)
LEANING = replace(
    STRAIGHT,
    cup_angle=186.0,
    lifter_point=(-2.6, -8.4, 0.25),
    lifter_direction=(0.12, 1.0, -0.05),
    lash=0.016,
)
LIFTS = np.linspace(0.0, 0.45, 19)


def test_with_no_lash_the_valve_starts_with_the_lifter():
    assert STRAIGHT.valve_lift(0.0) == pytest.approx(0.0, abs=1e-15)
    assert STRAIGHT.valve_lift(1e-6) == pytest.approx(1.5e-6, rel=0.03)


def test_the_square_rocker_has_the_ratio_of_its_arms():
    # Hand-worked: the arm is level and the pushrod upright, so 1.5 / 1.0.
    assert UPRIGHT.valve_lift(0.2) == pytest.approx(0.3, abs=1e-12)
    assert UPRIGHT.ratio(0.2) == pytest.approx(1.5, abs=1e-12)
    assert UPRIGHT.arm_angle(0.2) == pytest.approx(0.0, abs=1e-12)
    assert UPRIGHT.pushrod_angle(0.2) == pytest.approx(0.0, abs=1e-12)


def test_its_pushrod_by_hand():
    # Hand-worked: closed, the arm's sine is 0.3 / 1.5 = 0.2, so the cup stands 0.2 below the shaft and
    # the root of 0.96 behind it: 8.25 above the lifter and a little aside.
    assert STRAIGHT.fitted_length == pytest.approx(np.hypot(8.25, 1.0 - np.sqrt(0.96)), abs=1e-12)


def test_the_arm_starts_where_the_stand_height_puts_it():
    assert LEANING.arm_angle(0.0) > arm_angle(ARM, -0.05, 0.0)
    assert replace(LEANING, lash=None).arm_angle(0.0) == pytest.approx(arm_angle(ARM, -0.05, 0.0), abs=1e-12)


def test_the_valve_waits_until_the_lash_is_taken_up():
    waiting = LEANING.valve_lift(np.array([0.0, 0.005, 0.010, 0.012]))
    assert waiting[:3].tolist() == [0.0, 0.0, 0.0]
    assert waiting[3] > 0.0
    assert LEANING.roller_travel(0.0) == pytest.approx(-0.016, abs=1e-15)


def test_lash_comes_off_the_lift_nearly_whole():
    # Common practice: net lift = lobe lift x ratio - lash.
    net = LEANING.valve_lift(0.4)
    assert net == pytest.approx(0.4 * LEANING.ratio_mean(0.4) - 0.016, abs=1e-12)
    assert replace(LEANING, lash=None).valve_lift(0.4) - net == pytest.approx(0.016, abs=2e-3)


def test_the_mean_ratio_lies_among_the_ratios():
    ratios = LEANING.ratio(LIFTS)
    assert ratios.min() < LEANING.ratio_mean(0.45) < ratios.max()


def test_a_mean_over_no_lift_is_refused():
    with pytest.raises(GeometryError, match="lobe lift is 0 in"):
        LEANING.ratio_mean(0.0)


def test_length_and_lash_are_two_sides_of_one_thing():
    fitted = replace(LEANING, lash=None, pushrod_length=LEANING.fitted_length)
    assert fitted.fitted_lash == pytest.approx(0.016, abs=1e-12)
    assert fitted.valve_lift(LIFTS).tolist() == pytest.approx(LEANING.valve_lift(LIFTS).tolist(), abs=1e-12)


def test_a_shorter_pushrod_leaves_lash_by_the_ratio():
    # Hand-worked: near the right length, ratio x shortening over the cosine of the pushrod's angle.
    length = STRAIGHT.fitted_length
    slope = STRAIGHT.ratio(0.0) / np.cos(np.radians(STRAIGHT.pushrod_angle(0.0)))
    assert STRAIGHT.lash_for_length(length - 1e-5) == pytest.approx(1e-5 * slope, rel=1e-4)
    assert STRAIGHT.lash_for_length(length + 1e-5) == pytest.approx(-1e-5 * slope, rel=1e-4)


def test_a_pushrod_that_holds_the_valve_open_is_refused_with_the_right_length():
    with pytest.raises(GeometryError, match=r"holds the valve 0\.03\d+ in open.*8\.2500 in"):
        replace(STRAIGHT, pushrod_length=8.27)


def test_many_lengths_at_once_show_what_an_error_does():
    lash = STRAIGHT.lash_for_length(STRAIGHT.fitted_length + np.array([-0.05, 0.0, 0.05]))
    assert lash[0] > 0.0 > lash[2]
    assert lash[1] == pytest.approx(0.0, abs=1e-12)


def test_a_higher_stand_wants_a_longer_pushrod():
    # The cup rises with the shaft and then again as the arm turns down to the tip: by hand, with the
    # pushrod nearly upright, 1 + 1/1.5 for every inch.
    rise = STRAIGHT.pushrod_length_for(np.array([-0.05, -0.049]))
    assert np.diff(rise)[0] == pytest.approx(0.001 * (1 + 1 / 1.5), rel=0.01)


def test_the_length_for_a_closed_angle_is_that_for_its_height():
    angle = arm_angle(ARM, -0.05, 0.0)
    assert STRAIGHT.pushrod_length_for(closed_angle=angle) == pytest.approx(STRAIGHT.fitted_length, abs=1e-12)


def test_the_length_for_the_stand_as_it_is():
    assert LEANING.pushrod_length_for(lash=0.016) == LEANING.fitted_length


def test_a_height_and_an_angle_together_are_refused():
    with pytest.raises(GeometryError, match="give one of them"):
        STRAIGHT.pushrod_length_for(-0.05, closed_angle=10.0)


def test_a_length_and_a_lash_together_are_refused():
    with pytest.raises(GeometryError, match="both the pushrod's length and the lash"):
        replace(STRAIGHT, pushrod_length=8.2, lash=0.016)


def test_a_cup_along_the_shaft_leans_the_pushrod_in_space():
    # Hand-worked: 8.25 up and 0.6 along the shaft at a lift of 0.2.
    length = float(np.hypot(8.25, 0.6))
    aside = replace(STRAIGHT, cup_offset=0.6, pushrod_length=length)
    assert aside.pushrod_angle(0.2) == pytest.approx(np.degrees(np.arctan2(0.6, 8.25)), abs=1e-12)
    assert aside.valve_lift(0.2) == pytest.approx(0.3, abs=1e-12)


def test_the_pushrod_points_from_lifter_to_rocker():
    directions = LEANING.pushrod_direction(LIFTS)
    assert directions.shape == (19, 3)
    assert np.linalg.norm(directions, axis=-1).tolist() == pytest.approx([1.0] * 19, abs=1e-12)
    assert (directions[:, 1] > 0.9).all()


def test_a_cup_square_below_the_arm_is_tilted_as_the_arm_is():
    # Hand-worked: at 0.2 arm and pushrod both stand true.
    assert UPRIGHT.cup_tilt(0.2, -90.0) == pytest.approx(0.0, abs=1e-12)
    assert UPRIGHT.cup_tilt(0.2, -80.0) == pytest.approx(10.0, abs=1e-12)


def test_the_lifters_way_may_have_any_length():
    assert replace(STRAIGHT, lifter_direction=(0.0, 7.0, 0.0)) == STRAIGHT


def test_a_float_for_a_float_and_shapes_kept():
    assert isinstance(LEANING.valve_lift(0.2), float)
    assert isinstance(LEANING.ratio(0.2), float)
    assert LEANING.valve_lift(LIFTS.reshape(19, 1)).shape == (19, 1)
    assert LEANING.valve_lift(np.array([])).size == 0


def test_many_lifts_in_pieces_are_the_same_lifts():
    many = np.linspace(0.0, 0.45, 3 * 8192 + 5).reshape(1, -1)
    picked = [0, 8191, 8192, 16384, 24580]
    expected = [LEANING.valve_lift(float(many[0, place])) for place in picked]
    assert LEANING.valve_lift(many)[0, picked].tolist() == pytest.approx(expected, abs=1e-15)


@pytest.mark.parametrize("length", [7.0, 12.0])
def test_a_pushrod_that_cannot_join_the_parts_is_refused(length):
    word = "short" if length < 8.0 else "long"
    with pytest.raises(GeometryError, match=f"too {word} to join"):
        STRAIGHT.lash_for_length(length)


def test_a_lifter_that_runs_away_with_the_rocker_is_refused():
    # Hand-worked: the arm lies along the valve axis at a lift of 1.26, shaft, cup and lifter in one
    # line at 1.27.
    with pytest.raises(GeometryError, match="past the valve axis"):
        STRAIGHT.valve_lift(1.265)
    with pytest.raises(GeometryError, match="too long to join"):
        STRAIGHT.valve_lift(1.28)


@pytest.mark.parametrize(
    "wrong",
    [
        {"lifter_direction": (0.0, -1.0, 0.0)},
        {"lifter_point": (-2.48, 8.5, 0.0)},
    ],
)
def test_a_lifter_that_would_close_the_valve_is_refused(wrong):
    with pytest.raises(GeometryError, match="would not open the valve"):
        replace(STRAIGHT, **wrong)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"cup_radius": 0.0}, "cup radius is 0 in"),
        ({"cup_angle": 20.0}, "from 90 to 270"),
        ({"lifter_point": (0.0, 1.0)}, "give x, y and z"),
        ({"lifter_point": (0.0, float("nan"), 1.0)}, "lifter's place"),
        ({"lifter_direction": (0.0, 0.0, 0.0)}, "direction is nothing"),
        ({"lash": -0.01}, r"lash is -0\.01 in"),
        ({"shaft_height": 2.0}, "cannot reach"),
    ],
)
def test_parts_that_cannot_be_are_refused(wrong, says):
    with pytest.raises(GeometryError, match=says):
        replace(STRAIGHT, **wrong)


def test_a_lift_below_the_base_circle_is_refused():
    with pytest.raises(GeometryError, match=r"lifter lift is -0\.1 in"):
        STRAIGHT.valve_lift(-0.1)


@pytest.mark.parametrize(("branch", "angle"), [(1, 60.0), (-1, -60.0)])
def test_a_loop_has_two_answers(branch, angle):
    assert loop_angle(cosine=2.0, sine=0.0, constant=1.0, branch=branch) == pytest.approx(angle, abs=1e-12)


def test_the_two_answers_meet_at_the_end():
    # Hand-worked: cos + sin = root 2 only at 45 degrees.
    assert loop_angle(cosine=3.0, sine=4.0, constant=5.0) == pytest.approx(53.13010235415598, abs=1e-12)


def test_bars_that_cannot_meet_are_refused():
    with pytest.raises(GeometryError, match="cannot meet"):
        loop_angle(cosine=3.0, sine=4.0, constant=5.001)
    with pytest.raises(GeometryError, match="cannot meet"):
        loop_angle(cosine=0.0, sine=0.0, constant=0.0)


def test_a_loop_has_no_third_branch():
    with pytest.raises(GeometryError, match="branch is 0"):
        loop_angle(cosine=1.0, sine=0.0, constant=0.0, branch=0)


def test_the_ratio_of_a_linkage_comes_back_from_its_own_lifts():
    found = measured_ratio(LIFTS, LEANING.valve_lift(LIFTS))
    assert found.ratio == pytest.approx(LEANING.ratio_mean(0.45), abs=0.02)
    # They bend, for the ratio changes through the lift.
    assert 0.001 < np.abs(found.residuals).max() < 0.004
