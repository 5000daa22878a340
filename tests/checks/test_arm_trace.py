"""The travel against a numeric model of the arm that shares no formula with it.

Independent method throughout. The arm is a rigid rod about the shaft; the valve's lift is imposed by
finding the rod's angle with a root finder, so that the underside of the roller lies on the tip; the
extremes of the contact are found with a minimiser.
"""

import math

import pytest
from scipy.optimize import brentq, minimize_scalar

from valvetrain.geometry.arm import RockerArm, arm_angle
from valvetrain.geometry.height import square_at_for_height, target_height
from valvetrain.geometry.travel import (
    contact_offsets,
    expected_mark,
    height_error_from_sweep,
    lift_with_height_error,
    sweep,
)

ARM = RockerArm(length=1.5, tip_radius=0.25, shaft_radius=0.35)
LIFT, OFFSET = 0.75, 1.47
# Set right, a little off, at and past the height where the arm is square at one end of the lift.
ERRORS = [0.0, 0.005, -0.02, 0.12, -0.374, 0.376, -0.6, 0.9]
SQUARES = [0.0, 0.4, 0.5, 1.0]
CASES = [(error, square) for error in ERRORS for square in SQUARES]


def _angle(height, lift):
    """The rod's angle in radians at which the roller rests on the tip."""

    def gap(angle):
        roller_bottom = height + ARM.length * math.sin(angle) - ARM.tip_radius
        return roller_bottom - (-lift)

    return brentq(gap, -math.pi / 2, math.pi / 2, xtol=1e-14)


def _contact(height, lift):
    return ARM.length * math.cos(_angle(height, lift)) - OFFSET


def _edges(height):
    ends = [_contact(height, 0.0), _contact(height, LIFT)]
    best = minimize_scalar(
        lambda lift: -_contact(height, lift), bounds=(0.0, LIFT), method="bounded", options={"xatol": 1e-9}
    )
    return min(ends), max(*ends, -best.fun)


def _height(error, square_at):
    # Worked afresh: square means the roller centre level with the shaft at that part of the lift.
    return ARM.tip_radius - square_at * LIFT + error


def _reaches(error, square_at):
    height = _height(error, square_at)
    return all(abs(ARM.tip_radius - lift - height) < ARM.length for lift in (0.0, LIFT))


REACHED = [case for case in CASES if _reaches(*case)]


def test_most_cases_are_in_reach():
    assert len(REACHED) >= 28


@pytest.mark.parametrize("square_at", SQUARES)
def test_the_rod_lies_square_at_the_target(square_at):
    assert _angle(target_height(ARM, LIFT, square_at), square_at * LIFT) == pytest.approx(0.0, abs=1e-13)


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_where_the_rod_lies_square(error, square_at):
    # Independent method: the lift at which the modelled rod lies square, found with a root finder.
    height = _height(error, square_at)
    reach = ARM.length * 0.999
    lowest, highest = ARM.tip_radius - height - reach, ARM.tip_radius - height + reach
    square = brentq(lambda lift: _angle(height, lift), lowest, highest, xtol=1e-14)
    assert square_at_for_height(ARM, LIFT, height) == pytest.approx(square / LIFT, abs=1e-11)


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_the_arm_angle(error, square_at):
    height = _height(error, square_at)
    for lift in (0.0, 0.3, LIFT):
        assert arm_angle(ARM, height, lift) == pytest.approx(math.degrees(_angle(height, lift)), abs=1e-9)


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_the_trace(error, square_at):
    trace = contact_offsets(ARM, LIFT, height_error=error, shaft_offset=OFFSET, square_at=square_at, points=7)
    modelled = [_contact(_height(error, square_at), lift) for lift in trace.lift_now]
    assert trace.contact.tolist() == pytest.approx(modelled, abs=1e-11)


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_the_sweep_and_the_edges(error, square_at):
    inner, outer = _edges(_height(error, square_at))
    mark = expected_mark(ARM, LIFT, shaft_offset=OFFSET, height_error=error, square_at=square_at)
    assert (mark.inner, mark.outer) == (pytest.approx(inner, abs=1e-11), pytest.approx(outer, abs=1e-11))
    assert sweep(ARM, LIFT, error, square_at=square_at) == pytest.approx(outer - inner, abs=1e-11)


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_one_of_the_two_heights_that_a_mark_allows_is_the_true_one(error, square_at):
    inner, outer = _edges(_height(error, square_at))
    found = height_error_from_sweep(ARM, LIFT, outer - inner, square_at=square_at)
    assert min(abs(found.if_high - error), abs(found.if_low - error)) < 1e-9


@pytest.mark.parametrize(("error", "square_at"), REACHED)
def test_the_lift_of_the_same_swing(error, square_at):
    right, wrong = _height(0.0, square_at), _height(error, square_at)
    swing = _angle(right, 0.0) - _angle(right, LIFT)
    end = _angle(wrong, 0.0) - swing
    lift = ARM.tip_radius - (wrong + ARM.length * math.sin(end))
    assert lift_with_height_error(ARM, LIFT, error, square_at=square_at) == pytest.approx(lift, abs=1e-11)


def test_the_minimum_sweep_is_at_the_target():
    found = minimize_scalar(
        lambda error: sweep(ARM, LIFT, error), bounds=(-0.3, 0.3), method="bounded", options={"xatol": 1e-9}
    )
    assert found.x == pytest.approx(0.0, abs=1e-6)
