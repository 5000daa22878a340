"""How a job stands in a step of its log: every address with what was read, what follows from it, and the verdicts."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from builds.characteristics import Characteristic
from builds.limits import LimitBook, LimitFor, unit_for
from builds.measures import for_field, show
from builds.models import Build, Reading
from builds.positions import positions_of
from builds.steps import Derived, Step, order_providers, value_providers, word_providers

VERDICT_CLASS = {"in": "done", "out": "out", "undecided": "look", "": "todo"}


def verdict(value: Decimal | None, limit: LimitFor | None) -> str:
    """in or out; nothing while there is no value or no limit."""
    if value is None or limit is None:
        return ""
    return "in" if limit.holds(value) else "out"


@dataclass(frozen=True)
class Cell:
    """One thing measured at one address: the readings of the set that counts, and how they are judged."""

    position: str
    characteristic: Characteristic
    readings: tuple[Reading, ...]
    earlier: int
    set_number: int
    limit: LimitFor | None
    length_unit: str

    @property
    def ident(self) -> str:
        """A name for this cell on the page."""
        return f"{self.position.replace('.', '_')}-{self.characteristic.key}"

    @property
    def unit(self) -> str:
        """The unit in which the reader types and reads it."""
        return unit_for(self.characteristic.unit_kind, self.length_unit)

    @property
    def mean(self) -> Decimal | None:
        """Mean of the set's readings [base unit]."""
        if not self.readings:
            return None
        return sum((reading.value or Decimal(0) for reading in self.readings), Decimal(0)) / len(
            self.readings
        )

    @property
    def newest(self) -> Reading | None:
        """The reading that stands in the field."""
        return self.readings[-1] if self.readings else None

    @property
    def newest_text(self) -> str:
        """What was typed for it, in the reader's unit."""
        newest = self.newest
        if newest is None:
            return ""
        return newest.text if newest.unit in ("", self.unit) else for_field(newest.value, self.unit)

    @property
    def verdict(self) -> str:
        """in, out, or nothing."""
        return verdict(self.mean, self.limit)

    @property
    def drawn_as(self) -> str:
        """The class of its verdict; what is read and not judged is done."""
        return "done" if self.readings and self.limit is None else VERDICT_CLASS[self.verdict]

    @property
    def word(self) -> str:
        """Its verdict in a word."""
        if not self.readings:
            return "to read"
        return self.verdict or "kept"

    @property
    def repeats_words(self) -> str:
        """Mean, range and number of repeats, where there are any."""
        if len(self.readings) < 2:
            return ""
        values = [reading.value or Decimal(0) for reading in self.readings]
        spread = show(max(values) - min(values), self.unit)
        return f"mean {show(self.mean, self.unit)} of {len(values)}, range {spread}"

    @property
    def limit_words(self) -> str:
        """The limit it is judged by, with its source."""
        return "" if self.limit is None else f"{self.limit.words(self.length_unit)} ({self.limit.source})"


@dataclass(frozen=True)
class Figure:
    """A figure that follows from readings, at one address."""

    derived: Derived
    value: Decimal | None
    limit: LimitFor | None
    length_unit: str
    missing: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """in, out, or nothing."""
        return verdict(self.value, self.limit)

    @property
    def drawn_as(self) -> str:
        """The class of its verdict."""
        return VERDICT_CLASS[self.verdict]

    @property
    def words(self) -> str:
        """The figure in the reader's unit."""
        unit = unit_for(self.derived.unit_kind, self.length_unit)
        return show(self.value, unit, self.derived.places, with_unit=self.value is not None)

    @property
    def limit_words(self) -> str:
        """The limit it is judged by, with its source."""
        return "" if self.limit is None else f"{self.limit.words(self.length_unit)} ({self.limit.source})"


@dataclass(frozen=True)
class Row:
    """One address in a step."""

    position: str
    cells: tuple[Cell, ...]
    figures: tuple[Figure, ...]
    words: str
    optional: frozenset[str]

    @property
    def ident(self) -> str:
        """A name for this row on the page."""
        return self.position.replace(".", "_")

    @property
    def missing(self) -> list[str]:
        """What is not read here yet."""
        return [
            cell.characteristic.name
            for cell in self.cells
            if not cell.readings and cell.characteristic.key not in self.optional
        ]

    @property
    def out(self) -> list[str]:
        """What is out of limit here."""
        found = [cell.characteristic.name for cell in self.cells if cell.verdict == "out"]
        return found + [figure.derived.name for figure in self.figures if figure.verdict == "out"]


@dataclass(frozen=True)
class StepState:
    """One step of a job."""

    step: Step
    rows: tuple[Row, ...]

    @property
    def begun(self) -> bool:
        """Whether anything was read."""
        return any(cell.readings for row in self.rows for cell in row.cells)

    @property
    def status(self) -> str:
        """The class of the step's state."""
        if any(row.out for row in self.rows):
            return "out"
        if self.rows and not any(row.missing for row in self.rows):
            return "done"
        return "todo"

    @property
    def tally(self) -> str:
        """How far the step is, in words."""
        if not self.rows:
            return f"no {self.step.applies_to} here"
        full = sum(not row.missing for row in self.rows)
        out = sum(bool(row.out) for row in self.rows)
        return f"{full} of {len(self.rows)} read" + (f", {out} out of limit" if out else "")

    def row(self, position: str) -> Row | None:
        """The row of an address."""
        return next((row for row in self.rows if row.position == position), None)


class WorkLog:
    """The log of one job, read once, for any number of its steps."""

    def __init__(self, build: Build, length_unit: str = "in") -> None:
        self.build, self.length_unit = build, length_unit
        self.positions = positions_of(build)
        self.limits = LimitBook(build)
        self.sets: dict[tuple[str, str], dict[int, list[Reading]]] = defaultdict(lambda: defaultdict(list))
        for reading in Reading.objects.standing().filter(build=build):
            number = int(reading.context.get("set", 0))
            self.sets[reading.position, reading.characteristic][number].append(reading)
        self.known: dict[tuple[str, str], Decimal] = {}
        for provider in value_providers:
            self.known.update(provider(build))

    def take_in(self, reading: Reading) -> None:
        """Add a reading that was written a moment ago, as if it had been read with the others."""
        kept = self.sets[reading.position, reading.characteristic]
        for number in list(kept):
            kept[number] = [each for each in kept[number] if each.pk not in (reading.pk, reading.corrects_id)]
            if not kept[number]:
                del kept[number]
        kept[int(reading.context.get("set", 0))].append(reading)

    def state(self, step: Step) -> StepState:
        """How the job stands in a step."""
        words: dict[str, str] = {}
        for tell in word_providers:
            words.update(tell(self.build, step))
        positions = list(self._in_order(step))
        return StepState(
            step, tuple(self._row(step, position, words.get(position, "")) for position in positions)
        )

    def _in_order(self, step: Step) -> Iterable[str]:
        for provider in order_providers:
            ordered = provider(self.build, step)
            if ordered is not None:
                return ordered
        return [position for position, kind in self.positions.items() if kind == step.applies_to]

    def _row(self, step: Step, position: str, words: str) -> Row:
        cells = tuple(self.cell(position, characteristic) for characteristic in step.measured)
        values = self.values_at(position)
        figures = tuple(self._figure(derived, position, values) for derived in step.derived)
        return Row(position, cells, figures, words, step.optional)

    def cell(self, position: str, characteristic: Characteristic) -> Cell:
        """What was read of one thing at one address."""
        sets = self.sets.get((position, characteristic.key), {})
        newest = max(sets, default=0)
        readings = tuple(sets[newest]) if sets else ()
        earlier = sum(len(kept) for number, kept in sets.items() if number != newest)
        limit = self.limits.get(characteristic.limit_key, position) if characteristic.limit_key else None
        return Cell(position, characteristic, readings, earlier, newest, limit, self.length_unit)

    def values_at(self, position: str) -> Mapping[str, Decimal]:
        """Every value [base unit] that holds at an address: known otherwise, the engine's own, then its readings."""
        values = {key: value for (where, key), value in self.known.items() if where in ("", position)}
        for where in ("engine", position):
            for (place, key), sets in self.sets.items():
                if place == where and sets:
                    kept = sets[max(sets)]
                    values[key] = sum((each.value or Decimal(0) for each in kept), Decimal(0)) / len(kept)
        return values

    def _figure(self, derived: Derived, position: str, values: Mapping[str, Decimal]) -> Figure:
        missing = tuple(key for key in derived.needs if key not in values)
        value = None if missing else derived.work(values)
        limit = self.limits.get(derived.limit_key, position) if derived.limit_key else None
        return Figure(derived, value, limit, self.length_unit, missing)
