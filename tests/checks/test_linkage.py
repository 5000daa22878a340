"""The pushrod's loop against textbook four-bars, a root finder and difference quotients."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.linkage import PushrodLinkage, loop_angle


def _four_bar(ground, driver, coupler, follower, angle):
    """Coupler and follower angle of both circuits, from the loop each of the two closes."""
    x, y = driver * math.cos(math.radians(angle)) - ground, driver * math.sin(math.radians(angle))
    apart = x * x + y * y
    circuits = []
    for branch in (1, -1):
        to_follower = loop_angle(
            cosine=x,
            sine=y,
            constant=(follower**2 + apart - coupler**2) / (2 * follower),
            branch=branch,
        )
        # The coupler closes the same triangle from its other corner, so on the other side.
        to_coupler = loop_angle(
            cosine=-x,
            sine=-y,
            constant=(coupler**2 + apart - follower**2) / (2 * coupler),
            branch=-branch,
        )
        circuits.append((to_coupler % 360, to_follower % 360))
    return circuits


def test_the_four_bar_of_a_universitys_assignment():
    # Published: a university's machine kinematics assignment with answers: driver 35, coupler 25,
    # follower 15, ground 10 in, driver at 30 degrees.
    crossed, opened = _four_bar(10.0, 35.0, 25.0, 15.0, 30.0)
    assert opened == pytest.approx((254.1745, 334.0983), abs=1e-3)
    assert crossed == pytest.approx((187.3223, 107.3985), abs=1e-3)


def test_nortons_four_bar():
    # Published: Norton, Design of Machinery, table P4-1, row a, open (from memory): links 6, 2, 7, 9,
    # driver at 30 degrees.
    assert _four_bar(6.0, 2.0, 7.0, 9.0, 30.0)[1] == pytest.approx((88.84, 117.29), abs=5e-3)


def _small(most):
    return st.floats(-most, most)


@st.composite
def linkages(draw):
    arm = RockerArm(draw(st.floats(1.2, 2.0)), draw(st.floats(0.15, 0.35)), 0.35)
    offset, radius = arm.length - draw(st.floats(0.0, 0.06)), draw(st.floats(0.8, 1.2))
    return PushrodLinkage(
        arm,
        shaft_height=arm.tip_radius - 0.3 + draw(_small(0.1)),
        shaft_offset=offset,
        cup_radius=radius,
        cup_angle=180.0 + draw(_small(15.0)),
        lifter_point=(-offset - radius + draw(_small(0.8)), draw(st.floats(-11.0, -5.0)), draw(_small(0.8))),
        lifter_direction=(draw(_small(0.3)), 1.0, draw(_small(0.15))),
        cup_offset=draw(_small(0.6)),
        lash=draw(st.sampled_from([0.0, 0.012, 0.026])),
    )


def _searched(linkage, lift):
    """Independent method: the rigid pushrod written down as it stands, and its angle searched for."""
    arm = linkage.arm
    lifter = np.array(linkage.lifter_point) + lift * np.array(linkage.lifter_direction)
    shaft = np.array([-linkage.shaft_offset, linkage.shaft_height, linkage.cup_offset])
    # The closed cup is worked afresh: the roller rests the lash above the tip.
    closed = math.asin((arm.tip_radius + linkage.lash - linkage.shaft_height) / arm.length)

    def cup(angle):
        turned = angle + math.radians(linkage.cup_angle)
        return shaft + linkage.cup_radius * np.array([math.cos(turned), math.sin(turned), 0.0])

    length = np.linalg.norm(cup(closed) - np.array(linkage.lifter_point))
    angle = brentq(
        lambda angle: np.linalg.norm(cup(angle) - lifter) - length, closed - 0.8, closed + 1e-3, xtol=1e-15
    )
    roller = linkage.shaft_height + arm.length * math.sin(angle)
    return arm.tip_radius - roller, length


@given(linkages(), st.floats(0.0, 0.42))
def test_a_root_finder_finds_the_same_lift(linkage, lift):
    travel, length = _searched(linkage, lift)
    assert linkage.fitted_length == pytest.approx(length, abs=1e-12)
    assert linkage.roller_travel(lift) == pytest.approx(travel, abs=1e-12)
    assert linkage.valve_lift(lift) == pytest.approx(max(travel, 0.0), abs=1e-12)


@given(linkages(), st.floats(0.01, 0.42))
def test_the_ratio_is_the_slope_of_the_lift(linkage, lift):
    # Independent method: a difference quotient of fourth order.
    step = 1e-3
    around = linkage.roller_travel(lift + step * np.array([-2.0, -1.0, 1.0, 2.0]))
    slope = float(around @ np.array([1.0, -8.0, 8.0, -1.0])) / (12 * step)
    assert linkage.ratio(lift) == pytest.approx(slope, abs=1e-9)


@given(linkages(), st.floats(0.01, 0.42))
def test_the_ratios_slope_is_the_slope_of_the_ratio(linkage, lift):
    # Independent method: a difference quotient of fourth order.
    step = 1e-3
    around = linkage.ratio(lift + step * np.array([-2.0, -1.0, 1.0, 2.0]))
    slope = float(around @ np.array([1.0, -8.0, 8.0, -1.0])) / (12 * step)
    assert linkage.ratio_slope(lift) == pytest.approx(slope, abs=1e-8)


@given(linkages())
def test_the_lift_grows_all_the_way(linkage):
    # The branch is the closed position's: no jump, no turning back.
    travel = linkage.roller_travel(np.linspace(0.0, 0.42, 200))
    steps = np.diff(travel)
    assert (steps > 0.0).all()
    assert steps.max() < 2.0 * steps.min()


@given(linkages(), st.floats(0.0, 0.42))
def test_the_pushrod_keeps_its_length(linkage, lift):
    # Independent method: the cup from the arm's angle, the lifter from its axis.
    turned = math.radians(linkage.arm_angle(lift) + linkage.cup_angle)
    cup = np.array(
        [
            linkage.cup_radius * math.cos(turned) - linkage.shaft_offset,
            linkage.cup_radius * math.sin(turned) + linkage.shaft_height,
            linkage.cup_offset,
        ]
    )
    rod = cup - np.array(linkage.lifter_point) - lift * np.array(linkage.lifter_direction)
    assert np.linalg.norm(rod) == pytest.approx(linkage.fitted_length, abs=1e-12)
    along = float(rod @ np.array(linkage.lifter_direction)) / linkage.fitted_length
    assert linkage.pushrod_angle(lift) == pytest.approx(math.degrees(math.acos(min(along, 1.0))), abs=2e-6)
