"""What was ever out of its limit in the steps of the log: set by set, judged by the limit that holds today.

Listed is whatever lay beyond its limit, however little. What is said of it is the verdict by the shop's rule, with the
uncertainty of that very set, as the tables of the same sheet say it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from builds.limits import LimitFor
from builds.logcells import Cell, Figure, Row, StepState, verdict
from builds.measures import show, unit_for
from builds.models import Reading
from builds.steps import Derived, Step
from builds.uncertainty import standard_of_figure
from builds.worklog import WorkLog
from valvetrain.sheets.snapshot import StepOutLine
from valvetrain.sheets.words import judged_words, when

Sets = Mapping[
    int, list[Reading]
]  # by the number of the set: a new one is begun when work was done in between
SetsAt = Mapping[str, Mapping[str, Sets]]  # by address, then by what was measured

STANDS_SO = "Nothing yet: it stands so now."


def in_sets(readings: Iterable[Reading]) -> SetsAt:
    """Readings by address, by what was measured, and by set."""
    found: dict[str, dict[str, dict[int, list[Reading]]]] = defaultdict(
        lambda: defaultdict(lambda: defaultdict(list))
    )
    for reading in readings:
        number = int(reading.context.get("set", 0))
        found[reading.position][reading.characteristic][number].append(reading)
    return found


def steps_ever_out(
    log: WorkLog, states: Iterable[StepState], sets: SetsAt, addresses: set[str]
) -> Iterator[StepOutLine]:
    """Each value of these steps that was out at one time or is out now, at these addresses."""
    for state in states:
        for row in state.rows:
            if row.position in addresses:
                yield from _row_out(log, state.step, row, sets.get(row.position, {}))


def _row_out(log: WorkLog, step: Step, row: Row, sets: Mapping[str, Sets]) -> Iterator[StepOutLine]:
    for cell in row.cells:
        found = sets.get(cell.characteristic.key)
        if cell.limit is not None and found:
            yield from _cell_out(log, step, cell, cell.limit, found)
    for figure in row.figures:
        if figure.limit is not None and figure.value is not None:
            yield from _figure_out(log, step, row.position, figure, figure.limit, sets)


def _mean(readings: list[Reading]) -> Decimal:
    return sum((reading.value or Decimal(0) for reading in readings), Decimal(0)) / len(readings)


def _cell_out(log: WorkLog, step: Step, cell: Cell, limit: LimitFor, sets: Sets) -> Iterator[StepOutLine]:
    def told(found: list[Reading]) -> str:
        standard = log.standard_of(cell.characteristic.key, found)
        return verdict(_mean(found), limit, log.tools.rule, standard)

    numbers = sorted(sets)
    for index, number in enumerate(numbers):
        readings = sets[number]
        mean_in = limit.holds(_mean(readings))
        if mean_in and all(limit.holds(reading.value or Decimal(0)) for reading in readings):
            continue
        if index + 1 < len(numbers):
            after = sets[numbers[index + 1]]
            then = _read_again(show(_mean(after), cell.unit, with_unit=True), told(after))
        elif mean_in:
            then = f"One reading of several; the mean is {told(readings)}."
        else:
            then = STANDS_SO
        mean = "" if len(readings) < 2 else f": mean {show(_mean(readings), cell.unit, with_unit=True)}"
        yield StepOutLine(
            address=cell.position,
            step=step.name,
            what=cell.characteristic.name,
            when=when(readings[-1].taken_at),
            found=f"{', '.join(_as_read(reading, cell.unit) for reading in readings)}{mean}",
            limit=limit.words(log.length_unit),
            verdict="" if mean_in else told(readings),
            then=then,
        )


def _figure_out(
    log: WorkLog, step: Step, position: str, figure: Figure, limit: LimitFor, sets: Mapping[str, Sets]
) -> Iterator[StepOutLine]:
    """A figure that follows, worked from each set of what it needs in turn."""
    unit = unit_for(figure.derived.unit_kind, log.length_unit)

    def told(value: Decimal) -> str:
        return show(value, unit, figure.derived.places, with_unit=True)

    values = list(_by_set(log, figure, limit, log.values_at(position), sets))
    for index, (value, judged) in enumerate(values):
        if limit.holds(value):
            continue
        after = values[index + 1] if index + 1 < len(values) else None
        yield StepOutLine(
            address=position,
            step=step.name,
            what=figure.derived.name,
            when="",
            found=f"{told(value)}, {figure.derived.formula}",
            limit=limit.words(log.length_unit),
            verdict=judged,
            then=STANDS_SO if after is None else _read_again(told(after[0]), after[1]),
        )


def _by_set(
    log: WorkLog, figure: Figure, limit: LimitFor, held: Mapping[str, Decimal], sets: Mapping[str, Sets]
) -> Iterator[tuple[Decimal, str]]:
    """The figure's values with their verdicts, oldest first; equal neighbours once. What was not read again holds on."""
    derived, rule = figure.derived, log.tools.rule
    needed = {key: found for key, found in sets.items() if found and key in held}
    before: Decimal | None = None
    for number in sorted({number for each in needed.values() for number in each}):
        values, standards = dict(held), dict(figure.standards)
        for key, each in needed.items():
            known = [set_number for set_number in each if set_number <= number] or [min(each)]
            values[key] = _mean(each[max(known)])
            if rule.guard_band:
                standards[key] = log.standard_of(key, each[max(known)])
        value = derived.work(values) if all(key in values for key in derived.needs) else None
        if value is None or value == before:
            continue
        before = value
        standard = _standard(derived, values, standards) if rule.guard_band else None
        yield value, verdict(value, limit, rule, standard)


def _standard(
    derived: Derived, values: Mapping[str, Decimal], standards: Mapping[str, float | None]
) -> float | None:
    """How well a figure is known; what it does not need and nobody knows is left out."""
    known = {
        key: standard for key, standard in standards.items() if standard is not None or key in derived.needs
    }
    return standard_of_figure(derived.work, values, known)


def _as_read(reading: Reading, unit: str) -> str:
    """As typed; converted before that where it was typed in another unit than its limit is told in."""
    if reading.unit in ("", unit):
        return reading.as_typed
    return f"{show(reading.value, unit, with_unit=True)} ({reading.as_typed})"


def _read_again(shown: str, verdict: str) -> str:
    return f"After work, read again {judged_words(shown, verdict)}."
