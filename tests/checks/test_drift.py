"""The line through readings against running: published figures, every slope by hand, and how often its interval holds."""

from itertools import combinations
from statistics import median

import numpy as np
import pytest

from valvetrain.geometry.drift import Drift, Straight, can_be_drawn, crossing_of, fit_drift
from valvetrain.geometry.errors import GeometryError

# Published (from memory): Hollander & Wolfe, Nonparametric Statistical Methods, the example of Theil's estimator: the
# slope is -0.05625. Hand-worked as well: the ten slopes of its pairs, below.
X = [1, 2, 3, 4, 5]
Y = [1.26, 1.27, 1.12, 1.16, 1.03]
TEN_SLOPES = [
    0.01, -0.07, -0.1 / 3, -0.0575, -0.15, -0.055, -0.08, 0.04, -0.045, -0.13,
]  # fmt: skip
# Published: Sen 1968, J. Am. Stat. Assoc. 63, the worked example, as the tests that come with SciPy give it: at 93 % the
# interval is 26/7 to 35/8. Hand-worked: the eleventh of its 21 slopes in order is 4.
SEN_X = [1, 2, 3, 4, 10, 12, 18]
SEN_Y = [9, 15, 19, 20, 45, 55, 78]


def brute(x, y):
    """Independent method: every pair, one by one, and the middle of what comes out."""
    slopes = [(y[j] - y[i]) / (x[j] - x[i]) for i, j in combinations(range(len(x)), 2) if x[i] != x[j]]
    slope = median(slopes)
    return slope, median(b - slope * a for a, b in zip(x, y, strict=True))


def test_theils_example_as_published_and_by_its_ten_slopes():
    found = fit_drift(X, Y)
    assert found.line.slope == pytest.approx(-0.05625, abs=1e-12)
    assert median(TEN_SLOPES) == pytest.approx(-0.05625, abs=1e-12)
    # Hand-worked: 1.31625 is the middle of reading less slope times x: 1.31625, 1.3825, 1.28875, 1.385, 1.31125.
    assert found.line.intercept == pytest.approx(1.31625, abs=1e-12)
    assert (found.slowest.slope, found.fastest.slope) == pytest.approx((min(TEN_SLOPES), max(TEN_SLOPES)))


def test_sens_example():
    found = fit_drift(SEN_X, SEN_Y, confidence=0.93)
    assert found.line.slope == pytest.approx(4.0)
    assert (found.slowest.slope, found.fastest.slope) == pytest.approx((26 / 7, 35 / 8))


@pytest.mark.parametrize("seed", range(20))
def test_every_pair_by_itself(seed):
    # Independent method.
    draw = np.random.default_rng(seed)
    x = draw.integers(0, 40, size=draw.integers(3, 25)).astype(float)
    x[0], x[-1] = 0.0, 41.0
    y = 0.016 + 0.0001 * x + draw.normal(0, 0.0005, len(x))
    found = fit_drift(x.tolist(), y.tolist())
    assert (found.line.slope, found.line.intercept) == pytest.approx(brute(x.tolist(), y.tolist()), rel=1e-9)


@pytest.mark.parametrize(("count", "least"), [(3, 2 / 3), (4, 11 / 12), (6, 0.95), (12, 0.95)])
def test_the_interval_holds_the_true_slope_as_often_as_it_says(count, least):
    # Independent method: 3000 draws; three standard errors of the share are at most 0.026.
    draw = np.random.default_rng(5)
    x = np.arange(count) * 10.0
    held = 0
    for _ in range(3000):
        found = fit_drift(x.tolist(), (0.016 + 0.0002 * x + draw.standard_t(3, count) * 0.001).tolist())
        assert found.confidence == pytest.approx(least)
        held += found.slowest.slope <= 0.0002 <= found.fastest.slope
    share = held / 3000
    assert share >= least - 0.026
    if count < 5:  # all slopes are taken: the share is exact
        assert share == pytest.approx(least, abs=0.026)


def test_one_wild_reading_carries_nothing_away():
    # Hand-worked: 0.0002 a pass through six readings, the fourth typed ten times as large.
    x = [0, 10, 20, 30, 40, 50]
    y = [0.016, 0.018, 0.020, 0.220, 0.024, 0.026]
    assert fit_drift(x, y).line.slope == pytest.approx(0.0002, rel=1e-6)


def test_two_readings_are_a_line_without_an_interval():
    found = fit_drift([0, 10], [0.016, 0.018])
    assert (found.line.slope, found.line.intercept) == pytest.approx((0.0002, 0.016))
    assert (found.slowest, found.fastest, found.confidence, found.is_proved) == (None, None, 0.0, False)


@pytest.mark.parametrize(
    ("x", "y", "told"),
    [
        ([], [], "there are 0 readings"),
        ([3], [0.016], "there are 1 readings"),
        ([3, 3, 3], [0.016, 0.017, 0.018], "all 3 readings are at the same running"),
        ([0, 5], [0.016], "2 amounts of running for 1 readings"),
        ([-1, 5], [0.016, 0.017], "running is -1"),
        ([0, 5], [0.016, float("nan")], "not a finite number"),
    ],
)
def test_where_there_is_no_line_it_says_why(x, y, told):
    with pytest.raises(GeometryError, match=told):
        fit_drift(x, y)


def test_readings_that_are_all_alike_are_level():
    found = fit_drift([0, 10, 20, 20], [0.016] * 4)
    assert [(line.slope, line.intercept) for line in found.lines] == [(0.0, 0.016)] * 3


def test_so_many_ties_that_the_variance_is_nothing_take_every_slope():
    # Hand-worked: four readings at 2, three as the one at 1: slopes 0, 0, 0 and 1.
    found = fit_drift([1, 2, 2, 2, 2], [1, 1, 1, 1, 2])
    assert (found.line.slope, found.slowest.slope, found.fastest.slope) == (0.0, 0.0, 1.0)
    # Hand-worked: 1 - 2·4!/5! of the orders.
    assert found.confidence == pytest.approx(0.6)


def test_what_makes_a_line():
    assert [can_be_drawn(x) for x in ([], [1.0], [1.0, 1.0], [1.0, 2.0])] == [False, False, False, True]


def line(slope, *ends, at=0.016, last=20.0):
    """A line with its interval."""
    sides = [Straight(end, at) for end in ends] or [None, None]
    return Drift(Straight(slope, at), *sides, 0.95, 6, 6, 0.0, last)


def test_a_crossing_of_either_limit():
    # Hand-worked: (.022 − .016) / .0002 = 30, / .0004 = 15, / .0001 = 60; the low one alike.
    up = crossing_of(line(0.0002, 0.0001, 0.0004), low=0.010, high=0.022)
    down = crossing_of(line(-0.0002, -0.0004, -0.0001), low=0.010, high=0.022)
    assert (up.heading, up.end, down.heading, down.end) == ("toward", "high", "toward", "low")
    assert (up.at, up.earliest, up.latest) == pytest.approx((30, 15, 60))
    assert (down.at, down.earliest, down.latest) == pytest.approx((30, 15, 60))


def test_the_latest_may_be_never():
    for slow in (0.0, -0.00001):
        found = crossing_of(line(0.0002, slow, 0.0004), high=0.022)
        assert (found.heading, found.latest) == ("toward", None)
        assert (found.at, found.earliest) == pytest.approx((30.0, 15.0))


def test_two_readings_have_no_earliest_and_latest_apart():
    found = crossing_of(line(0.0002), high=0.022)
    assert (found.at, found.earliest) == pytest.approx((30.0, 30.0))
    assert found.latest is None


def test_already_out_says_where_it_went_out():
    # Hand-worked: at 20 the line stands at .024.
    found = crossing_of(line(0.0004, 0.0002, 0.0005), high=0.022)
    assert (found.heading, found.end, found.at) == ("out", "high", pytest.approx(15.0))
    came_from_outside = crossing_of(line(-0.0001, at=0.030), high=0.022)
    assert (came_from_outside.heading, came_from_outside.end, came_from_outside.at) == ("out", "high", None)


def test_exactly_at_the_limit_is_in():
    assert crossing_of(line(0.0003), high=0.022).heading == "toward"


def test_moving_away_level_and_beyond_the_horizon():
    assert crossing_of(line(-0.0002), high=0.022).heading == "away"
    level = crossing_of(line(0.0, -0.0001, 0.0004), high=0.022)
    assert (level.heading, level.at, level.earliest, level.latest) == (
        "level",
        None,
        pytest.approx(15.0),
        None,
    )
    far = crossing_of(line(0.00001, 0.000005, 0.0004), high=0.022)
    assert (far.heading, far.at, far.earliest, far.latest) == (
        "far",
        pytest.approx(600),
        pytest.approx(15.0),
        None,
    )


def test_limits_that_cannot_be_are_refused():
    with pytest.raises(GeometryError, match="there is no limit"):
        crossing_of(line(0.0002))
    with pytest.raises(GeometryError, match="is above the high one"):
        crossing_of(line(0.0002), low=0.022, high=0.016)


def test_whether_the_interval_proves_a_drift():
    assert line(0.0002, 0.0001, 0.0004).is_proved
    assert not line(0.0002, -0.0001, 0.0004).is_proved
    assert not line(0.0002, 0.0, 0.0004).is_proved
