"""What a page of the log shows: a cell for each thing measured, a figure for each that follows, a row for an address."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from builds import characteristics
from builds.characteristics import Characteristic, UnknownCharacteristic
from builds.limits import LimitFor
from builds.measures import for_field, show, unit_for
from builds.models import Reading
from builds.steps import Derived, ReadBy, Step
from builds.uncertainty import plus_minus, standard_of_figure
from builds.verdicts import DRAWN_AS, OUT, PLAIN, UNDECIDED, Rule

LONG_ADDRESS = 4
STATUS_WORD = {"done": "done", "out": "out", "todo": "to do", "look": "look"}


# What a figure says in words besides its number, by its key: from its value [base unit], the unit that it is read in, and
# the limit that it is judged by. Other floors add theirs.
sayings: dict[str, Callable[[Decimal, str, LimitFor | None], str]] = {}


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
    beside: str = ""
    optional: bool = False
    standard: float | None = None
    rule: Rule = PLAIN

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
        total = sum((reading.value or Decimal(0) for reading in self.readings), Decimal(0))
        return total / len(self.readings)

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
        """in, undecided, out, or nothing."""
        return verdict(self.mean, self.limit, self.rule, self.standard)

    @property
    def doubt_words(self) -> str:
        """How well what is judged is known: ± 0.0005 in."""
        return doubt_words(self.verdict, self.rule.expanded(self.standard), self.unit)

    @property
    def drawn_as(self) -> str:
        """The class of its verdict; what is read and not judged is done."""
        return "done" if self.readings and self.limit is None else DRAWN_AS[self.verdict]

    @property
    def word(self) -> str:
        """Its verdict in a word."""
        if not self.readings:
            return "optional" if self.optional else "to read"
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
        """The limit it is judged by."""
        return "" if self.limit is None else self.limit.words(self.length_unit)


@dataclass(frozen=True)
class Figure:
    """A figure that follows from readings, at one address. `begun`: some of what it needs is read there."""

    derived: Derived
    value: Decimal | None
    limit: LimitFor | None
    length_unit: str
    missing: tuple[str, ...]
    begun: bool = False
    beside: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    values: Mapping[str, Decimal] = field(default_factory=dict)
    standards: Mapping[str, float | None] = field(default_factory=dict)
    rule: Rule = PLAIN
    readings: ReadBy = field(default_factory=dict)

    @property
    def shown(self) -> bool:
        """Whether there is anything to say yet."""
        return self.value is not None or bool(self.unlikely) or (self.begun and bool(self.missing))

    @property
    def unlikely(self) -> str:
        """Why what was measured cannot be right together; empty where it can, and where not all is read."""
        if self.missing or (self.value is not None and self.derived.is_in_reason(self.value)):
            return ""
        return self.derived.unlikely

    @property
    def verdict(self) -> str:
        """in, undecided, out, or nothing; what cannot be is out, also where no limit is set."""
        if self.unlikely:
            return OUT
        return verdict(self.value, self.limit, self.rule, self.standard if self.rule.guard_band else None)

    @property
    def standard(self) -> float | None:
        """How well the figure is known; worked out only where it is shown or decides."""
        if self.value is None:
            return None
        together = self.derived.standard(self.readings) if self.derived.standard else None
        if together is not None:
            return together
        known = {
            key: standard
            for key, standard in self.standards.items()
            if standard is not None or key in self.derived.needs
        }
        return standard_of_figure(self.derived.work, self.values, known)

    @property
    def doubt_words(self) -> str:
        """How well what is judged is known: ± 0.0005 in."""
        return doubt_words(self.verdict, self.rule.expanded(self.standard), self.unit)

    @property
    def drawn_as(self) -> str:
        """The class of its verdict."""
        return DRAWN_AS[self.verdict]

    @property
    def unit(self) -> str:
        """The unit in which the reader reads it."""
        if self.length_unit == "in" and self.derived.inch_unit:
            return self.derived.inch_unit
        return unit_for(self.derived.unit_kind, self.length_unit)

    @property
    def words(self) -> str:
        """The figure in the reader's unit, or what it waits for."""
        if self.value is None:
            if self.unlikely:
                return "cannot be"
            return f"waits for {', '.join(map(_name_of, self.missing))}" if self.missing else ""
        return show(self.value, self.unit, self.derived.places, with_unit=True)

    @property
    def said(self) -> str:
        """What the number means at the bench, where that needs words."""
        say = sayings.get(self.derived.key)
        return "" if say is None or self.value is None else say(self.value, self.unit, self.limit)

    @property
    def counted_words(self) -> str:
        """Over how many addresses its parts are averaged."""
        told = [f"{_name_of(key)}: mean of {count}" for key, count in self.counts.items()]
        return ", ".join(told)

    @property
    def limit_words(self) -> str:
        """The limit it is judged by."""
        return "" if self.limit is None else self.limit.words(self.length_unit)


def verdict(value: Decimal | None, limit: LimitFor | None, rule: Rule, standard: float | None) -> str:
    """in, undecided or out by the shop's rule; nothing while there is no value or no limit."""
    return "" if limit is None else rule.judge(value, limit.low, limit.high, standard)


def doubt_words(verdict: str, expanded: float | None, unit: str) -> str:
    """How well what is judged is known; nothing where nothing is judged."""
    return plus_minus(expanded, unit) if verdict and expanded is not None else ""


def _name_of(key: str) -> str:
    """What a key is called in the trade."""
    try:
        return characteristics.get(key).name
    except UnknownCharacteristic:
        return key.removeprefix("sheet_").replace("_", " ")


@dataclass(frozen=True)
class Row:
    """One address in a step."""

    position: str
    cells: tuple[Cell, ...]
    figures: tuple[Figure, ...]
    words: str
    optional: frozenset[str]
    again: str = ""  # why what was read here no longer counts

    @property
    def ident(self) -> str:
        """A name for this row on the page."""
        return self.position.replace(".", "_")

    @property
    def long(self) -> bool:
        """Whether the address is one of many letters, as a pad's is."""
        return len(self.position) > LONG_ADDRESS

    @property
    def shown_figures(self) -> list[Figure]:
        """The figures that have something to say."""
        return [figure for figure in self.figures if figure.shown]

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
        return self._judged(OUT)

    @property
    def undecided(self) -> list[str]:
        """What lies too near its limit to call, by the shop's rule."""
        return self._judged(UNDECIDED)

    def _judged(self, verdict: str) -> list[str]:
        found = [cell.characteristic.name for cell in self.cells if cell.verdict == verdict]
        return found + [figure.derived.name for figure in self.figures if figure.verdict == verdict]

    @property
    def status(self) -> str:
        """The class of the row's state."""
        if self.out:
            return "out"
        return "todo" if self.missing else "look" if self.undecided or self.again else "done"

    @property
    def status_word(self) -> str:
        """The word for it."""
        return STATUS_WORD[self.status]


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
            return "look" if any(row.undecided or row.again for row in self.rows) else "done"
        return "todo"

    @property
    def status_word(self) -> str:
        """The word for it."""
        return STATUS_WORD[self.status]

    @property
    def tally(self) -> str:
        """How far the step is, in words."""
        if not self.rows:
            return f"no {self.step.applies_to} here"
        full = sum(not row.missing for row in self.rows)
        out = sum(bool(row.out) for row in self.rows)
        undecided = sum(bool(row.undecided) for row in self.rows)
        again = sum(bool(row.again) for row in self.rows)
        told = f"{full} of {len(self.rows)} read" + (f", {out} out of limit" if out else "")
        told += f", {undecided} undecided" if undecided else ""
        return told + (f", {again} to read again" if again else "")

    def row(self, position: str) -> Row | None:
        """The row of an address."""
        return next((row for row in self.rows if row.position == position), None)
