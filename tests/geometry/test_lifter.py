"""The lifter's place from a checking pushrod: there and back through the linkage, and refusals."""

import math

import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.lifter import leaning, lifter_from_pushrod
from valvetrain.geometry.linkage import PushrodLinkage

ARM = RockerArm(1.65, 0.235, 0.35)
READ = {
    "shaft_height": -0.09, "shaft_offset": 1.63, "cup_radius": 1.05, "cup_angle": 192.0, "pushrod_length": 8.4,
    "lean": 6.0, "lean_along": -3.0, "cup_offset": 0.06,
}  # fmt: skip


def test_a_square_arm_and_an_upright_pushrod_can_be_followed_by_hand():
    # Hand-worked: arm square, so the cup lies 1 behind the shaft at the shaft's height; 8 straight down from there.
    found = lifter_from_pushrod(
        RockerArm(1.5, 0.25, 0.35), shaft_height=0.25, shaft_offset=1.5, cup_radius=1.0, cup_angle=180.0,
        pushrod_length=8.0, lean=0.0,
    )  # fmt: skip

    assert found == pytest.approx((-2.5, 0.25 - 8.0, 0.0), abs=1e-12)


def test_the_linkage_asks_for_the_very_pushrod_that_was_read():
    # Independent method: the linkage solves the loop the other way round.
    linkage = PushrodLinkage(
        ARM, shaft_height=-0.09, shaft_offset=1.63, cup_radius=1.05, cup_angle=192.0, cup_offset=0.06,
        lifter_point=lifter_from_pushrod(ARM, **READ),
    )  # fmt: skip

    assert linkage.fitted_length == pytest.approx(8.4, abs=1e-12)
    assert linkage.pushrod_direction(0.0) == pytest.approx(np.array(leaning(6.0, -3.0)), abs=1e-12)


def test_a_lean_is_what_a_protractor_shows_from_each_side():
    x, y, z = leaning(30.0, -10.0)

    # Trade fact: a projection's angle is measured in the plane it is seen in.
    assert math.degrees(math.atan2(x, y)) == pytest.approx(30.0)
    assert math.degrees(math.atan2(z, y)) == pytest.approx(-10.0)
    assert math.hypot(x, y, z) == pytest.approx(1.0)


@pytest.mark.parametrize("lean", [60.1, -75.0, math.nan, math.inf])
def test_a_lean_that_no_pushrod_has_is_refused(lean: float):
    with pytest.raises(GeometryError, match="within 60 degrees of the valve's axis"):
        lifter_from_pushrod(ARM, **{**READ, "lean": lean})


def test_an_arm_that_cannot_reach_the_tip_is_refused():
    with pytest.raises(GeometryError, match="cannot reach"):
        lifter_from_pushrod(ARM, **{**READ, "shaft_height": -2.0})
