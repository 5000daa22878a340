import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.centring import centring_slide, height_error_from_ends, hole_relief
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import pack_for_rise, sideways_shift
from valvetrain.geometry.travel import centring_move, contact_offsets, expected_mark, height_error_from_sweep

ARM = RockerArm(1.5, 0.25, 0.35)

arms = st.builds(RockerArm, st.floats(1.0, 2.5), st.floats(0.1, 0.4), st.floats(0.2, 0.6))
lifts = st.floats(0.05, 0.9)
squares = st.floats(0.0, 1.0)
moves = st.floats(-0.1, 0.1)
tilts = st.floats(-45.0, 45.0)


@given(arms, lifts, st.floats(-0.3, 0.3), squares, st.floats(0.5, 2.0))
def test_the_ends_of_the_contact_give_the_height_error_back(arm, lift, error, square_at, offset):
    # Independent method: the trace of the contact from closed to full lift, wherever the shaft stands.
    assume(abs(error + (0.5 - square_at) * lift) + 0.5 * lift < 0.98 * arm.length)
    contact = contact_offsets(
        arm, lift, height_error=error, shaft_offset=offset, square_at=square_at, points=2
    ).contact
    found = height_error_from_ends(arm, lift, closed=contact[0], open_=contact[1], square_at=square_at)
    assert found.height_error == pytest.approx(error, abs=1e-9)


@given(arms, st.floats(0.05, 0.6), st.floats(-0.1, 0.1))
def test_the_factor_is_the_slope_of_height_over_the_difference(arm, lift, error):
    # Independent method: a difference quotient of the trace.
    def apart(high):
        contact = contact_offsets(arm, lift, height_error=high, points=2).contact
        return contact[0] - contact[1]

    factor = height_error_from_ends(arm, lift, closed=apart(error), open_=0.0).uncertainty_factor
    assert factor == pytest.approx(2e-5 / (apart(error + 1e-5) - apart(error - 1e-5)), rel=1e-4)


def test_a_high_shaft_starts_further_out_than_it_ends():
    assert height_error_from_ends(ARM, 0.75, closed=0.010, open_=0.0).height_error > 0.0
    assert height_error_from_ends(ARM, 0.75, closed=0.0, open_=0.010).height_error < 0.0


def test_contacts_at_one_place_are_the_right_height():
    assert height_error_from_ends(ARM, 0.75, closed=-0.013, open_=-0.013).height_error == 0.0
    # Square at 0.4 of the lift the target itself ends further in: hand-worked, e = −0.1·0.75.
    found = height_error_from_ends(ARM, 0.75, closed=0.0, open_=0.0, square_at=0.4)
    assert found.height_error == pytest.approx(-0.075)


def test_the_ends_are_twice_as_fine_as_the_width():
    # Trade fact: about L/S, where the width has about four inches for one.
    ends = height_error_from_ends(ARM, 0.75, closed=0.002, open_=0.0).uncertainty_factor
    assert ends == pytest.approx(1.5 / 0.75, rel=0.05)
    assert height_error_from_sweep(ARM, 0.75, 0.048).uncertainty_factor > 1.8 * ends


def test_many_valves_at_once():
    found = height_error_from_ends(ARM, 0.75, closed=np.array([0.01, -0.01]), open_=0.0)
    assert found.height_error[0] == pytest.approx(-found.height_error[1])


def test_ends_further_apart_than_the_arm_can_bring_them_are_told():
    # Hand-worked: √(0.75·(3 − 0.75)) = 1.2990.
    with pytest.raises(
        GeometryError, match=r"further apart than this arm .*; the most is 1.2990 in"
    ) as refused:
        height_error_from_ends(ARM, 0.75, closed=0.65, open_=-0.65)
    assert refused.value.where == "closed"
    assert height_error_from_ends(ARM, 0.75, closed=0.649, open_=-0.649).height_error < 1.125


@pytest.mark.parametrize(
    ("name", "value"),
    [("closed", np.nan), ("open_", np.inf), ("lift", 0.0), ("lift", 3.0), ("square_at", 1.1)],
)
def test_ends_that_cannot_be_are_told(name, value):
    told = {"lift": 0.75, "closed": 0.01, "open_": 0.0, name: value}
    with pytest.raises(GeometryError) as refused:
        height_error_from_ends(ARM, told.pop("lift"), **told)
    assert refused.value.where == name


def _moved(slide, pack, tilt):
    """Where the shaft goes, by vectors: along the pad, and along its normal."""
    angle = np.radians(tilt)
    return slide * np.array([np.cos(angle), -np.sin(angle)]) + pack * np.array([np.sin(angle), np.cos(angle)])


@given(moves, tilts)
def test_the_slide_with_its_pack_keeps_the_height(move, tilt):
    # Independent method: two equations in slide and pack, solved as vectors.
    angle = np.radians(tilt)
    pad = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    slide, pack = np.linalg.solve(pad, [move, 0.0])
    found = centring_slide(move, tilt)
    assert (found.slide, found.pack_change) == pytest.approx((slide, pack), abs=1e-15)
    assert _moved(found.slide, found.pack_change, tilt) == pytest.approx(np.array([move, 0.0]), abs=1e-15)


@given(moves, tilts)
def test_the_slide_alone_changes_the_height_as_said(move, tilt):
    found = centring_slide(move, tilt)
    expected = np.array([move, found.height_change])
    assert _moved(found.slide_alone, 0.0, tilt) == pytest.approx(expected, abs=1e-15)


@given(moves, tilts)
def test_its_signs_are_those_of_the_packs(move, tilt):
    # Making the height good by a pack undoes what the slide alone did to it, and moves the shaft on across.
    alone = centring_slide(move, tilt)
    pack = pack_for_rise(-alone.height_change, tilt)
    assert _moved(alone.slide_alone, pack, tilt)[1] == pytest.approx(0.0, abs=1e-15)
    assert _moved(0.0, pack, tilt)[0] == pytest.approx(sideways_shift(pack, tilt), abs=1e-15)


def test_on_a_square_pad_a_slide_is_the_move():
    found = centring_slide(0.012)
    assert (found.slide, found.pack_change, found.slide_alone, found.height_change) == (
        0.012,
        0.0,
        0.012,
        0.0,
    )


def test_toward_the_valve_on_a_pad_that_leans_to_it_goes_down():
    found = centring_slide(0.020, 15.0)
    assert found.height_change < 0.0 < found.pack_change
    assert centring_slide(0.020, -15.0).height_change > 0.0


def test_a_mark_centred_by_its_slide_is_centred():
    mark = expected_mark(ARM, 0.75, shaft_offset=1.460)
    move = centring_move(mark.inner, mark.outer)
    across, height = _moved(centring_slide(move, 12.0).slide, centring_slide(move, 12.0).pack_change, 12.0)
    # The shaft moves toward the valve, so its distance from the valve axis is less by as much.
    after = expected_mark(ARM, 0.75, shaft_offset=1.460 - across, height_error=height)
    assert after.inner == pytest.approx(-after.outer, abs=1e-12)


@pytest.mark.parametrize(("move", "tilt"), [(np.nan, 0.0), (0.01, 46.0), (0.01, np.inf)])
def test_a_slide_that_cannot_be_is_told(move, tilt):
    with pytest.raises(GeometryError):
        centring_slide(move, tilt)


# Hand-worked: a 0.390 hole on a 0.375 bolt plays 0.0075 either way.
@pytest.mark.parametrize(
    ("slide", "relief", "clearance"),
    [(0.0, 0.0, 0.015), (0.0075, 0.0, 0.015), (0.0175, 0.010, 0.025), (-0.0175, 0.010, 0.025)],
)
def test_the_play_is_used_before_the_hole_is_relieved(slide, relief, clearance):
    found = hole_relief(slide, hole_diameter=0.390, bolt_diameter=0.375)
    assert found.play == pytest.approx(0.0075)
    assert found.relief == pytest.approx(relief, abs=1e-15)
    assert found.clearance == pytest.approx(clearance)


@given(st.floats(-0.2, 0.2), st.floats(0.2, 0.6), st.floats(0.0, 0.1))
def test_the_bolt_has_room_for_the_slide(slide, bolt, room):
    found = hole_relief(slide, hole_diameter=bolt + room, bolt_diameter=bolt)
    # From the middle of the hole to its relieved end, less half a bolt.
    assert found.play + found.relief >= abs(slide) - 1e-15
    assert found.clearance == pytest.approx(2.0 * found.play + found.relief, abs=1e-15)


def test_a_tight_bolt_has_no_play():
    assert hole_relief(0.004, hole_diameter=0.375, bolt_diameter=0.375).relief == 0.004


def test_a_bolt_thicker_than_its_hole_is_told():
    with pytest.raises(GeometryError, match="thicker than its hole: measure") as refused:
        hole_relief(0.01, hole_diameter=0.370, bolt_diameter=0.375)
    assert refused.value.where == "bolt_diameter"
