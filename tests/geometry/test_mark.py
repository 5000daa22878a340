import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.seen_tip import SeenTip
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import measure_mark
from valvetrain.geometry.mark_in_picture import edges_on_tip, to_picture, to_tip

# Looked straight down on: 1000 pixels to the inch across 0.4 in, the shaft left, the front up; centre 500, 400.
RING = [
    [500.0 + 200.0 * math.cos(math.radians(angle)), 400.0 + 200.0 * math.sin(math.radians(angle))]
    for angle in range(0, 360, 45)
]
INNER = [[480.0, 300.0], [480.0, 500.0]]
OUTER = [[530.0, 300.0], [530.0, 500.0]]
TOLD = {"rim_diameter": 0.4, "toward_shaft": (-1.0, 0.0), "toward_front": (0.0, -1.0)}


def _measured(**other):
    return measure_mark(other.pop("rim", RING), **{"inner_taps": INNER, "outer_taps": OUTER, **TOLD, **other})


tips = st.builds(
    SeenTip,
    diameter=st.floats(0.25, 0.5),
    inner=st.floats(-0.08, -0.005),
    outer=st.floats(0.005, 0.08),
    taper=st.floats(-0.004, 0.004),
    tilt=st.floats(0.0, 50.0),
    toward=st.floats(0.0, 360.0),
    roll=st.floats(0.0, 360.0),
    mirrored=st.booleans(),
)


@given(tips, st.integers(5, 12), st.integers(2, 5))
def test_perfect_taps_give_the_mark(tip, rim, edge):
    # Independent method: a circle and two lines in space.
    mark = tip.measured(rim=rim, edge=edge)
    for name, value in tip.truth.items():
        assert getattr(mark, name) == pytest.approx(value, abs=1e-6)


@given(tips, st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
def test_tip_and_picture_are_inverse(tip, x, y):
    mark = tip.measured()
    assert to_tip(mark, to_picture(mark, [[x, y]])) == pytest.approx(np.array([[x, y]]), abs=1e-12)


@given(tips, st.integers(0, 99))
def test_the_figures_agree_among_themselves(tip, seed):
    mark = tip.measured(noise=1.0, draws=np.random.default_rng(seed))
    assert mark.width == pytest.approx(mark.outer - mark.inner)
    assert mark.centre == pytest.approx(0.5 * (mark.inner + mark.outer), abs=1e-12)
    assert mark.taper == pytest.approx(mark.front_width - mark.rear_width, abs=1e-12)
    assert mark.covariance == pytest.approx(np.array(mark.covariance).T)
    assert mark.covariance[0][0] == pytest.approx(mark.inner_standard**2)


@given(tips, st.integers(0, 99))
def test_the_drawn_edges_are_the_measured_ones(tip, seed):
    mark = tip.measured(noise=1.0, draws=np.random.default_rng(seed))
    (inner_front, inner_rear), (outer_front, outer_rear) = edges_on_tip(mark)
    for front, rear, at in ((inner_front, inner_rear, mark.inner), (outer_front, outer_rear, mark.outer)):
        assert front[1] > 0.0 > rear[1]
        assert np.interp(0.0, [rear[1], front[1]], [rear[0], front[0]]) == pytest.approx(at, abs=1e-12)
        assert np.hypot(*front) == pytest.approx(tip.diameter / 2.0)
        assert np.hypot(*rear) == pytest.approx(tip.diameter / 2.0)


@given(tips, st.floats(0.1, 10.0))
def test_twice_the_diameter_is_twice_the_mark(tip, scale):
    one = tip.measured()
    other = tip.measured(rim_diameter=scale * tip.diameter)
    assert other.width == pytest.approx(scale * one.width)
    assert other.inner == pytest.approx(scale * one.inner, abs=1e-9)


def test_the_shaft_on_the_other_side_turns_the_mark_round():
    mark = _measured(toward_shaft=(1.0, 0.0), inner_taps=OUTER, outer_taps=INNER)
    assert (mark.inner, mark.outer) == pytest.approx((-0.030, 0.020), abs=1e-9)


def test_the_front_on_the_other_side_turns_the_taper_round():
    wide_up = {"inner_taps": [[470.0, 300.0], [480.0, 500.0]], "outer_taps": [[540.0, 300.0], [530.0, 500.0]]}
    # Hand-worked: 0.070 wide 0.1 in up, 0.050 wide 0.1 in down.
    assert _measured(**wide_up).taper == pytest.approx(0.020, abs=1e-4)
    assert _measured(**wide_up, toward_front=(0.0, 1.0)).taper == pytest.approx(-0.020, abs=1e-4)


def test_a_mark_off_to_one_side_keeps_its_sign():
    mark = _measured(inner_taps=OUTER, outer_taps=[[560.0, 300.0], [560.0, 500.0]])
    assert (mark.inner, mark.outer, mark.centre) == pytest.approx((0.030, 0.060, 0.045), abs=1e-9)


def test_a_mark_across_the_picture_need_not_be_square_to_its_sides():
    mark = _measured(toward_shaft=(-1.0, 0.5), toward_front=(-0.4, -1.0))
    assert mark.width == pytest.approx(0.050, abs=1e-9)


def test_a_lucky_hand_claims_no_more_than_usual():
    # Hand-worked: the usual pixel four times, nothing from three more taps, over four and three less two.
    assert _measured().tap_scatter == pytest.approx(math.sqrt(4.0 / 5.0), rel=1e-6)


def test_coarser_pixels_count_for_more():
    assert _measured(pixel=3.0).tap_scatter == pytest.approx(3.0 * math.sqrt(4.0 / 5.0), rel=1e-6)
    assert _measured(pixel=3.0).width_standard > 2.0 * _measured().width_standard


def test_hundreds_of_perfect_taps_still_have_pixels():
    angles = np.radians(np.arange(0.0, 360.0, 0.5))
    ring = np.column_stack([500.0 + 200.0 * np.cos(angles), 400.0 + 200.0 * np.sin(angles)])
    assert _measured(rim=ring).tap_scatter == pytest.approx(1.0 / math.sqrt(12.0))


def test_a_nearer_camera_leaves_the_centre_in_doubt_but_not_the_width():
    tip = SeenTip(inner=-0.03, outer=0.03, tilt=30.0, toward=90.0)
    near, far = tip.measured(viewing_distance=8.0), tip.measured(viewing_distance=1000.0)
    assert near.centre_standard > 2.0 * far.centre_standard
    assert near.width_standard == pytest.approx(far.width_standard, rel=0.05)


def test_a_rim_below_the_face_leaves_the_centre_in_doubt():
    # Hand-worked: 0.020·tan 30° = 0.0115 in, all of it across.
    tip = SeenTip(tilt=30.0, toward=90.0)
    assert tip.measured(rim_below=0.020).centre_standard == pytest.approx(0.0117, abs=3e-4)


def test_the_results_can_be_kept_as_plain_numbers():
    kept = dataclasses.asdict(_measured())
    assert all(type(value) in (float, dict, tuple) for value in kept.values())


def test_edges_swapped_are_told():
    with pytest.raises(GeometryError, match=r"inner edge lies further from the shaft .* swap the two edges"):
        _measured(inner_taps=OUTER, outer_taps=INNER)


def test_one_edge_tapped_twice_is_told():
    with pytest.raises(GeometryError, match="inner edge lies further from the shaft"):
        _measured(outer_taps=INNER)


@pytest.mark.parametrize("which", ["inner_taps", "outer_taps"])
def test_an_edge_needs_two_taps(which):
    with pytest.raises(GeometryError, match="edge has 1 tap: tap two or more places along it") as refused:
        _measured(**{which: INNER[:1]})
    assert refused.value.where == which


def test_two_taps_of_an_edge_on_one_spot_are_told():
    with pytest.raises(GeometryError, match="taps 1 and 3 on the inner edge are on the same spot"):
        _measured(inner_taps=[*INNER, [480.1, 300.1]])


def test_taps_close_together_are_told():
    with pytest.raises(GeometryError, match="taps on the outer edge lie close together: spread them along"):
        _measured(outer_taps=[[530.0, 400.0], [531.0, 410.0]])


@pytest.mark.parametrize(("outside", "refused"), [(1.04, False), (1.06, True)])
def test_a_tap_a_little_over_the_rim_is_let_pass(outside, refused):
    x, y = 30.0, math.sqrt((200.0 * outside) ** 2 - 30.0**2)
    taps = {"outer_taps": [[500.0 + x, 400.0 - y], [530.0, 500.0]]}
    if not refused:
        assert _measured(**taps).outer == pytest.approx(0.030, abs=1e-6)
        return
    with pytest.raises(
        GeometryError, match="tap 1 on the outer edge lies outside the rim: set it on the mark"
    ):
        _measured(**taps)


def test_edges_that_cross_on_the_tip_are_told():
    with pytest.raises(
        GeometryError, match="two edges cross on the tip: tap each edge along its whole length"
    ):
        _measured(inner_taps=[[480.0, 300.0], [505.0, 440.0]], outer_taps=[[530.0, 300.0], [510.0, 440.0]])


def test_edges_that_cross_beyond_the_tip_are_a_taper():
    wedge = {"inner_taps": [[475.0, 300.0], [490.0, 500.0]], "outer_taps": [[535.0, 300.0], [520.0, 500.0]]}
    assert _measured(**wedge).taper > 0.02


def test_edges_that_run_toward_the_shaft_are_told():
    with pytest.raises(GeometryError, match="edges of the mark run toward the shaft") as refused:
        _measured(toward_shaft=(0.0, 1.0), toward_front=(1.0, 0.0))
    assert refused.value.where == "toward_shaft"


@pytest.mark.parametrize("front", [(1.0, 0.0), (-1.0, 0.0), (-1.0, 0.3)])
def test_shaft_and_front_on_one_line_are_told(front):
    with pytest.raises(GeometryError, match="on one line in the picture: the front lies about square"):
        _measured(toward_front=front)


@pytest.mark.parametrize("way", [(0.0, 0.0), (math.nan, 1.0), (1.0,), "left", None])
def test_a_direction_that_is_none_is_told(way):
    with pytest.raises(GeometryError, match=r"not two finite numbers, .*: give right and down") as refused:
        _measured(toward_shaft=way)
    assert refused.value.where == "toward_shaft"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("rim_diameter", 0.0),
        ("rim_diameter", math.nan),
        ("rim_diameter_standard", -0.001),
        ("pixel", 0.0),
        ("viewing_distance", 1.0),
        ("aim", 60.0),
        ("rim_below", -0.01),
    ],
)
def test_a_number_out_of_range_is_told(name, value):
    with pytest.raises(GeometryError) as refused:
        _measured(**{name: value})
    assert refused.value.where == name


def test_no_points_are_no_error():
    assert to_tip(_measured(), []).shape == (0, 2)
    assert to_picture(_measured(), []).shape == (0, 2)


places = st.lists(st.tuples(st.floats(250.0, 750.0), st.floats(150.0, 650.0)), max_size=5)


def _tried(**taps):
    try:
        return _measured(**taps), None
    except GeometryError as refused:
        return None, refused


@given(places, places)
def test_whatever_is_tapped_gives_a_mark_or_a_sentence(inner, outer):
    mark, refused = _tried(inner_taps=inner, outer_taps=outer)
    if refused:
        assert refused.where in {"inner_taps", "outer_taps", "toward_shaft"}
        assert refused.right
        return
    assert mark.width > 0.0
    assert all(math.isfinite(value) for value in (mark.width_standard, mark.centre_standard, mark.taper))


def test_a_near_side_told_along_the_long_axis_is_not_used():
    tip = SeenTip(tilt=30.0)
    right, down = tip.near_side()
    assert tip.measured(near_side=(-down, right)) == tip.measured()


def test_a_near_side_that_is_none_is_told():
    with pytest.raises(GeometryError, match="not two finite numbers") as refused:
        _measured(near_side=(0.0, 0.0))
    assert refused.value.where == "near_side"


@given(tips, st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))
def test_tip_and_picture_are_inverse_with_the_near_side_told(tip, x, y):
    mark = tip.measured(near_side=tip.near_side())
    assert to_tip(mark, to_picture(mark, [[x, y]])) == pytest.approx(np.array([[x, y]]), abs=1e-12)
    assert to_picture(mark, [[0.0, 0.0]])[0] == pytest.approx(np.array(mark.origin))
