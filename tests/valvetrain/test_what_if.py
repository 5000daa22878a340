"""What if: one valve’s arithmetic, the screen, kept trials. The engine is `tests.scenes`; figures are hand-worked."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.what_if import cup_height, figures_of, mark_walk, what_if
from valvetrain.what_if_setup import Changes, Setup

# Arm 1.650, roller .470, shaft .700; .440 × 1.6 − .004 = .700 net; right height .585 − .350 = .235; read .024 low.
TODAY = Setup(
    arm_length=1.65, tip_radius=0.235, shaft_radius=0.35, ratio=1.6, lobe_lift=0.44, lash=0.004, lift=0.7,
    top_now=0.211, gauge_step=0.235, installed_height=1.95, seat_load=200.0, spring_rate=500.0, solid_height=1.15,
    retainer_to_seal=0.09, rocker_to_retainer=0.06, piston_to_valve=0.12, pushrod_length=9.2,
)  # fmt: skip

small = st.floats(-0.05, 0.05)


def test_today_is_what_the_bench_says():
    was = figures_of(TODAY)
    assert was.target_top == pytest.approx(0.235)
    assert was.rise == pytest.approx(0.024)
    assert was.over_gauge == pytest.approx(0.0)
    assert (was.open_height, was.coil_bind_margin) == pytest.approx((1.25, 0.1))
    assert was.open_load == pytest.approx(550.0)


def test_a_tip_that_comes_up_brings_the_stand_up_by_as_much():
    """Hand-worked from the rule: δ = .050 up, the stand rises .050."""
    outcome = what_if(TODAY, Changes(lash_cap=0.050))
    assert outcome.stand_move == pytest.approx(0.050)
    assert outcome.now.rise == pytest.approx(0.074)
    assert outcome.now.target_top == pytest.approx(0.235)


def test_more_lift_brings_the_stand_down_by_its_part():
    """Hand-worked: .040 more at half lift, the stand comes down .020; the gauge then shows the .020 as a gap."""
    outcome = what_if(TODAY, Changes(net_lift=0.740))
    assert outcome.stand_move == pytest.approx(-0.020)
    assert outcome.now.target_top == pytest.approx(0.215)
    assert outcome.now.rise == pytest.approx(0.004)
    assert outcome.now.over_gauge == pytest.approx(0.020)


def test_both_at_once_add_up():
    outcome = what_if(TODAY, Changes(net_lift=0.740, longer_valve=0.100, deeper_seat=0.010))
    assert outcome.stand_move == pytest.approx(0.110 - 0.020)


def test_less_lift_asks_a_feeler_under_the_foot():
    assert what_if(TODAY, Changes(net_lift=0.680)).now.over_gauge == pytest.approx(-0.010)


def test_square_at_another_part_of_the_lift():
    """Hand-worked: k from .5 to .4 of .700 lets the shaft stand .070 higher."""
    assert what_if(TODAY, Changes(square_at=0.4)).stand_move == pytest.approx(0.070)


def test_a_thicker_shaft_on_the_same_centre_moves_no_stand():
    outcome = what_if(TODAY, Changes(shaft_radius=0.375))
    assert outcome.stand_move == pytest.approx(0.0)
    assert outcome.now.rise == pytest.approx(0.024)
    assert outcome.now.target_top == pytest.approx(0.260)


def test_a_larger_roller_brings_the_stand_up_by_its_radius():
    assert what_if(TODAY, Changes(tip_radius=0.250)).stand_move == pytest.approx(0.015)


def test_the_card_s_arithmetic_is_added_to_a_measured_lift():
    """.010 more lobe lift × 1.6 = .016 on top of the .690 that was measured, not of the card's .700."""
    measured = replace(TODAY, lift=0.690)
    assert what_if(measured, Changes(lobe_lift=0.450)).now.lift == pytest.approx(0.706)


def test_lash_comes_off_the_lift():
    assert what_if(TODAY, Changes(lash=0.014)).now.lift == pytest.approx(0.690)


def test_a_typed_lift_outranks_the_arithmetic():
    assert what_if(TODAY, Changes(net_lift=0.720, ratio=1.7)).now.lift == 0.720


def test_a_ratio_without_a_lobe_lift_asks_for_it():
    outcome = what_if(replace(TODAY, lobe_lift=None), Changes(ratio=1.7))
    assert outcome.now.problems == (
        "the net lift cannot be worked out without the lobe lift: type the lobe lift too, or the net lift itself",
    )


def test_what_moves_the_retainer_moves_the_spring_and_the_seal():
    """A seat .010 deeper: spring .010 taller, 5 lbf lighter at 500 lbf/in, .010 more to the seal and to the piston."""
    now = what_if(TODAY, Changes(deeper_seat=0.010)).now
    assert now.installed_height == pytest.approx(1.960)
    assert now.seat_load == pytest.approx(195.0)
    assert now.coil_bind_margin == pytest.approx(0.110)
    assert now.retainer_to_seal == pytest.approx(0.100)
    assert now.piston_to_valve == pytest.approx(0.130)
    assert now.rocker_to_retainer == pytest.approx(0.060)


def test_a_longer_valve_leaves_the_piston_alone_and_moves_the_retainer_where_its_groove_moves():
    moved = what_if(TODAY, Changes(longer_valve=0.100)).now
    stayed = what_if(TODAY, Changes(longer_valve=0.100, groove_stays=True)).now
    assert moved.piston_to_valve == stayed.piston_to_valve == pytest.approx(0.120)
    assert (moved.installed_height, stayed.installed_height) == pytest.approx((2.050, 1.950))
    assert (moved.rocker_to_retainer, stayed.rocker_to_retainer) == pytest.approx((0.060, 0.160))


def test_a_cap_gives_the_rocker_room_over_the_retainer():
    assert what_if(TODAY, Changes(lash_cap=0.080)).now.rocker_to_retainer == pytest.approx(0.140)


def test_more_lift_takes_room_and_less_gives_none_at_the_piston():
    more, less = (what_if(TODAY, Changes(net_lift=lift)).now for lift in (0.740, 0.660))
    assert (more.coil_bind_margin, less.coil_bind_margin) == pytest.approx((0.060, 0.140))
    assert (more.retainer_to_seal, less.retainer_to_seal) == pytest.approx((0.050, 0.130))
    assert (more.piston_to_valve, less.piston_to_valve) == pytest.approx((0.080, 0.120))
    assert more.open_load == pytest.approx(570.0)


def test_a_spring_shimmed_to_another_height_keeps_its_rate():
    now = what_if(TODAY, Changes(installed_height=1.900)).now
    assert (now.seat_load, now.coil_bind_margin) == pytest.approx((225.0, 0.050))


def test_another_arm_leaves_no_claim_about_the_room_over_the_retainer():
    assert what_if(TODAY, Changes(arm_length=1.7)).now.rocker_to_retainer is None


def test_the_pushrod_follows_the_cup():
    """A cap lifts the whole rocker; a stand down .020 takes the cup down .020 × (1 + 1/1.6) = .0325."""
    assert what_if(TODAY, Changes(lash_cap=0.050)).pushrod_length == pytest.approx(9.250)
    assert what_if(TODAY, Changes(net_lift=0.740)).pushrod_change == pytest.approx(-0.0325)


def test_a_typed_pushrod_is_held_against_what_the_trial_asks():
    outcome = what_if(TODAY, Changes(lash_cap=0.050, pushrod_length=9.200))
    assert outcome.pushrod_spare == pytest.approx(-0.050)


def linkage(today: Setup, **more: float | tuple[float, float, float]) -> PushrodLinkage:
    """The pushrod's side of an arm that is straight across, its mark centred."""
    offset = 1.65 - 0.5 * figures_of(today).sweep
    return PushrodLinkage(
        today.arm, **{"shaft_height": -0.1, "shaft_offset": offset, "cup_radius": 1.65 / 1.6, "cup_angle": 180.0} | more
    )  # fmt: skip


def test_with_the_pushrod_s_side_the_linkage_says_how_long():
    """Square when closed, the cup stands r above the tip, straight over a lifter 3.765 below it and 3 along: 4, 3, 5."""
    today = replace(TODAY, square_at=0.0)
    offset = 1.65 - 0.5 * figures_of(today).sweep
    side = linkage(today, cup_radius=1.03, lifter_point=(-offset - 1.03, -3.765, 3.0))
    outcome = what_if(replace(today, linkage=side), Changes(lash_cap=0.05))
    assert outcome.pushrod_exact
    assert outcome.pushrod_change == pytest.approx((4.05**2 + 9) ** 0.5 - 5, abs=1e-12)


def test_the_lever_agrees_with_the_linkage_where_the_pushrod_runs_along_the_valve():
    """Independent method: a cup straight across, a pushrod ten inches long, two thousandths apart at most."""
    side = linkage(TODAY, lifter_point=(-2.63, -10.0, 0.0))
    changes = Changes(net_lift=0.76, lash_cap=0.08)
    exact = what_if(replace(TODAY, linkage=side), changes).pushrod_change
    assert what_if(TODAY, changes).pushrod_change == pytest.approx(exact, abs=0.002)


def test_the_linkage_also_takes_the_arithmetic_of_the_lever_for_a_higher_ratio():
    side = linkage(TODAY, lifter_point=(-2.63, -10.0, 0.0))
    exact = what_if(replace(TODAY, linkage=side), Changes(ratio=1.7)).pushrod_change
    assert what_if(TODAY, Changes(ratio=1.7)).pushrod_change == pytest.approx(exact, abs=0.002)


def test_a_shim_on_a_tilted_pad_walks_the_mark_by_what_it_carries_across():
    """Hand-worked: .100 more pack at 10° carries t·sin φ = .01736; the lift is the same, so nothing else moves it."""
    outcome = what_if(replace(TODAY, pad_tilt=10.0), Changes(lash_cap=0.0985))
    assert mark_walk(outcome, 0.0, 0.100 * 0.17364818) == pytest.approx(0.017365, abs=5e-7)


def test_a_longer_arm_on_the_same_stand_walks_the_mark_out():
    """Square at half lift its middle is L less half the sweep."""
    outcome = what_if(TODAY, Changes(arm_length=1.66))
    middle = 0.010 - 0.5 * (outcome.now.sweep - outcome.was.sweep)
    assert mark_walk(outcome, 0.0, 0.0) == pytest.approx(middle)


def test_a_lift_that_the_arm_cannot_follow_is_a_sentence():
    outcome = what_if(TODAY, Changes(net_lift=3.5))
    assert outcome.now.target_top is None
    assert any("the arm cannot reach" in sentence for sentence in outcome.now.problems)


def test_a_lift_of_the_whole_spring_leaves_the_heights_alone():
    outcome = what_if(replace(TODAY, installed_height=0.65), Changes(net_lift=0.7))
    assert outcome.now.target_top == pytest.approx(0.235)
    assert any("as much as the whole spring" in sentence for sentence in outcome.now.problems)


def test_without_records_nothing_is_claimed():
    outcome = what_if(Setup(), Changes(lash_cap=0.05))
    assert [name for name in outcome.now if getattr(outcome.now, name) is not None] == []
    assert (outcome.stand_move, outcome.pushrod_change, cup_height(Setup())) == (None, None, None)


@given(lift=st.floats(0.3, 0.9), low=small, tilt=st.floats(-20, 20))
def test_nothing_changed_is_no_difference(lift, low, tilt):
    today = replace(TODAY, lift=lift, top_now=0.235 + low, pad_tilt=tilt)
    outcome = what_if(today, Changes())
    assert outcome.now == outcome.was
    assert (outcome.stand_move, outcome.pushrod_change) == (0.0, 0.0)
    assert mark_walk(outcome, 0.01, 0.01) == 0.0


@given(cap=small, deeper=small, longer=small, lift=small)
def test_what_moves_the_stand_adds_up(cap, deeper, longer, lift):
    apart = [
        Changes(lash_cap=cap), Changes(deeper_seat=deeper), Changes(longer_valve=longer), Changes(net_lift=0.7 + lift),
    ]  # fmt: skip
    together = Changes(lash_cap=cap, deeper_seat=deeper, longer_valve=longer, net_lift=0.7 + lift)
    moves = sum(what_if(TODAY, change).stand_move for change in apart)
    assert what_if(TODAY, together).stand_move == pytest.approx(moves, abs=1e-12)


LENGTHS = [
    name
    for name in Setup.__dataclass_fields__
    if name not in {"square_at", "ratio", "pad_tilt", "seat_load", "linkage"}
]


def in_mm(today: Setup) -> Setup:
    """The same valve with every length in millimetres, and its rate for each of them."""
    scaled = {name: value * 25.4 for name in LENGTHS if (value := getattr(today, name)) is not None}
    return replace(today, **scaled | {"spring_rate": today.spring_rate / 25.4})


@given(cap=small, lift=st.floats(0.5, 0.9), arm=st.floats(1.4, 1.9))
def test_inches_and_millimetres_agree(cap, lift, arm):
    inches = what_if(TODAY, Changes(lash_cap=cap, net_lift=lift, arm_length=arm))
    metric = what_if(in_mm(TODAY), Changes(lash_cap=cap * 25.4, net_lift=lift * 25.4, arm_length=arm * 25.4))
    assert metric.stand_move == pytest.approx(inches.stand_move * 25.4, abs=1e-9)
    for name in inches.now:
        value = getattr(inches.now, name)
        scale = 1.0 if name in {"seat_load", "open_load"} else 25.4
        assert getattr(metric.now, name) == (
            value if value is None else pytest.approx(value * scale, abs=1e-9)
        )
