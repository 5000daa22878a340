"""The steps of the set-up log: what is measured in each, at which kind of address, and what follows from it.

Each floor registers its own steps, in the order of the work. A step never blocks another.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from builds.characteristics import Characteristic, register
from builds.models import Build

Values = Mapping[str, Decimal]


@dataclass(frozen=True)
class Derived:
    """A figure that follows from what was measured: `work` gets the values by key and gives None while one is missing."""

    key: str
    name: str
    needs: tuple[str, ...]
    work: Callable[[Values], Decimal | None]
    formula: str
    unit_kind: str = "length"
    limit_key: str = ""
    places: int | None = None


@dataclass(frozen=True)
class Step:
    """One step of the log. `applies_to` is the kind of address whose rows it shows."""

    key: str
    name: str
    applies_to: str
    lead: str
    measured: tuple[Characteristic, ...]
    derived: tuple[Derived, ...] = ()
    caution: str = ""
    optional: frozenset[str] = field(default_factory=frozenset)
    order: int = 0


_steps: dict[str, Step] = {}

# Each takes a build and returns (address, key) → value [base unit] that is known otherwise than by a reading of this
# log: a net lift from the cam card, a spring's solid height from its maker's sheet. The address "" means everywhere.
value_providers: list[Callable[[Build], Mapping[tuple[str, str], Decimal]]] = []
# Each takes a build and a step and gives the order in which the addresses are worked through, or None for as they lie.
order_providers: list[Callable[[Build, Step], list[str] | None]] = []
# Each takes a build, a step and an address and says in words what to do there before reading, or nothing.
word_providers: list[Callable[[Build, Step], Mapping[str, str]]] = []


def register_step(step: Step) -> None:
    """Add a step and what it measures to the registries."""
    if _steps.get(step.key, step) != step:
        raise ValueError(f"step {step.key} is registered twice")
    register(*step.measured)
    _steps[step.key] = step


def steps() -> Iterator[Step]:
    """All steps in the order of the work."""
    yield from sorted(_steps.values(), key=lambda step: step.order)


def get_step(key: str) -> Step | None:
    """One step by its key; None where there is none."""
    return _steps.get(key)
