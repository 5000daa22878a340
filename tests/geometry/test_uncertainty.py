import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.estimates import (
    Estimate,
    Instrument,
    from_resolution,
    from_stated,
    reading_estimate,
    rectangular,
    repeats,
    root_sum_of_squares,
    triangular,
)
from valvetrain.geometry.judging import guard_factor, verdict
from valvetrain.geometry.uncertainty import combine, coverage_factor, what_if_better

# Hand-worked throughout: threes, fours and fives.
STEP, GAP = Estimate(0.212, 0.0004), Estimate(0.020, 0.0003)


def _difference(step, gap):
    return step - gap


def _budget(**changed):
    return combine(_difference, {"step": STEP, "gap": GAP, **changed})


def test_a_step_of_one_is_a_twelfth():
    assert from_resolution(0.001) ** 2 * 12 == pytest.approx(0.001**2)


def test_bounds_in_the_middle_count_for_less():
    assert rectangular(0.003) == pytest.approx(0.003 / 1.7320508)
    assert triangular(0.003) == pytest.approx(0.003 / 2.4494897)
    assert rectangular(0.0) == 0.0


def test_what_is_stated_is_divided_by_its_factor():
    assert from_stated(0.0006) == pytest.approx(0.0003)
    assert from_stated(0.0006, 3.0) == pytest.approx(0.0002)
    assert from_stated(np.array([0.0006, 0.0]), 3.0).tolist() == pytest.approx([0.0002, 0.0])


def test_an_instrument_adds_its_step_and_what_is_stated():
    # A step of 0.0003 times the root of twelve has 0.0003; with 0.0004 stated it makes 0.0005.
    known = Instrument(resolution=0.0003 * math.sqrt(12), stated=0.0012, coverage=3.0)
    assert known.uncertainty == pytest.approx(0.0005)


@pytest.mark.parametrize("number", ["resolution", "coverage"])
def test_an_instrument_without_a_step_or_a_factor_is_refused(number):
    with pytest.raises(GeometryError, match="above zero"):
        Instrument(**{"resolution": 0.001, number: 0.0})


def test_repeats():
    several = repeats([0.020, 0.024, 0.022])
    assert (several.mean, several.spread, several.count) == (pytest.approx(0.022), pytest.approx(0.004), 3)
    assert several.deviation == pytest.approx(0.002)
    assert several.uncertainty == pytest.approx(0.002 / math.sqrt(3))
    assert several.degrees_of_freedom == 2


def test_one_reading_has_no_scatter():
    one = repeats([0.020])
    assert (one.mean, one.spread, one.count, one.deviation, one.uncertainty) == (0.020, 0.0, 1, None, None)


def test_readings_that_agree_scatter_by_nothing():
    assert repeats([0.021] * 3).deviation == 0.0


def test_no_reading_is_refused():
    with pytest.raises(GeometryError, match="no reading"):
        repeats([])


def test_a_reading_that_is_text_is_refused():
    with pytest.raises(GeometryError, match="not a number"):
        repeats([0.020, "0.021"])


def test_a_mean_of_readings_does_not_average_the_instrument_away():
    known = Instrument(resolution=0.0004 * math.sqrt(12))
    # Two readings 0.0006 apart: a deviation of 0.0006 / root two, so 0.0003 for the mean.
    estimate = reading_estimate([0.0197, 0.0203], known)
    assert estimate.uncertainty == pytest.approx(0.0005)
    assert estimate.value == pytest.approx(0.020)
    # One degree of freedom, for 0.6 of the whole: 1 / 0.6 to the fourth.
    assert estimate.degrees_of_freedom == pytest.approx(1 / 0.6**4)


def test_a_single_reading_is_known_as_its_instrument_is():
    known = Instrument(resolution=0.001)
    assert reading_estimate([0.020], known) == Estimate(0.020, known.uncertainty)


def test_uncertainties_add_by_their_squares():
    assert root_sum_of_squares([0.0003, 0.0004]) == pytest.approx(0.0005)
    assert root_sum_of_squares([]) == 0.0


@pytest.mark.parametrize("freedom", [0.0, -1.0, float("nan")])
def test_an_estimate_needs_degrees_of_freedom(freedom):
    with pytest.raises(GeometryError, match="degrees of freedom"):
        Estimate(1.0, 0.1, freedom)
    with pytest.raises(GeometryError, match="degrees of freedom"):
        coverage_factor(freedom)


# Budgets


def test_a_budget_of_two():
    budget = _budget()
    assert (budget.value, budget.uncertainty) == (pytest.approx(0.192), pytest.approx(0.0005))
    assert budget.expanded == pytest.approx(0.0010)
    assert budget.degrees_of_freedom == math.inf


def test_the_greatest_comes_first_and_shares_make_a_hundred():
    budget = _budget()
    assert [(part.name, part.share) for part in budget.contributions] == [
        ("step", pytest.approx(64.0)),
        ("gap", pytest.approx(36.0)),
    ]
    assert [part.sensitivity for part in budget.contributions] == pytest.approx([1.0, -1.0])


def test_a_coverage_of_ones_own():
    assert combine(_difference, {"step": STEP, "gap": GAP}, coverage=3.0).expanded == pytest.approx(0.0015)


def test_a_sensitivity_that_is_known_is_taken():
    budget = combine(_difference, {"step": STEP, "gap": GAP}, sensitivities={"gap": -4 / 3, "step": 0.75})
    assert budget.uncertainty == pytest.approx(0.0005)
    assert [part.sensitivity for part in budget.contributions] == [-4 / 3, 0.75]


def test_a_sensitivity_of_no_input_is_refused():
    with pytest.raises(GeometryError, match="given for lift, which is no input"):
        combine(_difference, {"step": STEP, "gap": GAP}, sensitivities={"lift": 1.0})


def test_inputs_that_are_exact_leave_nothing():
    budget = _budget(step=Estimate(0.212, 0.0), gap=Estimate(0.020, 0.0))
    assert (budget.uncertainty, budget.degrees_of_freedom) == (0.0, math.inf)
    assert [part.share for part in budget.contributions] == [0.0, 0.0]


def test_a_formula_without_inputs_is_exact():
    budget = combine(lambda: 2.0, {})
    assert (budget.value, budget.uncertainty, budget.contributions) == (2.0, 0.0, ())


def test_few_readings_leave_few_degrees_of_freedom():
    # Welch-Satterthwaite by hand: 0.6 of the whole with 2 degrees, the rest known well.
    budget = _budget(gap=Estimate(0.020, 0.0003, degrees_of_freedom=2.0))
    assert budget.degrees_of_freedom == pytest.approx(2 / 0.6**4)


def test_what_a_better_gauge_would_do():
    budget = _budget()
    assert what_if_better(budget, "step", 0.0).uncertainty == pytest.approx(0.0003)
    assert what_if_better(budget, "step").uncertainty == pytest.approx(0.0003)
    better = what_if_better(budget, "gap", 0.0)
    assert better.uncertainty == pytest.approx(0.0004)
    assert [(part.name, part.share) for part in better.contributions] == [("step", 100.0), ("gap", 0.0)]
    assert better.value == budget.value


def test_an_input_that_is_known_well_loosens_nothing():
    budget = _budget(gap=Estimate(0.020, 0.0003, degrees_of_freedom=2.0))
    assert what_if_better(budget, "gap", 0.0001).degrees_of_freedom == math.inf


def test_what_if_something_else():
    with pytest.raises(GeometryError, match=r"'lift' is no input of this budget: choose one of gap, step"):
        what_if_better(_budget(), "lift", 0.0)


# Sensitivities from the formula


def _slope(formula, value, uncertainty=0.0):
    return combine(formula, {"x": Estimate(value, uncertainty)}).contributions[0].sensitivity


@pytest.mark.parametrize(
    ("formula", "value", "slope"),
    [
        (lambda x: math.sin(x), 0.7, math.cos(0.7)),
        (lambda x: math.exp(x), 0.0, 1.0),
        (lambda x: x**3, 2.0, 12.0),
        (lambda x: 1 / x, -4.0, -1 / 16),
        (lambda x: math.sqrt(x), 1e-6, 500.0),
        (lambda x: x, 1e9, 1.0),
    ],
)
def test_the_slope_is_the_derivative(formula, value, slope):
    # Hand-worked derivatives.
    assert _slope(formula, value) == pytest.approx(slope, rel=1e-9)


@pytest.mark.parametrize("uncertainty", [0.0, 1e-6, 0.001, 10.0])
def test_the_slope_does_not_hang_on_the_uncertainty(uncertainty):
    assert _slope(lambda x: math.exp(x), 0.5, uncertainty) == pytest.approx(math.exp(0.5), rel=1e-7)


def test_at_the_end_of_a_range_the_slope_is_taken_from_inside():
    def never_below_zero(x):
        if x < 0.0:
            raise GeometryError("gap is below zero", where="gap")
        return math.cos(1.0 + x)

    def never_above_zero(x):
        return never_below_zero(-x)

    assert _slope(never_below_zero, 0.0, 0.0005) == pytest.approx(-math.sin(1.0), rel=1e-9)
    assert _slope(never_above_zero, 0.0, 0.0005) == pytest.approx(math.sin(1.0), rel=1e-9)


def test_a_formula_that_takes_one_value_only_is_refused():
    def only_one(x):
        if x != 1.0:
            raise GeometryError("not that", where="x")
        return x

    with pytest.raises(GeometryError, match="refuses any change of x"):
        _slope(only_one, 1.0)


def test_what_the_formula_refuses_is_refused():
    def never(x):
        raise GeometryError("net lift is 0 in", where="lift")

    with pytest.raises(GeometryError, match="net lift is 0 in"):
        _slope(never, 1.0)


def test_a_result_that_is_no_number_is_refused():
    with pytest.raises(GeometryError, match="not a finite number"):
        _slope(lambda x: x * math.inf, 1.0)


@given(
    st.floats(-5.0, 5.0),
    st.floats(-5.0, 5.0),
    st.floats(0.0, 0.1),
    st.floats(0.0, 0.1),
)
def test_a_product_has_the_uncertainty_of_a_product(a, b, of_a, of_b):
    # Hand-worked: the slope of a·b is b for a and a for b.
    budget = combine(lambda a, b: a * b, {"a": Estimate(a, of_a), "b": Estimate(b, of_b)})
    assert budget.uncertainty == pytest.approx(math.hypot(b * of_a, a * of_b), rel=1e-9, abs=1e-12)


# Factors


def test_factors_for_what_is_known_well():
    assert coverage_factor(math.inf) == pytest.approx(2.0, abs=1e-4)
    assert guard_factor(0.5) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("risk", [0.0, 0.6, -0.1])
def test_a_risk_that_is_none_is_refused(risk):
    with pytest.raises(GeometryError, match="risk"):
        guard_factor(risk)


@pytest.mark.parametrize("confidence", [0.0, 1.0])
def test_a_confidence_that_is_none_is_refused(confidence):
    with pytest.raises(GeometryError, match="confidence"):
        coverage_factor(10.0, confidence)


# Verdicts

LIMITS = {"lower": -0.005, "upper": 0.005}


@pytest.mark.parametrize(
    ("value", "outcome"),
    [
        (0.0, "in"),
        (0.004, "in"),
        (0.00401, "undecided"),
        (0.005, "undecided"),
        (0.006, "undecided"),
        (0.00601, "out"),
        (-0.004, "in"),
        (-0.00401, "undecided"),
        (-0.00601, "out"),
    ],
)
def test_a_guarded_verdict(value, outcome):
    assert verdict(value, **LIMITS, expanded=0.001).outcome == outcome


@pytest.mark.parametrize(("value", "outcome"), [(0.005, "in"), (0.005 + 1e-6, "out"), (-0.005, "in")])
def test_with_the_rule_off_it_is_in_or_out(value, outcome):
    found = verdict(value, **LIMITS, expanded=0.001, guarded=False)
    assert (found.outcome, found.guard) == (outcome, 0.0)


def test_a_limit_on_one_side():
    at_least = {"lower": 0.060, "expanded": 0.002}
    outcomes = [verdict(value, **at_least).outcome for value in (0.062, 0.061, 0.0579, 9.0)]
    assert outcomes == ["in", "undecided", "out", "in"]
    assert verdict(0.061, upper=0.080).margin == pytest.approx(0.019)


def test_the_margin_is_to_the_nearest_limit():
    assert verdict(0.003, **LIMITS).margin == pytest.approx(0.002)
    assert verdict(-0.007, **LIMITS).margin == pytest.approx(-0.002)


def test_a_guard_band_as_wide_as_the_limits_leaves_no_room():
    assert not verdict(0.0, **LIMITS, expanded=0.005).too_coarse
    assert verdict(0.0, **LIMITS, expanded=0.005).outcome == "in"
    coarse = verdict(0.0, **LIMITS, expanded=0.0051)
    assert (coarse.too_coarse, coarse.outcome) == (True, "undecided")
    assert not verdict(0.0, upper=0.005, expanded=1.0).too_coarse


def test_many_values_at_once():
    outcomes = verdict(np.array([0.0, 0.005, 0.007]), **LIMITS, expanded=np.array([0.001, 0.001, 0.001]))
    assert outcomes.outcome.tolist() == ["in", "undecided", "out"]


def test_limits_that_make_no_sense_are_refused():
    with pytest.raises(GeometryError, match="no limit to judge by"):
        verdict(0.0)
    with pytest.raises(GeometryError, match="lower limit 1 is above the upper 0"):
        verdict(0.0, lower=1.0, upper=0.0)
    with pytest.raises(GeometryError, match=r"uncertainty is -0\.1"):
        verdict(0.0, upper=0.0, expanded=-0.1)
