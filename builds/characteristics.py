"""The registry: what may be measured, on what, in what unit, and what is plausible.

Each floor registers its own. A plausible range is a guard against typing errors: outside it the book asks,
and never refuses silently.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Characteristic:
    """Something that may be measured. `low` and `high` are the plausible range in the base unit.

    `limit_key` names the limit that it is judged by; empty: it is written down and not judged.
    """

    key: str
    name: str
    applies_to: str
    how_measured: str
    low: Decimal
    high: Decimal
    unit_kind: str = "length"
    signed: bool = False
    limit_key: str = ""
    drawing: str = ""

    def is_plausible(self, value: Decimal) -> bool:
        """Whether a value [base unit] is one that a person could have meant."""
        return self.low <= value <= self.high


class UnknownCharacteristic(KeyError):
    """No floor has registered this."""


_registry: dict[str, Characteristic] = {}


def register(*characteristics: Characteristic) -> None:
    """Add to the registry; the same key twice is a mistake in the code."""
    for characteristic in characteristics:
        known = _registry.get(characteristic.key)
        if known is not None and known != characteristic:
            raise ValueError(f"{characteristic.key} is registered twice")
        _registry[characteristic.key] = characteristic


def get(key: str) -> Characteristic:
    """Look one up by its key."""
    try:
        return _registry[key]
    except KeyError:
        raise UnknownCharacteristic(key) from None


def everything() -> Iterator[Characteristic]:
    """All that may be measured, in order of registration."""
    yield from _registry.values()
