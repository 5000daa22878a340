import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from valvetrain.geometry.ellipse import Ellipse, as_places, direct_ellipse, distances, nearest_ellipse
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.rim import fit_rim

SEEN = Ellipse((900.0, 700.0), 400.0, 350.0, 30.0)


def _arc(degrees, count=8):
    """Taps over part of the rim: from a fine ring of 720 points, twice a degree."""
    ring = SEEN.points(720)
    return ring[np.linspace(0, 2 * degrees, count).astype(int)]


seen = st.builds(
    Ellipse,
    st.tuples(st.floats(-200.0, 4000.0), st.floats(-200.0, 3000.0)),
    st.floats(400.0, 1500.0),
    st.floats(200.0, 399.0),
    st.floats(0.0, 179.0),
)


@given(seen, st.integers(5, 30))
def test_points_of_an_ellipse_give_it_back(ellipse, count):
    for fit in (direct_ellipse, nearest_ellipse):
        found = fit(ellipse.points(count))
        assert found.centre == pytest.approx(ellipse.centre, abs=1e-4)
        assert found.shape == pytest.approx(ellipse.shape, abs=1e-4)


@given(seen, st.floats(0.0, 359.0), st.floats(0.2, 5.0), st.integers(0, 99))
def test_the_fit_turns_and_grows_with_its_points(ellipse, turn, scale, seed):
    # Turned and enlarged taps give the turned and enlarged rim.
    points = ellipse.points(9) + np.random.default_rng(seed).normal(0.0, 2.0, (9, 2))
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    turned = scale * points @ np.array([[cos, sin], [-sin, cos]])
    first, second = nearest_ellipse(points), nearest_ellipse(turned)
    assert (second.semi_major, second.semi_minor) == pytest.approx(
        (scale * first.semi_major, scale * first.semi_minor), rel=1e-6
    )


@given(st.floats(0.0, 180.0, exclude_max=True))
def test_a_circle_needs_no_direction(start):
    ring = Ellipse((100.0, 100.0), 50.0, 50.0, start).points(7)
    rim = fit_rim(ring)
    assert rim.semi_minor == pytest.approx(50.0, abs=1e-6)
    assert rim.tilt < 0.1
    assert 0.0 <= rim.turned < 180.0


@given(seen, st.integers(0, 99))
def test_no_tap_is_nearer_to_a_drawn_point_than_its_distance(ellipse, seed):
    # Independent method: the least distance from many drawn points.
    points = ellipse.points(6) + np.random.default_rng(seed).normal(0.0, 20.0, (6, 2))
    drawn = ellipse.points(20000)
    nearest = [float(np.hypot(*(drawn - point).T).min()) for point in points]
    assert np.abs(distances(ellipse, points)) == pytest.approx(nearest, abs=0.02)


def _tried(taps):
    try:
        return fit_rim(taps), None
    except GeometryError as refused:
        return None, refused


@given(st.lists(st.tuples(st.floats(), st.floats()), max_size=9))
def test_whatever_is_tapped_gives_a_rim_or_a_sentence(taps):
    rim, refused = _tried(taps)
    assert rim is not None or (refused.where == "rim_taps" and refused.right)


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=5, max_size=9, unique=True))
def test_taps_on_a_grid_give_a_rim_or_a_sentence(taps):
    rim, refused = _tried(taps)
    assert rim is not None or (refused.where == "rim_taps" and refused.right)


def test_the_scatter_has_five_degrees_of_freedom_less_than_taps():
    # Hand-worked: in and out by one pixel in turn on a circle leaves the circle where it is: √(12/7).
    ring = Ellipse((500.0, 500.0), 400.0, 400.0, 0.0).points(12)
    away = (ring - 500.0) / 400.0
    rim = fit_rim(ring + away * np.tile([1.0, -1.0], 6)[:, np.newaxis])
    assert rim.scatter == pytest.approx(math.sqrt(12.0 / 7.0), rel=1e-3)
    assert rim.degrees_of_freedom == 7


def test_five_taps_have_no_scatter_to_tell():
    rim = fit_rim(SEEN.points(5))
    assert rim.scatter is None
    assert rim.degrees_of_freedom == 0


@pytest.mark.parametrize("count", [0, 1, 4])
def test_it_asks_for_five_taps(count):
    with pytest.raises(GeometryError, match="tap five or more, spread round the rim"):
        fit_rim(SEEN.points(12)[:count])


@pytest.mark.parametrize("degrees", [60, 100, 140, 160])
def test_it_refuses_taps_bunched_on_one_side(degrees):
    with pytest.raises(GeometryError, match="bunched on one side of it: spread the taps round the rim"):
        fit_rim(_arc(degrees))


@pytest.mark.parametrize("degrees", [180, 220, 270])
def test_half_of_the_rim_is_enough(degrees):
    assert fit_rim(_arc(degrees)).semi_minor == pytest.approx(350.0, abs=1e-4)


@pytest.mark.parametrize("seed", range(20))
def test_scatter_does_not_hide_a_third_of_the_rim(seed):
    taps = _arc(110) + np.random.default_rng(seed).normal(0.0, 2.0, (8, 2))
    with pytest.raises(GeometryError, match="bunched"):
        fit_rim(taps)


def test_it_names_two_taps_on_one_spot():
    taps = SEEN.points(7)
    taps[5] = taps[2] + 0.2
    with pytest.raises(GeometryError, match="taps 3 and 6 on the rim are on the same spot: move one"):
        fit_rim(taps)


@pytest.mark.parametrize("off", [60.0, 150.0, 300.0])
def test_it_names_the_tap_that_is_off(off):
    taps = SEEN.points(8)
    taps[4] += off * (np.array(SEEN.centre) - taps[4]) / np.hypot(*(np.array(SEEN.centre) - taps[4]))
    with pytest.raises(GeometryError, match="do not lie on one ellipse; tap 5 is"):
        fit_rim(taps)


@pytest.mark.parametrize(
    "taps",
    [
        [[x, 2.0 * x + 3.0] for x in range(6)],
        [[x, 100.0 / x] for x in (-40.0, -20.0, -10.0, 10.0, 20.0, 40.0)],
        [[x, x * x] for x in (-3.0, -2.0, -1.0, 1.0, 2.0, 3.0)],
    ],
    ids=["line", "hyperbola", "parabola"],
)
def test_it_refuses_what_is_no_ellipse(taps):
    with pytest.raises(GeometryError) as refused:
        fit_rim(taps)
    assert refused.value.where == "rim_taps"


def test_it_refuses_a_rim_seen_from_beside():
    with pytest.raises(GeometryError, match="seen 75 degrees off square: take the picture from more above"):
        fit_rim(Ellipse((500.0, 500.0), 400.0, 400.0 * math.cos(math.radians(75.0)), 10.0).points(10))


@pytest.mark.parametrize(
    "taps",
    [
        [[math.nan, 1.0], *SEEN.points(6)],
        [[math.inf, 1.0], *SEEN.points(6)],
        [["1", "2"]] * 6,
        [[1.0, 2.0, 3.0]] * 6,
        [1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
        [[True, False]] * 6,
        [[1.0, 2.0], [3.0]],
        None,
        5.0,
    ],
)
def test_it_refuses_taps_that_are_not_two_finite_numbers(taps):
    with pytest.raises(
        GeometryError, match="on the rim, a tap is not two finite numbers: give each as right"
    ):
        fit_rim(taps)


def test_it_refuses_a_tap_outside_of_any_picture():
    with pytest.raises(GeometryError, match="on the rim, a tap lies outside of any picture"):
        fit_rim([[1e9, 1.0], *SEEN.points(6)])


def test_no_points_are_no_error_where_none_are_asked():
    assert as_places([], least=0).shape == (0, 2)


def test_whole_numbers_and_exact_decimals_are_places():
    assert as_places([[1, Decimal("2.5")]], least=1).tolist() == [[1.0, 2.5]]


def test_it_asks_for_as_many_points_as_are_needed():
    with pytest.raises(GeometryError, match="there are 4 points: give 5 or more"):
        direct_ellipse([[0, 0], [1, 0], [0, 1], [1, 1]])
