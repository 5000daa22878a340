import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.pushrod import effective_length, end_allowance, measured_ratio, overall_length


def test_a_hole_in_the_ball_shortens_the_overall_length():
    # Hand-worked: 3-4-5: a ball of 0.25 with a hole of 0.15 ends 0.20 from its centre.
    assert end_allowance(0.25, hole_radius=0.15) == pytest.approx(0.20, abs=1e-15)


@pytest.mark.parametrize("hole", [0.25, 0.3])
def test_a_hole_as_wide_as_the_ball_is_refused(hole):
    with pytest.raises(GeometryError, match="as wide as the ball"):
        end_allowance(0.25, hole_radius=hole)


@pytest.mark.parametrize(("depth", "allowance"), [(0.10, -0.05), (0.15, 0.0), (0.20, 0.05)])
def test_a_cup_ends_at_its_rim(depth, allowance):
    # Hand-worked: the ball of 0.15 rests on the bottom with its centre 0.15 above it.
    assert end_allowance(0.15, cup_depth=depth) == pytest.approx(allowance, abs=1e-15)


def test_overall_and_effective_are_inverse():
    ends = {"rocker_end": -0.05, "lifter_end": 0.15625}
    assert effective_length(overall_length(7.8, **ends), **ends) == pytest.approx(7.8, abs=1e-15)


def test_ends_that_leave_no_pushrod_are_refused():
    with pytest.raises(GeometryError, match="pushrod length is"):
        effective_length(0.2, rocker_end=0.1, lifter_end=0.1)


def test_a_ratio_from_readings_finds_ratio_and_lash():
    # Hand-worked: 1.6 x lobe - 0.020, and nothing until the lash is gone.
    lobe = [0.0, 0.01, 0.1, 0.2, 0.3, 0.4]
    found = measured_ratio(lobe, [0.0, 0.0, 0.14, 0.30, 0.46, 0.62])
    assert (found.ratio, found.lash) == (pytest.approx(1.6), pytest.approx(0.020))
    assert found.residuals.tolist() == pytest.approx([0.0] * 6, abs=1e-12)
    assert np.isnan(found.point_ratios[0])
    assert found.point_ratios[2:].tolist() == pytest.approx([1.6] * 4)


def test_a_bad_reading_shows_in_its_residual():
    found = measured_ratio([0.1, 0.2, 0.3, 0.4, 0.5], [0.15, 0.30, 0.47, 0.60, 0.75])
    assert int(np.argmax(np.abs(found.residuals))) == 2


@pytest.mark.parametrize(
    ("lobe", "valve", "says"),
    [
        ([0.1, 0.2], [0.1], "2 lobe lifts and 1 valve lifts"),
        ([0.1, 0.1], [0.15, 0.16], "two different lobe lifts"),
        ([0.1, 0.2], [0.0, 0.2], "two different lobe lifts"),
        ([0.1, 0.2], [0.3, 0.2], "does not grow"),
        ([0.1, -0.2], [0.3, 0.2], r"lobe lift is -0\.2 in"),
    ],
)
def test_readings_that_make_no_ratio_are_refused(lobe, valve, says):
    with pytest.raises(GeometryError, match=says):
        measured_ratio(lobe, valve)
