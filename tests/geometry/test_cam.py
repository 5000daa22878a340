import numpy as np
import pytest

from valvetrain.geometry.cam import (
    CamEvents,
    card_disagreements,
    duration,
    exhaust_centreline,
    intake_centreline,
    lobe_separation,
    net_lift,
    overlap,
)
from valvetrain.geometry.errors import GeometryError

# Hand-worked: opens 30 before and closes 70 after, 280 in all, so its middle is 110 from the dead
# centre; the exhaust mirrors it.
EVENTS = CamEvents(intake_opening=30.0, intake_closing=70.0, exhaust_opening=74.0, exhaust_closing=34.0)


def test_net_lift_is_lobe_times_ratio_less_lash():
    # Hand-worked: 0.4 x 1.5 - 0.02.
    assert net_lift(0.4, 1.5, lash=0.02) == pytest.approx(0.58)
    assert net_lift(0.4, 1.5) == pytest.approx(0.60)


@pytest.mark.parametrize("lash", [0.6, 0.7])
def test_a_lash_that_eats_the_lift_is_refused(lash):
    with pytest.raises(GeometryError, match="never opens"):
        net_lift(0.4, 1.5, lash=lash)


def test_net_lift_of_many_lobes():
    assert net_lift(np.array([0.4, 0.5]), 1.5).tolist() == pytest.approx([0.6, 0.75])


def test_the_events_give_the_cards_other_numbers():
    assert (EVENTS.intake_duration, EVENTS.exhaust_duration) == (280.0, 288.0)
    assert (EVENTS.intake_centreline, EVENTS.exhaust_centreline) == (110.0, 110.0)
    assert (EVENTS.lobe_separation, EVENTS.overlap) == (110.0, 64.0)


def test_an_opening_after_its_dead_centre_is_negative():
    # Hand-worked: opens 5 ATDC and closes 35 ABDC: 210 in all, its middle at 110 ATDC.
    assert duration(-5.0, 35.0) == 210.0
    assert intake_centreline(-5.0, 35.0) == 110.0
    assert exhaust_centreline(35.0, -5.0) == 110.0


def test_valves_that_are_never_open_together_have_negative_overlap():
    assert overlap(-5.0, -3.0) == -8.0


def test_lobe_separation_is_the_mean():
    assert lobe_separation(106.0, 114.0) == 110.0


def test_a_valve_that_closes_before_it_opens_is_refused():
    with pytest.raises(GeometryError, match="closes before it opens"):
        duration(-100.0, -80.0)
    assert duration(-100.0, -79.0) == 1.0


def test_an_angle_past_the_circle_is_refused():
    with pytest.raises(GeometryError, match="from -180 to 180"):
        CamEvents(30.0, 181.0, 74.0, 34.0)


def test_a_card_that_agrees_is_left_in_peace():
    assert card_disagreements(EVENTS) == []
    assert card_disagreements(EVENTS, intake_duration=280.0, lobe_separation=110.0, overlap=64.0) == []


@pytest.mark.parametrize(("says", "sentences"), [(110.5, 0), (110.51, 1), (109.5, 0), (109.49, 1)])
def test_half_a_degree_is_a_cards_own_rounding(says, sentences):
    assert len(card_disagreements(EVENTS, lobe_separation=says)) == sentences


def test_a_zero_on_the_card_is_a_number():
    assert card_disagreements(EVENTS, overlap=0.0) == ["overlap: the card says 0°, its events give 64°"]


def test_each_number_that_disagrees_has_its_sentence():
    sentences = card_disagreements(
        EVENTS,
        intake_duration=1.0,
        exhaust_duration=1.0,
        intake_centreline=1.0,
        exhaust_centreline=1.0,
        lobe_separation=1.0,
        overlap=1.0,
    )
    assert [sentence.split(":")[0] for sentence in sentences] == [
        "intake duration",
        "exhaust duration",
        "intake centreline",
        "exhaust centreline",
        "lobe separation",
        "overlap",
    ]


def test_a_wider_rounding_may_be_allowed():
    assert card_disagreements(EVENTS, lobe_separation=112.0, rounding=2.0) == []


def test_a_card_number_that_is_none_is_refused():
    with pytest.raises(GeometryError, match="card's number"):
        card_disagreements(EVENTS, overlap=float("nan"))
