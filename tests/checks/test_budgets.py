"""Budgets of the height against an independent package, published worked figures, and a million draws."""

import math
from decimal import Decimal

import numpy as np
import pytest
from uncertainties import ufloat

from builds.models import Instrument, Reading, UsualUncertainty
from builds.uncertainty import Toolbox
from builds.verdicts import Rule
from valvetrain.budget_inputs import formula
from valvetrain.budgets import height_budget
from valvetrain.changes import Inputs
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.estimates import Instrument as Known
from valvetrain.geometry.estimates import reading_estimate
from valvetrain.geometry.judging import verdict
from valvetrain.geometry.uncertainty import combine
from valvetrain.models import HeightGauge

USUAL = {
    "feeler": "0.0005",
    "height-gauge": "0.0006",
    "micrometer": "0.0002",
    "card": "0.001",
    "ratio": "0.01",
}


def drawer() -> Toolbox:
    gauge = Instrument(pk=1, mark="HG-1", kind="height-gauge")
    rows = [UsualUncertainty(key=key, name=key, uncertainty=Decimal(value)) for key, value in USUAL.items()]
    return Toolbox([gauge], rows, complete=True)


def gap(value: str, foot: str = "0") -> Reading:
    return Reading(
        characteristic="stand_gap",
        value=Decimal(value),
        instrument_id=1,
        context={"foot_feeler": {"value": foot}},
    )


@pytest.mark.parametrize("square_at", [0.4, 0.5, 0.6])
@pytest.mark.parametrize("dummy", [None, "0.690"])
@pytest.mark.parametrize("foot", ["0", "0.012"])
def test_the_height_formula_by_the_uncertainties_package(square_at, dummy, foot):
    """Independent method: automatic differentiation of g + f − m − dummy/2 + R − (r + R − k·(lobe·ratio − lash))."""
    gauge = HeightGauge(instrument_id=1, step=Decimal("0.235"), dummy_diameter=dummy and Decimal(dummy))
    inputs = Inputs(
        RockerArm(1.65, 0.235, 0.35), square_at, 0.44 * 1.6 - 0.004, "", ratio=1.6, lobe_lift=0.44, lash=0.004
    )
    found = height_budget([gap("0.024", foot)], inputs, {1: gauge}, drawer())
    half = {key: float(value) / 2 for key, value in USUAL.items()}
    m, g = ufloat(0.024, half["feeler"]), ufloat(0.235, half["height-gauge"])
    f = ufloat(float(foot), half["feeler"]) if float(foot) else 0.0
    tip, shaft = ufloat(0.47, half["micrometer"]), ufloat(0.70, half["micrometer"])
    under = ufloat(float(dummy), half["micrometer"]) if dummy else shaft
    lift = ufloat(0.44, half["card"]) * ufloat(1.6, half["ratio"]) - ufloat(0.004, half["feeler"])
    error = g + f - m - under / 2 + shaft / 2 - (tip / 2 + shaft / 2 - square_at * lift)
    assert found is not None
    assert found.budget.value == pytest.approx(error.nominal_value, abs=1e-12)
    assert found.standard == pytest.approx(error.std_dev, rel=1e-9)
    # Shares as the package tells them; what it leaves out because it cancels has no share with us either.
    theirs = sorted(part**2 / error.std_dev**2 * 100 for part in error.error_components().values())
    ours = sorted(line.share for line in found.lines)[-len(theirs) :]
    assert ours == pytest.approx(theirs, abs=1e-6)


@pytest.mark.parametrize("value", ["0", "0.0005", "0.15"])
def test_what_valves_share_is_the_same_as_worked_out_for_each(value):
    """Independent method: the service's own combine() on the very inputs of this valve, nothing kept."""
    gauge = HeightGauge(instrument_id=1, step=Decimal("0.235"))
    inputs = Inputs(RockerArm(1.65, 0.235, 0.35), 0.5, 0.7, "", ratio=1.6, lobe_lift=0.44, lash=0.004)
    found = height_budget([gap(value, "0.012")], inputs, {1: gauge}, drawer())
    assert found is not None
    alone = combine(formula(found.setup), {key: source.estimate for key, source in found.sources.items()})
    assert found.standard == pytest.approx(alone.uncertainty, rel=1e-9)
    assert found.budget.value == alone.value


def test_root_sum_of_squares_of_a_published_budget():
    """Published: NIST TN 1297, table D.1: nine parts in nm come to 34 (33.81), through the bench's own way of adding."""
    parts = [25, 5.8, 3.9, 6.7, 1.7, 5.8, 10.2, 2.9, 16.6]
    tools = [
        Instrument(pk=n, mark=str(n), kind="other", uncertainty=Decimal(str(2 * part)))
        for n, part in enumerate(parts)
    ]
    box = Toolbox(tools, [], complete=True)
    together = math.hypot(*(box.known(tool).standard or 0.0 for tool in tools))
    assert together == pytest.approx(33.81, abs=0.005)


def test_gum_repeats_through_a_valve():
    """Published: JCGM 100:2008, 4.4.3, n = 20, s/√n = 0.333; as gaps in hundredths of an inch, tools perfect."""
    seen = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11,
        101.20, 101.57, 101.84, 102.36, 102.72,
    ]  # fmt: skip
    gauge = HeightGauge(instrument_id=1, step=Decimal("0.235"))
    inputs = Inputs(RockerArm(1.65, 0.235, 0.35), 0.5, 0.70, "", ratio=1.6, lobe_lift=0.44, lash=0.004)
    perfect = Toolbox([], [], complete=True)
    found = height_budget([gap(str(value / 1000)) for value in seen], inputs, {1: gauge}, perfect)
    assert found is not None
    assert found.standard * 1000 == pytest.approx(0.333, abs=0.0005)
    assert found.budget.degrees_of_freedom == pytest.approx(19)


def test_a_reading_is_known_alike_on_both_floors():
    """Independent method: the service's own figures for a step and a certificate."""
    tool = Instrument(
        pk=1, mark="FE-1", kind="feeler", resolution=Decimal("0.001"), uncertainty=Decimal("0.0004")
    )
    ours = Toolbox([tool], [], complete=True).of(1).standard
    theirs = reading_estimate([0.024], Known(resolution=0.001, stated=0.0004)).uncertainty
    assert ours == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("guarded", [True, False])
def test_verdicts_are_alike_on_both_floors(guarded):
    """Independent method: the service's verdicts over a fine sweep through both limits, ends and edges included."""
    rule = Rule(guard_band=guarded)
    values = np.round(np.arange(-0.0080, 0.00801, 0.0001), 4)
    theirs = verdict(values, lower=-0.005, upper=0.005, expanded=0.0012, guarded=guarded).outcome
    assert [rule.judge(float(value), -0.005, 0.005, 0.0006) for value in values] == list(theirs)


@pytest.mark.parametrize("limit", [-0.005, 0.005])
def test_a_valve_exactly_at_its_limit_is_passed_in_at_most_24_of_a_thousand(limit):
    """A million draws about a true height exactly at the limit, U = 2u. Theory: 2.28 %, the normal's tail at 2 sigma."""
    rule, u = Rule(guard_band=True), 0.0006
    read = np.random.default_rng(20260311).normal(limit, u, 1_000_000)
    passed = sum(rule.judge(value, -0.005, 0.005, u) == "in" for value in read.tolist())
    assert passed / 1_000_000 <= 0.024
    assert passed / 1_000_000 == pytest.approx(0.02275, abs=0.0005)
