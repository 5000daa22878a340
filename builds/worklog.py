"""How a job stands in a step of its log: every address with what was read, what follows from it, and the verdicts."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from builds import characteristics
from builds.characteristics import Characteristic, UnknownCharacteristic
from builds.found import Found, set_number
from builds.limits import InForce, LimitBook, legend
from builds.logcells import Cell, Figure, Row, StepState
from builds.models import Build, Reading
from builds.positions import positions_of
from builds.steps import (
    Derived,
    Note,
    Step,
    again_providers,
    beside_providers,
    judged_things,
    note_providers,
    order_providers,
    value_providers,
    word_providers,
)
from builds.uncertainty import Toolbox, mostly_read_with, standard_of
from builds.verdicts import Rule


def mean_of(readings: Iterable[Reading]) -> Decimal:
    """Mean of readings [base unit]."""
    values = [reading.value or Decimal(0) for reading in readings]
    return sum(values, Decimal(0)) / len(values)


def correction_of(reading: Reading) -> Decimal | None:
    """What belongs to the tool of a reading [in], all its corrections together; None where none was typed."""
    kept = reading.context.get("corrections") or {}
    return sum((Decimal(each["value"]) for each in kept.values()), Decimal(0)) if kept else None


# The readings of one thing at one address, by the number of their set: work in between begins a new one.
Sets = dict[int, list[Reading]]


class WorkLog:
    """The log of one job, read once, for any number of its steps.

    `limits` and `rule` are what it is judged by where that is not today's. `as_found` leaves out what was read after the
    first work on a job that looks again.
    """

    def __init__(
        self,
        build: Build,
        length_unit: str = "in",
        *,
        limits: LimitBook | None = None,
        rule: Rule | None = None,
        as_found: bool = False,
    ) -> None:
        self.build, self.length_unit = build, length_unit
        self.positions = positions_of(build)
        self.limits = LimitBook(build) if limits is None else limits
        self.tools = Toolbox.read()
        self.tools.rule = rule or self.tools.rule
        self.sets: dict[tuple[str, str], Sets] = defaultdict(lambda: defaultdict(list))
        self.sets_at: dict[str, dict[str, Sets]] = defaultdict(dict)  # the same sets, by address
        found = Found([build.pk]) if as_found else None
        for reading in Reading.objects.standing().filter(build=build):
            if found is None or found.was_found(reading):
                self._put(reading)
        self.known: dict[str, dict[str, Decimal]] = defaultdict(dict)
        for provider in value_providers:
            for (position, key), value in provider(build).items():
                self.known[position][key] = value

    def _put(self, reading: Reading) -> None:
        sets = self.sets[reading.position, reading.characteristic]
        sets[set_number(reading)].append(reading)
        self.sets_at[reading.position][reading.characteristic] = sets

    def take_in(self, reading: Reading) -> None:
        """Add a reading that was written a moment ago, as if it had been read with the others."""
        kept = self.sets[reading.position, reading.characteristic]
        for number in list(kept):
            kept[number] = [each for each in kept[number] if each.pk not in (reading.pk, reading.corrects_id)]
            if not kept[number]:
                del kept[number]
        self._put(reading)

    def known_of(self, position: str, key: str) -> Decimal | None:
        """What is known of a thing otherwise than by a reading of it [base unit]: a card's lift, a nominal bore."""
        return self.known.get(position, {}).get(key, self.known.get("", {}).get(key))

    def state(self, step: Step) -> StepState:
        """How the job stands in a step."""
        words: dict[str, str] = {}
        for tell in word_providers:
            words.update(tell(self.build, step))
        again: dict[str, str] = {}
        for look in again_providers:
            again.update(look(self.build, step))
        beside: dict[tuple[str, str], str] = {}
        for provider in beside_providers:
            beside.update(provider(self.build, step, self.length_unit))
        positions = list(self._in_order(step))
        rows = (self._row(step, position, words.get(position, ""), beside) for position in positions)
        return StepState(step, tuple(replace(row, again=again.get(row.position, "")) for row in rows))

    def rows(self, step: Step) -> list[Row]:
        """Every address of a step as the addresses lie: its values and verdicts, without the words for the bench."""
        lie = [position for position, kind in self.positions.items() if kind == step.applies_to]
        return [self._row(step, position, "", {}) for position in lie]

    def notes(self, step: Step) -> list[Note]:
        """The sentences at the head of a step."""
        return [note for provider in note_providers for note in provider(self.build, step)]

    def judged_by(self, step: Step) -> list[tuple[str, list[InForce]]]:
        """What each thing of a step is judged by, each limit said once."""
        named = [(name, key) for key, name, _kind in judged_things(step) if key]
        return legend(self.limits, named, self.length_unit)

    def _in_order(self, step: Step) -> Iterable[str]:
        for provider in order_providers:
            ordered = provider(self.build, step)
            if ordered is not None:
                return ordered
        return [position for position, kind in self.positions.items() if kind == step.applies_to]

    def _row(self, step: Step, position: str, words: str, beside: Mapping[tuple[str, str], str]) -> Row:
        def told(key: str) -> str:
            return beside.get((position, key)) or beside.get(("", key), "")

        cells = tuple(
            self.cell(position, each, told(each.key), optional=each.key in step.optional)
            for each in step.measured
        )
        values = self.values_at(position)
        standards = self.standards_at(position) if step.derived else {}
        readings = self.readings_at(position) if step.derived else {}
        figures = tuple(
            replace(self._figure(each, position, values, standards, told(each.key)), readings=readings)
            for each in step.derived
        )
        return Row(position, cells, figures, words, step.optional)

    def cell(
        self, position: str, characteristic: Characteristic, beside: str = "", *, optional: bool = False
    ) -> Cell:
        """What was read of one thing at one address."""
        sets = self.sets.get((position, characteristic.key), {})
        newest = max(sets, default=0)
        readings = tuple(sets[newest]) if sets else ()
        earlier = sum(len(kept) for number, kept in sets.items() if number != newest)
        limit = self.limits.get(characteristic.limit_key, position) if characteristic.limit_key else None
        return Cell(
            position, characteristic, readings, earlier, newest, limit, self.length_unit, beside,
            optional, self.standard_of(characteristic.key, readings), self.tools.rule,
        )  # fmt: skip

    def standard_of(self, key: str, readings: Sequence[Reading]) -> float | None:
        """How well the mean of a set's readings is known [base unit]."""
        try:
            unit_kind = characteristics.get(key).unit_kind
        except UnknownCharacteristic:
            return None
        return standard_of(readings, self.tools, unit_kind=unit_kind, taken_for=mostly_read_with.get(key, ""))

    def standards_at(self, position: str) -> dict[str, float | None]:
        """How well each thing is known that was read at an address, or once for the whole engine [base units]."""
        return {
            key: self.standard_of(key, sets[max(sets)])
            for place in ("engine", position)
            for key, sets in self.sets_at.get(place, {}).items()
        }

    def readings_at(self, position: str) -> dict[str, list[Reading]]:
        """The readings that count of each thing that was read at an address."""
        return {key: sets[max(sets)] for key, sets in self.sets_at.get(position, {}).items()}

    def values_at(self, position: str) -> dict[str, Decimal]:
        """Every value [base unit] that holds at an address: known otherwise, the engine's own, then its readings.

        What belongs to the tool of a reading stands under its key with `_correction` behind.
        """
        values = {**self.known.get("", {}), **self.known.get(position, {})}
        for place in ("engine", position):
            for key, sets in self.sets_at.get(place, {}).items():
                kept = sets[max(sets)]
                values[key] = mean_of(kept)
                found = [each for each in map(correction_of, kept) if each is not None]
                if found:
                    values[f"{key}_correction"] = sum(found, Decimal(0)) / len(kept)
        return values

    def mean_over(self, key: str) -> tuple[Decimal, int] | None:
        """Mean [base unit] over every address at which something was read, and how many they are."""
        means = [
            mean_of(sets[max(sets)])
            for (_position, found), sets in self.sets.items()
            if found == key and sets
        ]
        return (sum(means, Decimal(0)) / len(means), len(means)) if means else None

    def _figure(
        self,
        derived: Derived,
        position: str,
        values: Mapping[str, Decimal],
        standards: Mapping[str, float | None],
        beside: str,
    ) -> Figure:
        values, counts = dict(values), {}
        for key in derived.averaged:
            found = self.mean_over(key)
            if found is not None:
                values[key], counts[key] = found
        missing = tuple(key for key in derived.needs if key not in values)
        value = None if missing else derived.work(values)
        limit = self.limits.get(derived.limit_key, position) if derived.limit_key else None
        begun = any(key in self.sets_at.get(position, {}) for key in derived.needs)
        return Figure(
            derived, value, limit, self.length_unit, missing, begun=begun, beside=beside, counts=counts,
            values=values, standards=standards, rule=self.tools.rule,
        )  # fmt: skip
