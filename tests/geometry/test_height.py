import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import (
    gauge_step,
    height_from_gauge,
    height_from_top,
    height_from_underside,
    pack_for_rise,
    reading_to_expect,
    rise_needed,
    sideways_shift,
    square_at_for_height,
    target_height,
    top_of_shaft,
)

ARM = RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35)


# Target. Hand-worked from H = r - k S with r = 0.25, S = 0.75.


@pytest.mark.parametrize(("square_at", "height"), [(0.0, 0.25), (0.5, -0.125), (1.0, -0.5)])
def test_the_target_falls_as_the_arm_is_to_be_square_later(square_at, height):
    assert target_height(ARM, 0.75, square_at) == pytest.approx(height, abs=1e-15)


def test_the_top_of_the_shaft_is_a_radius_above_its_centre():
    # Hand-worked: -0.125 + 0.35.
    assert top_of_shaft(ARM, 0.75) == pytest.approx(0.225, abs=1e-15)


def test_more_lift_wants_a_lower_shaft_by_half_of_it():
    # Hand-worked: 0.100 more lift, square at half: 0.050 lower.
    assert target_height(ARM, 0.85) - target_height(ARM, 0.75) == pytest.approx(-0.050, abs=1e-15)


@pytest.mark.parametrize("lift", [0.0, -0.5, float("nan")])
def test_the_target_refuses_a_lift_that_is_none(lift):
    with pytest.raises(GeometryError, match="net lift"):
        target_height(ARM, lift)


@pytest.mark.parametrize(("lift", "square_at"), [(3.0, 0.5), (1.5, 0.0), (1.5, 1.0)])
def test_the_target_refuses_a_lift_at_the_end_of_reach(lift, square_at):
    with pytest.raises(GeometryError, match="cannot reach"):
        target_height(ARM, lift, square_at)


@pytest.mark.parametrize(("lift", "square_at"), [(2.999, 0.5), (1.499, 0.0), (1.499, 1.0)])
def test_the_target_takes_a_lift_just_within_reach(lift, square_at):
    assert np.isfinite(target_height(ARM, lift, square_at))


def test_reach_is_judged_valve_by_valve():
    # The longest lift and the most lopsided square_at are on different valves: both are in reach.
    assert target_height(ARM, np.array([2.0, 1.0]), np.array([0.5, 1.0])).shape == (2,)


# Gauge


def test_a_gauge_for_this_lift_that_just_touches_shows_the_target():
    height = height_from_gauge(ARM, step=gauge_step(ARM, 0.75), gap=0.0)
    assert height == pytest.approx(target_height(ARM, 0.75), abs=1e-15)


def test_a_gap_means_the_shaft_is_low():
    height = height_from_gauge(ARM, step=gauge_step(ARM, 0.75), gap=0.020)
    assert rise_needed(ARM, 0.75, height) == pytest.approx(0.020, abs=1e-15)


def test_a_feeler_that_fits_under_the_foot_means_the_shaft_is_high():
    height = height_from_gauge(ARM, step=gauge_step(ARM, 0.75), gap=0.0, foot_feeler=0.012)
    assert rise_needed(ARM, 0.75, height) == pytest.approx(-0.012, abs=1e-15)


def test_the_gauges_own_rule_for_another_lift():
    # Hand-worked: rise = gap - feeler - k (S - S0) = 0.040 - 0.005 - 0.5 x 0.05 = 0.010.
    height = height_from_gauge(ARM, step=gauge_step(ARM, 0.70), gap=0.040, foot_feeler=0.005)
    assert rise_needed(ARM, 0.75, height) == pytest.approx(0.010, abs=1e-15)


def test_a_thinner_dummy_shaft_leaves_a_wider_gap_at_the_same_centre():
    # Hand-worked: a dummy 0.050 less in radius has its top 0.050 lower.
    real = height_from_gauge(ARM, step=0.225, gap=0.010)
    assert height_from_gauge(ARM, step=0.225, gap=0.060, dummy_radius=0.30) == pytest.approx(real, abs=1e-15)


@pytest.mark.parametrize("reading", [{"gap": -0.001}, {"gap": 0.0, "foot_feeler": -0.001}])
def test_a_gauge_refuses_a_blade_below_nothing(reading):
    with pytest.raises(GeometryError, match="zero or more"):
        height_from_gauge(ARM, step=0.225, **reading)


def test_a_gauge_refuses_a_dummy_without_radius():
    with pytest.raises(GeometryError, match="dummy shaft"):
        height_from_gauge(ARM, step=0.225, gap=0.0, dummy_radius=0.0)


def test_a_depth_reading_to_top_and_to_underside_agree():
    # Hand-worked: top 0.225, and the underside a diameter of 0.70 below it.
    assert height_from_top(ARM, 0.225) == pytest.approx(-0.125, abs=1e-15)
    assert height_from_underside(ARM, 0.225 - 0.70) == pytest.approx(-0.125, abs=1e-15)


# What to read


def test_more_lift_than_the_gauges_leaves_a_gap():
    # Hand-worked: half of 0.050.
    expected = reading_to_expect(ARM, 0.75, gauge_step(ARM, 0.70))
    assert (expected.gap, expected.foot_feeler) == (pytest.approx(0.025, abs=1e-15), 0.0)


def test_less_lift_than_the_gauges_asks_a_feeler():
    expected = reading_to_expect(ARM, 0.65, gauge_step(ARM, 0.70))
    assert (expected.gap, expected.foot_feeler) == (0.0, pytest.approx(0.025, abs=1e-15))


def test_the_gauges_own_lift_wants_a_touch():
    expected = reading_to_expect(ARM, 0.75, gauge_step(ARM, 0.75))
    assert (expected.gap, expected.foot_feeler) == (0.0, 0.0)


def test_what_to_read_is_what_reads_right():
    lift = np.array([0.55, 0.70, 0.85])
    expected = reading_to_expect(ARM, lift, 0.24, dummy_radius=0.36)
    height = height_from_gauge(
        ARM, step=0.24, gap=expected.gap, foot_feeler=expected.foot_feeler, dummy_radius=0.36
    )
    np.testing.assert_allclose(rise_needed(ARM, lift, height), 0.0, atol=1e-15)


# Packs


def test_on_a_straight_pad_the_pack_is_the_rise():
    assert pack_for_rise(0.024) == 0.024


def test_a_tilted_pad_takes_a_thicker_pack():
    # Hand-worked: 0.010 / cos 45 = 0.010 x 1.41421356.
    assert pack_for_rise(0.010, 45.0) == pytest.approx(0.0141421356, abs=5e-11)
    assert pack_for_rise(0.010, -45.0) == pytest.approx(0.0141421356, abs=5e-11)


def test_the_pack_in_place_stays_in_the_sum():
    assert pack_for_rise(-0.006, pack_in_place=0.010) == pytest.approx(0.004, abs=1e-15)


def test_a_stand_that_is_too_high_without_shims_comes_out_negative():
    assert pack_for_rise(-0.016, pack_in_place=0.010) == pytest.approx(-0.006, abs=1e-15)


@pytest.mark.parametrize("tilt", [-45.001, 45.001])
def test_a_pad_tilted_past_sense_is_refused(tilt):
    with pytest.raises(GeometryError, match="from -45 to 45"):
        pack_for_rise(0.010, tilt)


def test_a_shim_carries_the_shaft_the_way_the_pad_leans():
    # Hand-worked: sin 30 is a half.
    assert sideways_shift(0.100, 30.0) == pytest.approx(0.050, abs=1e-15)
    assert sideways_shift(0.100, -30.0) == pytest.approx(-0.050, abs=1e-15)
    assert sideways_shift(0.100, 0.0) == 0.0


def test_pack_and_shift_are_the_two_sides_of_one_triangle():
    rise, tilt = 0.030, 12.0
    thickness = pack_for_rise(rise, tilt)
    assert np.hypot(rise, sideways_shift(thickness, tilt)) == pytest.approx(thickness, rel=1e-14)


# Where the arm stands square. Hand-worked from k = (r - H) / S with r = 0.25, S = 0.75.


@pytest.mark.parametrize(
    ("height", "square_at"),
    [(-0.125, 0.5), (-0.14, 0.52), (-0.11, 0.48), (0.25, 0.0), (-0.5, 1.0), (0.325, -0.1)],
)
def test_a_low_shaft_stands_the_arm_square_late(height, square_at):
    assert square_at_for_height(ARM, 0.75, height) == pytest.approx(square_at, abs=1e-14)


@pytest.mark.parametrize("square_at", [0.0, 0.3, 0.5, 1.0])
def test_the_target_and_where_it_is_square_are_one_another_back(square_at):
    height = target_height(ARM, 0.75, square_at)
    assert square_at_for_height(ARM, 0.75, height) == pytest.approx(square_at, abs=1e-14)


@pytest.mark.parametrize("height", [1.75, -2.0])
def test_a_shaft_from_which_the_arm_cannot_reach_is_refused(height):
    with pytest.raises(GeometryError, match="cannot reach"):
        square_at_for_height(ARM, 0.75, height)
