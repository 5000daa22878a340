import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.lobe import card_lobe, event_lobe

CARD = [(0.020, 280.0), (0.050, 248.0), (0.200, 160.0)]
LOBE = card_lobe(CARD, max_lift=0.420, nose_at=108.0)
UNEVEN = event_lobe([(0.020, -34.0, 250.0), (0.050, -18.0, 231.0)], max_lift=0.420, nose_at=104.0)
# Every degree of a cycle, from the nose's far side to its far side.
CYCLE = np.arange(-252.0, 468.0, 0.25)


@st.composite
def cards(draw):
    """Cards as grinders print them, and odder ones: any lifts, each lower one open for longer."""
    lifts = sorted(draw(st.sets(st.sampled_from([0.006, 0.02, 0.05, 0.1, 0.2, 0.3]), min_size=1)))
    steps = [draw(st.floats(2.0, 60.0)) for _ in lifts]
    durations = np.cumsum([draw(st.floats(60.0, 180.0)), *steps[1:]])[::-1].tolist()
    return list(zip(lifts, durations, strict=True))


@pytest.mark.parametrize(("lift", "duration"), CARD)
def test_a_cards_durations_come_back(lift, duration):
    assert LOBE.duration_at(lift) == pytest.approx(duration, abs=1e-9)


def test_the_lift_at_a_cards_events_is_the_cards():
    # Hand-worked: 248 about 108 opens at -16 and closes at 232.
    assert LOBE.events_at(0.050) == (pytest.approx(-16.0, abs=1e-9), pytest.approx(232.0, abs=1e-9))
    assert LOBE.lift([-16.0, 232.0]).tolist() == pytest.approx([0.050, 0.050], abs=1e-12)


def test_most_lift_is_at_the_centreline():
    assert LOBE.lift(108.0) == pytest.approx(0.420, abs=1e-12)
    assert LOBE.velocity(108.0) == pytest.approx(0.0, abs=1e-12)
    assert LOBE.acceleration(108.0) < 0.0
    assert LOBE.lift(CYCLE).max() <= 0.420 + 1e-12


def test_the_ramp_ends_on_the_base_circle():
    # Hand-worked: 280 about 108 and 30 more at either end.
    assert (LOBE.opens_at, LOBE.closes_at) == (-62.0, 278.0)
    assert LOBE.lift([-62.0, 278.0, 300.0, -100.0]).tolist() == pytest.approx([0.0] * 4, abs=1e-12)
    assert 0.0 < LOBE.lift(-61.0) < 1e-4


def test_a_longer_ramp_starts_sooner_and_keeps_the_card():
    longer = card_lobe(CARD, max_lift=0.420, nose_at=108.0, ramp=45.0)
    assert longer.opens_at == -77.0
    assert longer.duration_at(0.050) == pytest.approx(248.0, abs=1e-9)


def test_even_flanks_mirror_each_other():
    away = np.linspace(0.0, 180.0, 91)
    assert LOBE.lift(108.0 + away).tolist() == pytest.approx(LOBE.lift(108.0 - away).tolist(), abs=1e-12)


def test_the_next_cycle_is_the_same():
    assert LOBE.lift(CYCLE + 720.0).tolist() == pytest.approx(LOBE.lift(CYCLE).tolist(), abs=1e-12)
    assert LOBE.lift(CYCLE - 1440.0).tolist() == pytest.approx(LOBE.lift(CYCLE).tolist(), abs=1e-12)


def test_an_exhaust_lobe_stands_before_the_overlap():
    # Hand-worked: 112 BTDC less half of 256 is -240, which is 60 BBDC.
    exhaust = card_lobe([(0.050, 256.0)], max_lift=0.400, nose_at=-112.0)
    assert exhaust.events_at(0.050) == (pytest.approx(-240.0), pytest.approx(16.0))


def test_uneven_flanks_keep_their_own_events():
    assert UNEVEN.events_at(0.020) == (pytest.approx(-34.0, abs=1e-9), pytest.approx(250.0, abs=1e-9))
    assert UNEVEN.events_at(0.050) == (pytest.approx(-18.0, abs=1e-9), pytest.approx(231.0, abs=1e-9))
    assert UNEVEN.lift(104.0) == pytest.approx(0.420, abs=1e-12)


@pytest.mark.parametrize("lobe", [LOBE, UNEVEN], ids=["even", "uneven"])
def test_nothing_jumps_at_the_points_or_the_nose(lobe):
    # Both sides of every joint, from the neighbouring pieces: lift, velocity and acceleration.
    pieces = lobe.pieces
    for derivative in range(3):
        one = pieces.derivative(derivative) if derivative else pieces
        widths = np.diff(one.x)[:-1]
        left = [np.polyval(one.c[:, n], width) for n, width in enumerate(widths)]
        assert left == pytest.approx(one.c[-1, 1:].tolist(), abs=1e-13)


def test_the_slopes_are_the_slopes_of_the_lift():
    # Independent method: difference quotients, away from the joints.
    angles = np.linspace(-50.0, 270.0, 41) + 0.123
    step = 1e-3
    slope = (LOBE.lift(angles + step) - LOBE.lift(angles - step)) / (2 * step)
    bend = (LOBE.velocity(angles + step) - LOBE.velocity(angles - step)) / (2 * step)
    assert LOBE.velocity(angles).tolist() == pytest.approx(slope.tolist(), abs=1e-10)
    assert LOBE.acceleration(angles).tolist() == pytest.approx(bend.tolist(), abs=1e-10)


@given(cards(), st.floats(0.01, 0.3), st.floats(10.0, 45.0))
def test_any_card_makes_a_lobe_that_never_turns_back(card, above, ramp):
    lobe = card_lobe(card, max_lift=card[-1][0] + above, nose_at=108.0, ramp=ramp)
    assert lobe.velocity(np.arange(-252.0, 108.0, 0.5)).min() >= -1e-11
    assert lobe.velocity(np.arange(108.0, 468.0, 0.5)).max() <= 1e-11
    for lift, duration in card:
        assert lobe.duration_at(lift) == pytest.approx(duration, abs=1e-6)


def test_a_steep_card_is_drawn_in_rather_than_turned_back():
    # A lobe nearly as wide at 0.050 as at 0.020, and slim above: the smoothest curve would overshoot.
    steep = card_lobe([(0.020, 260.0), (0.050, 255.0), (0.200, 90.0)], max_lift=0.420, nose_at=108.0)
    assert np.diff(steep.lift(np.arange(-60.0, 108.5, 0.5))).min() >= -1e-12
    assert steep.duration_at(0.050) == pytest.approx(255.0, abs=1e-9)


@pytest.mark.parametrize("lift", [0.42, 0.5])
def test_an_event_above_the_nose_is_refused(lift):
    with pytest.raises(GeometryError, match=r"lifts 0\.42 in and never comes"):
        LOBE.events_at(lift)


@pytest.mark.parametrize(
    ("card", "says"),
    [
        ([], "no lift with a duration"),
        ([(0.050, 248.0), (0.050, 250.0)], r"0\.05 in is given twice"),
        ([(0.020, 240.0), (0.050, 248.0)], r"not open for longer at 0\.02 in"),
        ([(0.020, 248.0), (0.050, 248.0)], "not open for longer"),
        ([(0.450, 100.0)], r"event at 0\.45 in and the lobe lifts only 0\.42"),
        ([(0.420, 100.0)], "lifts only"),
        ([(0.050, 0.0)], "above 0 and below 720"),
        ([(0.0, 280.0)], "lift that a duration is read at is 0 in"),
        ([(0.020, 700.0)], "more than the whole cycle"),
        ([(0.020, float("nan"))], "duration is nan"),
    ],
)
def test_a_card_that_no_lobe_can_have_is_refused(card, says):
    with pytest.raises(GeometryError, match=says):
        card_lobe(card, max_lift=0.420, nose_at=108.0)


def test_a_nose_outside_its_events_is_refused():
    with pytest.raises(GeometryError, match="BTDC is negative"):
        event_lobe([(0.050, -18.0, 231.0)], max_lift=0.420, nose_at=-108.0)


def test_a_float_for_a_float():
    assert all(isinstance(read(100.0), float) for read in (LOBE.lift, LOBE.velocity, LOBE.acceleration))
    assert isinstance(LOBE.duration_at(0.05), float)
    assert LOBE.duration_at([0.05, 0.2]).tolist() == pytest.approx([248.0, 160.0])
