"""The one worked stand height that the trade passes on."""

import pytest

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.height import gauge_step, height_from_gauge, rise_needed, top_of_shaft

# Trade fact (common practice, no source): tip radius + shaft radius 0.587, lift 0.750, square at half
# lift, puts the top of the shaft 0.212 above the tip. How the 0.587 is shared does not matter.
SUM_OF_RADII, LIFT, TOP = 0.587, 0.750, 0.212


@pytest.mark.parametrize("tip_radius", [0.1, 0.237, 0.3])
def test_the_trades_top_of_shaft(tip_radius):
    arm = RockerArm(length=1.5, tip_radius=tip_radius, shaft_radius=SUM_OF_RADII - tip_radius)
    assert top_of_shaft(arm, LIFT) == pytest.approx(TOP, abs=1e-12)


def test_a_gauge_with_the_trades_step_just_touches():
    arm = RockerArm(length=1.5, tip_radius=0.237, shaft_radius=0.350)
    assert gauge_step(arm, LIFT) == pytest.approx(TOP, abs=1e-12)
    assert rise_needed(arm, LIFT, height_from_gauge(arm, step=TOP, gap=0.0)) == pytest.approx(0.0, abs=1e-12)
