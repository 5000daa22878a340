"""The registry of steps."""

from dataclasses import replace
from decimal import Decimal

import pytest

from builds import characteristics, steps
from builds.measures import BASE_UNIT, BY_SYMBOL
from builds.steps import get_step, neighbours, register_step


@pytest.fixture(autouse=True)
def own_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    """Copies, so that a test leaves nothing behind."""
    monkeypatch.setattr(steps, "_steps", dict(steps._steps))
    monkeypatch.setattr(characteristics, "_registry", dict(characteristics._registry))


def test_steps_come_in_the_order_of_the_work():
    """Trade fact: lift, marks, pushrods, springs, clearances, cam, lash, bolts; then the short block."""
    assert [step.key for step in steps.steps()] == [
        "lift", "marks", "pushrods", "springs", "clearances", "degreeing", "lash", "torque", "cylinders", "mains",
        "block",
    ]  # fmt: skip


def test_the_same_step_twice_is_harmless_and_another_under_its_key_is_not():
    lift = get_step("lift")
    register_step(lift)
    with pytest.raises(ValueError, match="step lift is registered twice"):
        register_step(replace(lift, name="something else"))


def test_a_step_knows_its_neighbours():
    before, after = neighbours(get_step("springs"))
    assert (before.key, after.key) == ("pushrods", "clearances")
    assert neighbours(get_step("lift"))[0] is None
    assert neighbours(get_step("block"))[1] is None


def test_an_unknown_step_is_none():
    assert get_step("paint") is None


def test_every_optional_and_corrected_thing_is_one_that_the_step_measures():
    for step in steps.steps():
        measured = {each.key for each in step.measured}
        assert step.optional <= measured
        assert {each.characteristic for each in step.corrections} <= measured


def test_every_figure_says_its_formula_in_a_unit_that_exists():
    for step in steps.steps():
        for derived in step.derived:
            assert derived.formula
            assert derived.unit_kind in BASE_UNIT
            assert derived.inch_unit in ("", *BY_SYMBOL)
            assert set(derived.averaged) <= set(derived.needs)


@pytest.mark.parametrize(
    ("key", "usual", "slipped"),
    [
        ("bore", "4.030", "40.30"),
        ("ring_gap_top", "0.018", "18"),
        ("rod_clearance", "0.0025", "0.025"),
        ("main_clearance", "0.0025", "25"),
        ("endplay", "0.006", "0.06"),
        ("deck_clearance", "-0.005", "-0.5"),
        ("chamber_volume", "64", "640"),
        ("crown_volume", "-6", "-600"),
        ("gasket_thickness", "0.040", "0.40"),
        ("installed_height", "1.900", "19.00"),
        ("seat_load", "220", "2.2"),
        ("lash_cold", "0.016", "0.16"),
        ("piston_to_valve", "0.100", "10"),
        ("pushrod_length", "7.950", "79.50"),
        ("stand_bolt_torque", "45", "450"),
        ("intake_centreline", "106", "1060"),
    ],
)
def test_what_a_shop_reads_is_plausible_and_a_slipped_point_is_asked_about(
    key: str, usual: str, slipped: str
):
    """Trade facts: figures that an engine of this kind has."""
    entry = characteristics.get(key)
    assert entry.is_plausible(Decimal(usual))
    assert not entry.is_plausible(Decimal(slipped))
