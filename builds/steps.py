"""The steps of the set-up log: what is measured in each, at which kind of address, and what follows from it.

Each floor registers its own steps, in the order of the work. A step never blocks another.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from builds.characteristics import Characteristic, register
from builds.models import Build, Reading
from builds.recording import Entry

Values = Mapping[str, Decimal]
# The readings of the sets that count, by key.
ReadBy = Mapping[str, Sequence[Reading]]


@dataclass(frozen=True)
class Derived:
    """A figure that follows from what was measured: `work` gets the values by key and gives None while one is missing.

    `averaged` are keys that are read at other addresses and taken as their mean there. `inch_unit` is the unit in which
    who reads inches reads it, where that is not the base unit. Outside `low` and `high` [base unit] what was measured
    cannot be right together, and `unlikely` says so; it is marked as out and stops nobody. `standard` gives how well the
    figure is known [base unit] where its readings know it better together than one by one, else None.
    """

    key: str
    name: str
    needs: tuple[str, ...]
    work: Callable[[Values], Decimal | None]
    formula: str
    unit_kind: str = "length"
    limit_key: str = ""
    places: int | None = None
    averaged: tuple[str, ...] = ()
    inch_unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    unlikely: str = ""
    standard: Callable[[ReadBy], float | None] | None = None

    def is_in_reason(self, value: Decimal) -> bool:
        """Whether a figure [base unit] can be, whatever its limit says."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True)
class Correction:
    """A length that belongs to the tool, typed once above the fields and kept with each reading of `characteristic`."""

    key: str
    name: str
    characteristic: str
    largest: Decimal


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
    corrections: tuple[Correction, ...] = ()
    order: int = 0


@dataclass(frozen=True)
class Note:
    """A sentence at the head of a step, perhaps with a way to what it speaks of."""

    words: str
    url: str = ""
    link: str = ""


@dataclass(frozen=True)
class OverviewLine:
    """A line of the overview that is not a step of the log: work that has a screen of its own."""

    order: int
    name: str
    tally: str
    status: str
    url: str


_steps: dict[str, Step] = {}

# Each takes a build and returns (address, key) → value [base unit] that is known otherwise than by a reading of this
# log: a net lift from the cam card, a spring's solid height from its maker's sheet. The address "" means everywhere.
value_providers: list[Callable[[Build], Mapping[tuple[str, str], Decimal]]] = []
# Each takes a build and a step and gives the order in which the addresses are worked through, or None for as they lie.
order_providers: list[Callable[[Build, Step], list[str] | None]] = []
# Each takes a build and a step and says for some addresses in words what to do there before reading.
word_providers: list[Callable[[Build, Step], Mapping[str, str]]] = []
# Each takes a build and a step and gives sentences for the head of the step.
note_providers: list[Callable[[Build, Step], list[Note]]] = []
# Each takes a build, a step and the reader's unit of length, and says what a paper has for (address, key); the address
# "" means everywhere.
beside_providers: list[Callable[[Build, Step, str], Mapping[tuple[str, str], str]]] = []
# Each takes a build and a step and says for some addresses why what was read there has to be read again.
again_providers: list[Callable[[Build, Step], Mapping[str, str]]] = []
# Each takes a build and an entry that is about to be written, and gives what its reading keeps of what held.
context_providers: list[Callable[[Build, Entry], Mapping[str, Any]]] = []
# Each takes a build and gives lines for the overview of its log.
overview_providers: list[Callable[[Build], list[OverviewLine]]] = []


def with_what_held(build: Build, entry: Entry) -> Entry:
    """An entry with what other floors keep with its reading: what held when it was taken."""
    held: dict[str, Any] = {}
    for provider in context_providers:
        held.update(provider(build, entry))
    return replace(entry, context={**entry.context, **held}) if held else entry


def judged_things(step: Step) -> list[tuple[str, str, str]]:
    """What a step judges by a limit: (limit key, name, kind of unit)."""
    measured = [(each.limit_key, each.name, each.unit_kind) for each in step.measured]
    return measured + [(each.limit_key, each.name, each.unit_kind) for each in step.derived]


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


def neighbours(step: Step) -> tuple[Step | None, Step | None]:
    """The step before and the step after, in the order of the work."""
    row = list(steps())
    place = row.index(step)
    return (row[place - 1] if place else None), (row[place + 1] if place + 1 < len(row) else None)
