import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.firing import checked_firing_order, companions, parse_firing_order
from valvetrain.geometry.lash import (
    growth,
    lash_order,
    lash_round,
    lash_verdict,
    overlap_order,
    turning_between,
)

EIGHT = (1, 8, 4, 3, 6, 5, 7, 2)


@pytest.mark.parametrize(
    "text",
    ["1-8-4-3-6-5-7-2", "1,8,4,3,6,5,7,2", "1 8 4 3 6 5 7 2", " 1 – 8, 4 3;6/5-7-2 ", "18436572"],
)
def test_a_firing_order_in_any_hand(text):
    assert parse_firing_order(text) == EIGHT


def test_more_than_nine_cylinders_need_something_between():
    twelve = "1-12-5-8-3-10-6-7-2-11-4-9"
    assert parse_firing_order(twelve) == (1, 12, 5, 8, 3, 10, 6, 7, 2, 11, 4, 9)


@pytest.mark.parametrize("text", ["1", "1-2-3", "1-2-4-5-3"])
def test_odd_engines_have_a_firing_order_too(text):
    assert len(parse_firing_order(text)) % 2 == 1


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "empty"),
        (" - ", "empty"),
        ("1-8-4-3-6-5-7-8", "cylinder 8 stands more than once"),
        ("1-3-4", "cylinder 2 is missing from the firing order, whose highest is 4"),
        ("1-100-4-3", "cylinder 2, 5, 6, 7 and others is missing"),
        ("1-3-x-2", "'x' is no cylinder number"),
        ("1-0-2", "'0' is no cylinder number"),
        ("1-3.5-2", "'3.5' is no cylinder number"),
        ("1-²", "is no cylinder number"),
    ],
)
def test_what_is_wrong_with_a_firing_order(text, match):
    with pytest.raises(GeometryError, match=match) as caught:
        parse_firing_order(text)
    assert caught.value.where == "firing_order"


@pytest.mark.parametrize("order", [[1, True], [1, 2.0], [0, 1]])
def test_a_list_of_other_things_is_no_firing_order(order):
    with pytest.raises(GeometryError, match="no cylinder number"):
        checked_firing_order(order)


def test_companions_are_half_the_order_apart():
    # Hand-worked on the fingers: 1 and 4, 3 and 2.
    assert companions((1, 3, 4, 2)) == ((1, 4), (3, 2))


def test_an_odd_engine_has_no_companions():
    with pytest.raises(GeometryError, match="engine of 5 has no companion"):
        companions((1, 2, 4, 5, 3))


def test_every_valve_is_set_once_at_its_own_cylinder():
    steps = lash_order(EIGHT)
    assert [step.cylinder for step in steps[::2]] == list(EIGHT)
    assert {(step.sets_on, step.sets) for step in steps} == {
        (cylinder, kind) for cylinder in EIGHT for kind in ("intake", "exhaust")
    }
    assert all(step.watch != step.sets and step.sets_on == step.cylinder for step in steps)


def test_the_words_of_both_steps():
    exhaust_opens, intake_closes = lash_order((1,))
    assert exhaust_opens.words == "Turn to where 1 exhaust just starts to open: set 1 intake."
    assert intake_closes.words == "Turn to where 1 intake is just about to close: set 1 exhaust."


def test_a_round_sets_the_same_valves_within_two_turns():
    steps = lash_round(EIGHT)
    assert {step.words for step in steps} == {step.words for step in lash_order(EIGHT)}
    assert sum(turning_between(steps)) < 720.0
    assert min(turning_between(steps)) >= 0.0


def test_a_round_goes_by_the_cards_events():
    # Hand-worked for one cylinder: opens 180 - 75 after it fires, closes 540 + 60 after.
    assert [step.crank for step in lash_round((1,), exhaust_opening=75.0, intake_closing=60.0)] == [
        105.0,
        600.0,
    ]
    # An intake that closes past 180 ABDC would be in the next cycle.
    assert [step.crank for step in lash_round((1,), intake_closing=180.0)] == [0.0, 110.0]


def test_steps_without_an_angle_cannot_be_turned_between():
    with pytest.raises(GeometryError, match="carries no crank angle"):
        turning_between(lash_order(EIGHT))


def test_overlap_sets_the_companion():
    steps = overlap_order((1, 3, 4, 2))
    assert [(step.cylinder, step.sets_on) for step in steps] == [(4, 1), (2, 3), (1, 4), (3, 2)]


@pytest.mark.parametrize(
    ("reading", "outcome"),
    [(0.016, "in"), (0.018, "in"), (0.014, "in"), (0.0181, "loose"), (0.0139, "tight"), (0.0, "tight")],
)
def test_lash_against_the_card(reading, outcome):
    verdict = lash_verdict(reading, 0.016, limit=0.002)
    assert (verdict.outcome, verdict.within) == (outcome, outcome == "in")
    assert verdict.difference == pytest.approx(reading - 0.016)


def test_a_lash_below_zero_is_refused():
    with pytest.raises(GeometryError, match=r"lash reading is -0\.001 in"):
        lash_verdict(-0.001, 0.016, limit=0.002)


def test_growth_of_many_lengths():
    # Hand-worked: ten inches of steel, 100 degrees: 12.3 thousandths.
    assert growth(np.array([10.0, 0.0]), "steel", warmer_by=100.0).tolist() == pytest.approx([0.0123, 0.0])
    assert growth(10.0, "steel", warmer_by=-100.0) == pytest.approx(-0.0123)


def test_an_unknown_material_is_refused():
    with pytest.raises(GeometryError, match="choose one of cast aluminium, grey iron"):
        growth(10.0, "oak", warmer_by=10.0)
