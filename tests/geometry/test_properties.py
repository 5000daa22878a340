"""What must hold for any engine, tried on many."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.cam import CamEvents
from valvetrain.geometry.height import (
    height_from_gauge,
    height_from_top,
    height_from_underside,
    pack_for_rise,
    reading_to_expect,
    rise_needed,
    target_height,
    top_of_shaft,
)
from valvetrain.geometry.packs import Piece, StandNeed, choose_packs
from valvetrain.geometry.travel import (
    contact_offsets,
    expected_mark,
    height_error_from_sweep,
    lift_with_height_error,
    sweep,
)

arms = st.builds(RockerArm, st.floats(1.0, 2.5), st.floats(0.1, 0.4), st.floats(0.2, 0.6))
lifts = st.floats(0.05, 0.9)
errors = st.floats(-0.08, 0.08)
squares = st.floats(0.0, 1.0)
big_errors = st.floats(-0.5, 0.5)


@given(arms, lifts, errors)
def test_no_height_sweeps_less_than_the_target(arm, lift, error):
    assert sweep(arm, lift) <= sweep(arm, lift, error) + 1e-15


@given(arms, lifts, st.floats(0.0, 0.03), st.floats(0.0001, 0.03))
def test_the_sweep_grows_with_the_height_error(arm, lift, error, more):
    assert sweep(arm, lift, error) < sweep(arm, lift, error + more)
    assert sweep(arm, lift, error) == pytest.approx(sweep(arm, lift, -error), abs=1e-15)


@given(arms, st.floats(0.05, 0.4), big_errors.map(lambda error: error / 2), squares)
def test_the_sweep_is_the_spread_of_the_trace(arm, lift, error, square_at):
    # Independent method: the trace is sampled, so it may miss the square lift by half a step.
    contact = contact_offsets(arm, lift, height_error=error, square_at=square_at, points=2001).contact
    assert np.ptp(contact) == pytest.approx(sweep(arm, lift, error, square_at=square_at), abs=2e-8)


@given(arms, st.floats(0.05, 0.4), big_errors)
def test_the_mark_gives_its_height_error_back(arm, lift, error):
    found = height_error_from_sweep(arm, lift, sweep(arm, lift, error))
    assert found.magnitude == pytest.approx(abs(error), abs=1e-9)


@given(arms, st.floats(0.05, 0.4), st.floats(0.001, 0.5))
def test_the_factor_is_the_slope_of_height_over_width(arm, lift, error):
    # Independent method: a difference quotient.
    step = 1e-6
    width = sweep(arm, lift, error)
    rise = (sweep(arm, lift, error + step) - sweep(arm, lift, error - step)) / (2 * step)
    assert height_error_from_sweep(arm, lift, width).uncertainty_factor == pytest.approx(1 / rise, rel=1e-2)


@given(arms, lifts, st.floats(0.0, 0.05), st.floats(0.0, 0.05), st.floats(0.1, 0.6), st.floats(0.15, 0.7))
def test_gauge_and_height_are_inverse(arm, lift, gap, feeler, step, dummy):
    height = height_from_gauge(arm, step=step, gap=gap, foot_feeler=feeler, dummy_radius=dummy)
    assert step + feeler - gap == pytest.approx(height + dummy, abs=1e-15)
    assert height_from_top(arm, height + arm.shaft_radius) == pytest.approx(height, abs=1e-15)
    assert height_from_underside(arm, height - arm.shaft_radius) == pytest.approx(height, abs=1e-15)


@given(arms, lifts, st.floats(0.1, 0.6), squares)
def test_reading_what_is_to_be_expected_needs_no_rise(arm, lift, step, square_at):
    expected = reading_to_expect(arm, lift, step, square_at=square_at)
    height = height_from_gauge(arm, step=step, gap=expected.gap, foot_feeler=expected.foot_feeler)
    assert rise_needed(arm, lift, height, square_at=square_at) == pytest.approx(0.0, abs=1e-15)
    assert min(expected.gap, expected.foot_feeler) == 0.0


@given(st.floats(-0.1, 0.1), st.floats(-45.0, 45.0), st.floats(0.0, 0.1))
def test_a_pack_raises_by_the_rise_it_was_for(rise, tilt, in_place):
    thickness = pack_for_rise(rise, tilt, pack_in_place=in_place)
    assert (thickness - in_place) * np.cos(np.radians(tilt)) == pytest.approx(rise, abs=1e-15)


@given(arms, st.floats(0.05, 0.4), errors, squares)
def test_millimetres_and_inches_agree(arm, lift, error, square_at):
    metric = RockerArm(arm.length * 25.4, arm.tip_radius * 25.4, arm.shaft_radius * 25.4)
    inch = {"square_at": square_at}
    for formula in (
        lambda arm, unit: target_height(arm, lift * unit, square_at),
        lambda arm, unit: top_of_shaft(arm, lift * unit, square_at),
        lambda arm, unit: sweep(arm, lift * unit, error * unit, **inch),
        lambda arm, unit: lift_with_height_error(arm, lift * unit, error * unit, **inch),
        lambda arm, unit: expected_mark(arm, lift * unit, shaft_offset=unit, height_error=error * unit).inner,
    ):
        assert formula(metric, 25.4) == pytest.approx(25.4 * formula(arm, 1.0), rel=1e-12, abs=1e-13)


@given(arms, st.floats(0.05, 0.4), errors, squares)
def test_the_swing_that_gives_the_lift_gives_it_back(arm, lift, error, square_at):
    # Independent method: turn the arm from closed by the same swing and see where the roller went.
    start, end = (square_at * lift, (square_at - 1.0) * lift)
    swing = np.arcsin(start / arm.length) - np.arcsin(end / arm.length)
    closed = np.arcsin((start - error) / arm.length)
    dropped = arm.length * (np.sin(closed) - np.sin(closed - swing))
    assert lift_with_height_error(arm, lift, error, square_at=square_at) == pytest.approx(dropped, abs=1e-14)


@given(st.builds(CamEvents, *[st.floats(-20.0, 100.0)] * 4))
def test_overlap_follows_from_durations_and_separation(cam):
    between = 0.5 * (cam.intake_duration + cam.exhaust_duration) - 2.0 * cam.lobe_separation
    assert cam.overlap == pytest.approx(between, abs=1e-10)


drawers = st.lists(
    st.tuples(st.integers(1, 30), st.one_of(st.none(), st.integers(0, 6))),
    max_size=4,
    unique_by=lambda piece: piece[0],
)
mils = st.lists(st.integers(-40, 90), min_size=1, max_size=3)


@given(drawers, mils, st.integers(1, 3), st.integers(1, 4), st.integers(0, 20))
def test_no_other_pack_is_better(drawer, rises, pads, max_pieces, in_place):
    # Independent method: every pack there is, in whole thousandths and half ones.
    def cost(counts):
        pack = sum(count * thickness for count, (thickness, _) in zip(counts, drawer, strict=True))
        worst = max(abs(pack - in_place - rise) for rise in rises)
        return worst, sum(counts), sum(count > 0 for count in counts), pack

    most = [max_pieces if count is None else min(count // pads, max_pieces) for _, count in drawer]
    packs = product(*(range(limit + 1) for limit in most))
    best = min(cost(counts) for counts in packs if sum(counts) <= max_pieces)

    need = StandNeed("L.stand1", [rise / 1000 for rise in rises], pads=pads, pack_in_place=in_place / 1000)
    stock = [Piece(thickness / 1000, count) for thickness, count in drawer]
    (choice,) = choose_packs([need], stock, tolerance=0.005, max_pieces=max_pieces)
    found = (
        choice.worst * 1000,
        sum(count for _, count in choice.pieces),
        len(choice.pieces),
        choice.thickness * 1000,
    )
    assert found == pytest.approx(best, abs=1e-9)


@given(
    st.lists(st.integers(1, 300), min_size=1, max_size=4, unique=True),
    st.lists(st.integers(1, 20), min_size=1, max_size=3, unique=True),
    st.floats(0.0, 0.09),
)
def test_inch_and_metric_shims_together_are_no_worse_than_any_pack(micrometres, mils, rise):
    # Independent method: every pack of up to three, in floating point.
    thicknesses = [size / 25400 for size in micrometres] + [size / 1000 for size in mils]
    sums = {0.0}
    for _ in range(3):
        sums |= {total + thickness for total in sums for thickness in thicknesses}
    (choice,) = choose_packs(
        [StandNeed("L.stand1", [rise])], [Piece(size) for size in thicknesses], tolerance=0.005, max_pieces=3
    )
    # The grid on which thicknesses are compared is 1/127,000,000 in.
    assert choice.worst == pytest.approx(min(abs(total - rise) for total in sums), abs=1 / 127e6)
