import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.travel import (
    centring_move,
    contact_offsets,
    expected_mark,
    height_error_from_sweep,
    lift_with_height_error,
    sweep,
)

ARM = RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35)
# Hand-worked rocker: 3-4-5 triangles. An arm of 5 with the roller 3 or 4 off square reaches 4 or 3.
TRIANGLE = RockerArm(length=5.0, tip_radius=0.25, shaft_radius=0.35)


# Sweep


def test_set_right_the_sweep_is_from_either_end_to_square():
    assert sweep(TRIANGLE, 6.0) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize("error", [1.0, -1.0])
def test_off_height_the_far_end_decides(error):
    # Hand-worked: a lift of 6, off by 1: the far end is 4 off square, 5 - 3.
    assert sweep(TRIANGLE, 6.0, error) == pytest.approx(2.0, abs=1e-15)


@pytest.mark.parametrize("error", [3.5, -3.5])
def test_past_square_it_runs_from_end_to_end(error):
    # Hand-worked: a lift of 1, off by 3.5: from 3 off square to 4 off, 4 - 3.
    assert sweep(TRIANGLE, 1.0, error) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize("error", [2.0, -2.0])
def test_both_forms_meet_with_square_at_the_end_of_the_lift(error):
    # Hand-worked: a lift of 4, off by 2: from square to 4 off, 5 - 3.
    assert sweep(TRIANGLE, 4.0, error) == pytest.approx(2.0, abs=1e-15)
    assert sweep(TRIANGLE, 4.0, error * 1.000001) == pytest.approx(2.0, abs=1e-5)
    assert sweep(TRIANGLE, 4.0, error * 0.999999) == pytest.approx(2.0, abs=1e-5)


@pytest.mark.parametrize(("square_at", "error"), [(0.0, 0.0), (1.0, 0.0), (0.0, -4.0), (1.0, 4.0)])
def test_square_at_an_end_of_the_lift(square_at, error):
    # Hand-worked: a lift of 4, square at one end, or past it by the whole lift at the other.
    assert sweep(TRIANGLE, 4.0, error, square_at=square_at) == pytest.approx(2.0, abs=1e-15)


def test_square_at_moves_the_least_sweep_off_the_target():
    # Hand-worked: the target for k = 0.25 stands a quarter of the lift above half-lift height.
    assert sweep(TRIANGLE, 6.0, -1.5, square_at=0.25) == pytest.approx(1.0, abs=1e-15)


def test_a_tiny_lift_keeps_its_digits():
    # Hand-worked: (S/2)^2 / 2L to first order; the next term is 1e-13 of it.
    assert sweep(TRIANGLE, 2e-6) == pytest.approx(1e-13, rel=1e-12)


def test_many_valves_at_once():
    assert sweep(ARM, np.array([0.6, 0.7, 0.8]), np.array([[0.0], [0.01]])).shape == (2, 3)


@pytest.mark.parametrize("error", [2.0, -2.0])
def test_the_end_of_reach_is_out(error):
    with pytest.raises(GeometryError, match="cannot reach"):
        sweep(TRIANGLE, 6.0, error)


@pytest.mark.parametrize("error", [1.999999, -1.999999])
def test_just_within_reach_is_in(error):
    assert 4.9 < sweep(TRIANGLE, 6.0, error) < 5.0


# Trace


def test_the_trace_starts_closed_and_ends_open():
    trace = contact_offsets(TRIANGLE, 6.0, points=3)
    np.testing.assert_allclose(trace.lift_now, [0.0, 3.0, 6.0])
    np.testing.assert_allclose(trace.contact, [4.0, 5.0, 4.0])


def test_a_high_shaft_rolls_out_less_than_it_draws_in():
    # Hand-worked: 1 high on a lift of 6: the roller starts 2 above square and ends 4 below it.
    trace = contact_offsets(TRIANGLE, 6.0, height_error=1.0, points=2)
    np.testing.assert_allclose(trace.contact, [np.sqrt(21.0), 3.0])


def test_a_low_shaft_starts_drawn_in_and_does_not_come_all_the_way_back():
    trace = contact_offsets(TRIANGLE, 6.0, height_error=-1.0, points=7)
    assert trace.contact.argmax() == 4
    assert trace.contact[0] == pytest.approx(3.0)
    assert trace.contact[-1] == pytest.approx(np.sqrt(21.0))


def test_from_the_valve_axis_outboard_is_positive():
    trace = contact_offsets(TRIANGLE, 6.0, shaft_offset=4.5, points=3)
    np.testing.assert_allclose(trace.contact, [-0.5, 0.5, -0.5])


def test_a_trace_for_each_valve_has_its_points_last():
    trace = contact_offsets(ARM, np.array([0.6, 0.7]), shaft_offset=np.array([1.47, 1.48]))
    assert trace.contact.shape == trace.lift_now.shape == (2, 181)


@pytest.mark.parametrize("points", [1, 0, 2.0, True])
def test_a_trace_needs_two_points(points):
    with pytest.raises(GeometryError, match="from 2 up"):
        contact_offsets(ARM, 0.75, points=points)


# Expected mark


def test_the_mark_reaches_out_to_the_arm_length():
    mark = expected_mark(TRIANGLE, 6.0, shaft_offset=4.5)
    assert (mark.inner, mark.outer) == (pytest.approx(-0.5), pytest.approx(0.5))


def test_a_mark_that_never_passes_square_falls_short_of_the_arm_length():
    mark = expected_mark(TRIANGLE, 1.0, shaft_offset=3.5, height_error=3.5)
    assert (mark.inner, mark.outer) == (pytest.approx(-0.5), pytest.approx(0.5))


@pytest.mark.parametrize("error", [-1.0, -0.2, 0.0, 0.2, 1.0])
def test_the_mark_is_as_wide_as_the_sweep(error):
    mark = expected_mark(ARM, 0.75, shaft_offset=1.476, height_error=error, square_at=0.4)
    assert mark.outer - mark.inner == pytest.approx(sweep(ARM, 0.75, error, square_at=0.4), abs=1e-15)


# Height from a mark


@pytest.mark.parametrize(("lift", "width", "magnitude"), [(6.0, 1.0, 0.0), (6.0, 2.0, 1.0), (1.0, 1.0, 3.5)])
def test_the_width_of_a_mark_gives_the_height_error(lift, width, magnitude):
    # Hand-worked, the triangles above read backwards.
    assert height_error_from_sweep(TRIANGLE, lift, width).magnitude == pytest.approx(magnitude, abs=1e-14)


def test_a_mark_does_not_tell_high_from_low():
    found = height_error_from_sweep(TRIANGLE, 6.0, 2.0)
    assert (found.if_high, found.if_low) == (pytest.approx(1.0), pytest.approx(-1.0))


def test_with_square_off_half_lift_the_two_answers_are_not_mirror_images():
    # Hand-worked: the target for k = 0.25 is 1.5 above half-lift height; 1 off that, either way.
    found = height_error_from_sweep(TRIANGLE, 6.0, 2.0, square_at=0.25)
    assert (found.if_high, found.if_low) == (pytest.approx(-0.5), pytest.approx(-2.5))
    assert sweep(TRIANGLE, 6.0, found.if_high, square_at=0.25) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("lift", "width", "factor"), [(6.0, 2.0, 3 / 4), (6.0, 1.0, 4 / 3), (1.0, 1.0, 12 / 7)]
)
def test_the_factor_is_inches_of_height_for_an_inch_of_mark(lift, width, factor):
    # Hand-worked: 1 / (4/3), 1 / (3/4), and 1 / (4/3 - 3/4).
    found = height_error_from_sweep(TRIANGLE, lift, width)
    assert found.uncertainty_factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize("error", [0.0, 0.005, 0.374, 0.376, 1.0, 1.12])
def test_sweep_and_back(error):
    found = height_error_from_sweep(ARM, 0.75, sweep(ARM, 0.75, error))
    assert found.magnitude == pytest.approx(error, abs=1e-12)


def test_a_lift_longer_than_the_arm_still_reads_back():
    found = height_error_from_sweep(TRIANGLE, 6.0, sweep(TRIANGLE, 6.0, 1.9))
    assert found.magnitude == pytest.approx(1.9, abs=1e-12)


def test_a_mark_narrower_than_possible_is_refused_with_the_least():
    with pytest.raises(GeometryError, match=r"narrower than this lift can make; the least is 0\.0476 in"):
        height_error_from_sweep(ARM, 0.75, 0.047)


def test_a_mark_wider_than_possible_is_refused():
    # Hand-worked: from along the valve axis, a lift of 2 on an arm of 5: sqrt(25 - 9) = 4.
    with pytest.raises(GeometryError, match=r"wider than this arm can make; the most is 4\.0000 in"):
        height_error_from_sweep(TRIANGLE, 2.0, 4.0)


def test_the_narrow_mark_of_many_is_the_one_named():
    with pytest.raises(GeometryError, match=r"the least is 1\.0000 in"):
        height_error_from_sweep(TRIANGLE, np.array([1.0, 6.0]), np.array([0.9, 0.9]))


def test_a_mark_just_short_of_the_widest_is_read():
    assert height_error_from_sweep(TRIANGLE, 2.0, 3.9999).magnitude == pytest.approx(4.0, abs=1e-3)


# Centring


@pytest.mark.parametrize(
    ("inner", "outer", "move"), [(-0.01, 0.05, -0.02), (-0.05, 0.01, 0.02), (-0.02, 0.02, 0.0)]
)
def test_the_stand_moves_against_the_mark(inner, outer, move):
    assert centring_move(inner, outer) == pytest.approx(move, abs=1e-15)


def test_edges_the_wrong_way_round_are_refused():
    with pytest.raises(GeometryError, match="inner edge"):
        centring_move(0.02, -0.02)


def test_moving_the_stand_as_told_centres_the_mark():
    mark = expected_mark(ARM, 0.75, shaft_offset=1.45)
    moved = expected_mark(ARM, 0.75, shaft_offset=1.45 - centring_move(mark.inner, mark.outer))
    assert moved.inner == pytest.approx(-moved.outer, abs=1e-15)


# Lift with a height error


def test_at_the_right_height_all_of_the_lift_is_there():
    assert lift_with_height_error(ARM, 0.75, 0.0) == pytest.approx(0.75, abs=1e-15)
    assert lift_with_height_error(ARM, 0.75, 0.0, square_at=0.2) == pytest.approx(0.75, abs=1e-15)


def test_the_lift_lost_is_of_second_order():
    # Hand-worked series: S e^2 / (2 (L^2 - (S/2)^2)) = 0.75 x 0.0004 / 4.21875 = 7.111e-5.
    assert 0.75 - lift_with_height_error(ARM, 0.75, 0.020) == pytest.approx(7.111e-5, rel=0.02)


def test_the_lift_lost_is_nearly_the_same_high_and_low():
    high, low = lift_with_height_error(ARM, 0.75, np.array([0.020, -0.020]))
    assert high < 0.75
    assert low < 0.75
    assert high == pytest.approx(low, abs=2e-6)


def test_square_off_half_lift_a_height_error_may_give_lift():
    assert lift_with_height_error(ARM, 0.75, -0.020, square_at=0.2) > 0.75
