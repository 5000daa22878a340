"""The registry of what may be measured."""

from decimal import Decimal

import pytest

from builds import characteristics
from builds.characteristics import Characteristic, UnknownCharacteristic, register
from builds.measures import BASE_UNIT

BORE = Characteristic(
    key="test_bore",
    name="bore",
    applies_to="cylinder",
    how_measured="Bore gauge.",
    low=Decimal(2),
    high=Decimal(6),
)


@pytest.fixture(autouse=True)
def own_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy, so that a test leaves nothing behind."""
    monkeypatch.setattr(characteristics, "_registry", dict(characteristics._registry))


def test_what_is_registered_is_found_by_its_key() -> None:
    register(BORE)
    assert characteristics.get("test_bore") is BORE


def test_the_same_entry_twice_is_harmless() -> None:
    register(BORE, BORE)
    assert [entry for entry in characteristics.everything() if entry.key == "test_bore"] == [BORE]


def test_one_key_for_two_things_is_a_mistake() -> None:
    register(BORE)
    with pytest.raises(ValueError, match="test_bore is registered twice"):
        register(Characteristic("test_bore", "deck", "cylinder", "", Decimal(0), Decimal(1)))


def test_an_unknown_key_says_so() -> None:
    with pytest.raises(UnknownCharacteristic, match="no_such_thing"):
        characteristics.get("no_such_thing")


@pytest.mark.parametrize(
    ("value", "plausible"), [("1.9999", False), ("2", True), ("6", True), ("6.0001", False)]
)
def test_both_ends_of_the_plausible_range_belong_to_it(value: str, plausible: bool) -> None:
    assert BORE.is_plausible(Decimal(value)) is plausible


def test_every_entry_tells_how_it_is_measured_in_a_unit_that_exists() -> None:
    for entry in characteristics.everything():
        assert entry.how_measured
        assert entry.unit_kind in BASE_UNIT
        assert entry.low < entry.high
