"""Uncertainty against the GUM's and NIST's printed figures, a package, and a million draws."""

import math

import numpy as np
import pytest
from uncertainties import ufloat, umath

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.estimates import (
    Estimate,
    from_resolution,
    rectangular,
    repeats,
    root_sum_of_squares,
    triangular,
)
from valvetrain.geometry.height import height_from_gauge, pack_for_rise, rise_needed
from valvetrain.geometry.judging import guard_factor, verdict
from valvetrain.geometry.uncertainty import combine, coverage_factor

# Published: JCGM 100:2008 (the GUM), 4.4.3, table 1: twenty temperatures.
TABLE_1 = [
    *(96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07),
    *(100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72),
]


def test_the_gums_twenty_temperatures():
    # Published, as above: mean 100.14(5), s 1.489, s/√n 0.333.
    several = repeats(TABLE_1)
    assert several.mean == pytest.approx(100.145, abs=5e-4)
    assert several.deviation == pytest.approx(1.489, abs=5e-4)
    assert several.uncertainty == pytest.approx(0.333, abs=5e-4)


# Published: NIST StRD, univariate summary statistics, certified values.
NUM_ACC_1 = ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0)
NUM_ACC_3 = ([1000000.2, *[1000000.1, 1000000.3] * 500], 1000000.2, 0.1)


@pytest.mark.parametrize(("readings", "mean", "deviation"), [NUM_ACC_1, NUM_ACC_3])
def test_nists_hard_sums(readings, mean, deviation):
    several = repeats(readings)
    assert several.mean == pytest.approx(mean, rel=1e-9)
    assert several.deviation == pytest.approx(deviation, rel=1e-9)


def test_nists_nine_parts():
    # Published: NIST TN 1297, table D.1, in nm: 34.
    parts = [25.0, 5.8, 3.9, 6.7, 1.7, 5.8, 10.2, 2.9, 16.6]
    assert root_sum_of_squares(parts) == pytest.approx(34.0, abs=0.5)


def test_the_gums_distributions():
    # Published: GUM 4.3.7: a/√3 is 29 for a half width of 50; 4.3.9: a/√6; F.2.2.1: 0.29 of a step.
    assert rectangular(50.0) == pytest.approx(50.0 / math.sqrt(3.0))
    assert rectangular(50.0) == pytest.approx(29.0, abs=0.5)
    assert triangular(1.0) == pytest.approx(1.0 / math.sqrt(6.0))
    assert from_resolution(1.0) == pytest.approx(0.29, abs=0.005)


# Published: NIST TN 1297, table B.1, value of t for 95.45 % by degrees of freedom (as GUM table G.2).
TABLE_B_1 = [
    *[(1, 13.97), (2, 4.53), (3, 3.31), (4, 2.87), (5, 2.65), (6, 2.52), (7, 2.43), (8, 2.37), (9, 2.32)],
    *[(10, 2.28), (12, 2.23), (16, 2.17), (20, 2.13), (30, 2.09), (50, 2.05), (math.inf, 2.000)],
]


@pytest.mark.parametrize(("freedom", "factor"), TABLE_B_1)
def test_nists_table_of_t(freedom, factor):
    assert coverage_factor(freedom) == pytest.approx(factor, abs=0.005)


@pytest.mark.parametrize(("freedom", "factor"), [(5, 2.57), (10, 2.23), (16, 2.12), (math.inf, 1.960)])
def test_nists_table_of_t_for_95_percent(freedom, factor):
    # Published, as above.
    assert coverage_factor(freedom, 0.95) == pytest.approx(factor, abs=0.005)


def test_the_gums_end_gauge():
    # Published: GUM H.1.6 (from memory): parts of 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of
    # freedom make 32 nm with 16.7. The parts are printed rounded, which is worth a tenth.
    parts = {
        "standard": Estimate(0.0, 25.0, 18.0),
        "difference": Estimate(0.0, 9.7, 25.6),
        "expansion": Estimate(0.0, 2.9, 50.0),
        "temperature": Estimate(0.0, 16.6, 2.0),
    }
    budget = combine(lambda **each: math.fsum(each.values()), parts)
    assert budget.uncertainty == pytest.approx(32.0, abs=0.5)
    assert budget.degrees_of_freedom == pytest.approx(16.7, abs=0.1)


# The stand's height, by a package that carries derivatives through the formula


def _pack(*, length, tip_radius, shaft_radius, lift, square_at, step, foot_feeler, gap, pad_tilt):
    arm = RockerArm(length=length, tip_radius=tip_radius, shaft_radius=shaft_radius)
    now = height_from_gauge(arm, step=step, gap=gap, foot_feeler=foot_feeler)
    return pack_for_rise(rise_needed(arm, lift, now, square_at=square_at), pad_tilt)


INPUTS = {
    "length": Estimate(1.5, 0.002),
    "tip_radius": Estimate(0.237, 0.0005),
    "shaft_radius": Estimate(0.350, 0.0002),
    "lift": Estimate(0.742, 0.0015),
    "square_at": Estimate(0.5, 0.002),
    "step": Estimate(0.225, 0.0004),
    "foot_feeler": Estimate(0.0, 0.0001),
    "gap": Estimate(0.031, 0.0005),
    "pad_tilt": Estimate(7.0, 0.25),
}


def _by_the_package():
    x = {name: ufloat(each.value, each.uncertainty) for name, each in INPUTS.items()}
    target = x["tip_radius"] + x["shaft_radius"] - x["square_at"] * x["lift"]
    now = x["step"] + x["foot_feeler"] - x["gap"]
    return (target - now) / umath.cos(x["pad_tilt"] * math.pi / 180.0), x


def test_the_stand_height_agrees_with_the_package():
    # Independent method: the package `uncertainties`, exact derivatives.
    pack, _inputs = _by_the_package()
    budget = combine(_pack, INPUTS)
    assert budget.value == pytest.approx(pack.nominal_value, abs=1e-12)
    assert budget.uncertainty == pytest.approx(pack.std_dev, rel=1e-8)


def test_every_part_of_it_agrees_with_the_package():
    # Independent method, as above. A zero under the foot is the end of what a feeler can be.
    pack, inputs = _by_the_package()
    expected = {name: pack.error_components().get(each, 0.0) for name, each in inputs.items()}
    found = {part.name: part.adds for part in combine(_pack, INPUTS).contributions}
    assert found == pytest.approx(expected, rel=1e-8, abs=1e-15)


# Guard bands

DRAWS = 1_000_000


def _accepted(true_value, guard, *, uncertainty=0.0004, seed=20):
    noise = np.random.default_rng(seed).normal(0.0, uncertainty, DRAWS)
    outcome = verdict(true_value + noise, lower=-0.005, upper=0.005, expanded=guard).outcome
    return float(np.mean(outcome == "in"))


def test_a_value_at_the_limit_is_hardly_ever_passed():
    # Independent method: a million readings of a value exactly at the limit, seeded. Two sigma: 2.28 %.
    accepted = _accepted(0.005, 2 * 0.0004)
    assert accepted <= 0.024
    assert accepted == pytest.approx(0.02275, abs=4 * math.sqrt(0.02275 / DRAWS))


def test_a_guard_band_for_five_percent():
    # Published: JCGM 106 and tables of the normal distribution: 1.644854; ISO 14253-1:2017 uses 1.65.
    assert guard_factor(0.05) == pytest.approx(1.644854, abs=5e-7)
    assert guard_factor(0.05) == pytest.approx(1.65, abs=0.0055)
    assert _accepted(-0.005, guard_factor(0.05) * 0.0004) == pytest.approx(0.05, abs=0.001)


def test_without_a_guard_band_half_of_them_pass():
    assert _accepted(0.005, 0.0) == pytest.approx(0.5, abs=0.002)


def test_the_spread_of_a_million_draws():
    # Independent method: the stand's formula itself on a million drawn inputs.
    random = np.random.default_rng(21)
    drawn = {name: random.normal(each.value, each.uncertainty, DRAWS) for name, each in INPUTS.items()}
    top = drawn["tip_radius"] + drawn["shaft_radius"] - drawn["square_at"] * drawn["lift"]
    rise = top - (drawn["step"] + drawn["foot_feeler"] - drawn["gap"])
    packs = rise / np.cos(np.radians(drawn["pad_tilt"]))
    assert combine(_pack, INPUTS).uncertainty == pytest.approx(packs.std(), rel=0.004)
