from dataclasses import replace

import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.lobe import card_lobe
from valvetrain.geometry.motion import valve_motion
from valvetrain.geometry.piston import PistonToValve, piston_drop

PAIR = PistonToValve(
    stroke=4.0,
    rod_length=6.0,
    deck_clearance=0.010,
    gasket_thickness=0.040,
    valve_recess=0.100,
    pocket_depth=0.150,
)


def test_the_piston_goes_from_nothing_to_the_stroke():
    assert piston_drop(0.0, stroke=4.0, rod_length=6.0) == 0.0
    assert piston_drop(180.0, stroke=4.0, rod_length=6.0) == pytest.approx(4.0, abs=1e-14)
    assert piston_drop(360.0, stroke=4.0, rod_length=6.0) == pytest.approx(0.0, abs=1e-14)


def test_a_quarter_turn_by_hand():
    # Hand-worked: 3-4-5: throw 3 and rod 5 stand 4 high, so 3 + 5 - 4 from the top.
    assert piston_drop(90.0, stroke=6.0, rod_length=5.0) == pytest.approx(4.0, abs=1e-14)


def test_before_and_after_the_top_are_alike():
    assert piston_drop(-17.0, stroke=4.0, rod_length=6.0) == piston_drop(17.0, stroke=4.0, rod_length=6.0)


def test_near_the_top_it_keeps_its_digits():
    # Hand-worked: for a small angle a/2 x angle squared x (1 + a/r).
    small = np.radians(1e-5)
    assert piston_drop(1e-5, stroke=4.0, rod_length=6.0) == pytest.approx(small**2 * (1 + 2 / 6), rel=1e-10)


@pytest.mark.parametrize("rod", [1.5, 2.0])
def test_a_rod_shorter_than_the_throw_is_refused(rod):
    with pytest.raises(GeometryError, match="no longer than half the stroke"):
        piston_drop(10.0, stroke=4.0, rod_length=rod)
    with pytest.raises(GeometryError, match="no longer than half the stroke"):
        replace(PAIR, rod_length=rod)


def test_the_heights_add_up_at_the_top():
    # Hand-worked: 0.010 + 0.040 + 0.100 + 0.150.
    assert PAIR.room(0.0) == pytest.approx(0.300)
    assert PAIR.clearance(0.0, 0.180) == pytest.approx(0.120)


def test_a_piston_above_the_deck_takes_room():
    assert replace(PAIR, deck_clearance=-0.015).room(0.0) == pytest.approx(0.275)


def test_valve_and_piston_that_meet_are_below_zero():
    assert PAIR.clearance(0.0, 0.350) == pytest.approx(-0.050)


def test_a_pocket_square_to_a_leaning_valve():
    # Hand-worked: cos 60 is a half, taken as far as it may lean.
    assert replace(PAIR, valve_angle=60.0).room(0.0) == pytest.approx(0.150)


def test_a_leaning_valve_over_a_flat_crown_has_more_room():
    # Hand-worked: 0.150 of height and a valve that goes down half an inch for an inch of lift.
    flat = replace(PAIR, valve_angle=60.0, pocket_depth=0.0)
    assert flat.room(0.0) == pytest.approx(0.300)
    assert replace(PAIR, valve_angle=60.0, pocket_angle=0.0).room(0.0) == pytest.approx(0.600)


def test_an_upright_valve_does_not_mind_the_pockets_angle():
    assert replace(PAIR, pocket_angle=20.0).room(0.0) == pytest.approx(0.300)


def test_the_least_clearance_lies_between_the_angles_given():
    # Hand-worked: a parabola with its lowest point at 11.5, out of steps of one degree.
    angles = np.arange(0.0, 30.0)
    lift = PAIR.room(angles) - (0.080 + 0.0002 * (angles - 11.5) ** 2)
    closest = PAIR.closest(angles, lift)
    assert (closest.clearance, closest.crank_angle) == (pytest.approx(0.080), pytest.approx(11.5))


def test_least_at_an_end_is_the_end():
    angles = np.arange(0.0, 30.0)
    assert PAIR.closest(angles, np.zeros(30)).crank_angle == 0.0
    assert PAIR.closest([5.0], [0.1]).crank_angle == 5.0


def test_no_parabola_through_a_level_stretch():
    angles = np.array([-1.0, 0.0, 1.0])
    lift = PAIR.room(angles) - 0.1
    assert PAIR.closest(angles, lift).clearance == pytest.approx(0.1)


def test_an_intake_comes_nearest_after_the_top_and_an_exhaust_before():
    angles = np.arange(-60.0, 60.0)
    card = [(0.020, 280.0), (0.050, 248.0), (0.200, 160.0)]
    places = []
    for nose in (108.0, -112.0):
        lobe = card_lobe(card, max_lift=0.420, nose_at=nose)
        lift = valve_motion(lobe, angles, rpm=1000.0, drive=1.6).lift
        places.append(PAIR.closest(angles, lift).crank_angle)
    assert 0.0 < places[0] < 30.0
    assert -30.0 < places[1] < 0.0


def test_a_finer_look_finds_the_same_place():
    lobe = card_lobe([(0.050, 248.0), (0.200, 160.0)], max_lift=0.420, nose_at=108.0)
    found = []
    for step in (1.0, 0.01):
        angles = np.arange(-40.0, 60.0, step)
        found.append(PAIR.closest(angles, valve_motion(lobe, angles, rpm=1000.0, drive=1.6).lift))
    assert found[0].clearance == pytest.approx(found[1].clearance, abs=1e-5)
    assert found[0].crank_angle == pytest.approx(found[1].crank_angle, abs=0.1)


@pytest.mark.parametrize(
    ("angles", "lifts", "says"),
    [
        ([0.0, 1.0], [0.1], "2 crank angles and 1 lifts"),
        ([], [], "0 crank angles"),
        ([1.0, 0.0], [0.1, 0.1], "do not rise"),
        ([0.0, 1.0], [0.1, -0.1], r"valve lift is -0\.1 in"),
    ],
)
def test_lists_that_do_not_pair_are_refused(angles, lifts, says):
    with pytest.raises(GeometryError, match=says):
        PAIR.closest(np.array(angles), np.array(lifts))


@pytest.mark.parametrize(
    ("name", "bad", "says"),
    [
        ("stroke", 0.0, "stroke is 0 in"),
        ("gasket_thickness", -0.04, r"gasket thickness is -0\.04 in"),
        ("pocket_depth", -0.1, "pocket depth"),
        ("valve_angle", 61.0, "from 0 to 60"),
        ("pocket_angle", -1.0, "from 0 to 60"),
        ("deck_clearance", float("nan"), "deck clearance"),
    ],
)
def test_heights_that_cannot_be_are_refused(name, bad, says):
    with pytest.raises(GeometryError, match=says):
        replace(PAIR, **{name: bad})
