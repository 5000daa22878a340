"""The steps of the set-up log for a sheet: the log's states in, plain lines out. No query is made here."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.utils import timezone

from builds.logcells import Cell, Figure, Row, StepState
from builds.measures import bare_number, show, unit_for
from builds.models import Reading
from valvetrain.sheets.steplines import LogLines, StepBlock, StepColumn, StepTable, StepValue
from valvetrain.sheets.words import day

ENGINE_STEPS = frozenset({"degreeing"})  # of the engine's own steps, those that belong to a head's set-up
MOST_COLUMNS = 11  # that still take a figure each across the sheet
NO_BREAK = "\u00a0"  # what was typed stays on one line in its brackets
VERDICTS = ("out", "undecided", "in")  # the heaviest first


def belongs(step_key: str, applies_to: str) -> bool:
    """Whether a step is part of a head's set-up; the short block has a sheet of its own."""
    return applies_to in ("valve", "pad") or step_key in ENGINE_STEPS


def log_lines(
    states: Iterable[StepState],
    addresses: Mapping[str, str],
    people: Mapping[int, tuple[str, str]],
    unit: str,
) -> LogLines:
    """Put the steps of a head together.

    `addresses` are the head's own with what they are called in a limit (intake, exhaust), in their order along the
    head; `people` gives the instrument and the person of each reading by its key.
    """
    tables: list[tuple[str, list[str], list[StepBlock]]] = []
    unread = []
    for state in states:
        rows = _rows_of(state, addresses)
        begun = [row for row in rows if any(cell.readings for cell in row.cells)]
        if not begun:
            unread.append(state.step.name)
            continue
        block = _block(state, rows, addresses, people, unit)
        where = [row.position for row in rows]
        for kind, places, blocks in tables:
            together = sum(each.width for each in blocks) + block.width
            if (kind, places) == (state.step.applies_to, where) and together <= MOST_COLUMNS:
                blocks.append(block)
                break
        else:
            tables.append((state.step.applies_to, where, [block]))
    return LogLines([StepTable(kind, places, blocks) for kind, places, blocks in tables], unread)


def _rows_of(state: StepState, addresses: Mapping[str, str]) -> list[Row]:
    order = {address: place for place, address in enumerate(addresses)}
    mine = [row for row in state.rows if row.position in order or state.step.applies_to == "engine"]
    return sorted(mine, key=lambda row: order.get(row.position, 0))


def _block(
    state: StepState,
    rows: list[Row],
    addresses: Mapping[str, str],
    people: Mapping[int, tuple[str, str]],
    unit: str,
) -> StepBlock:
    """One step's columns, those with something in them, and its values."""
    columns: list[StepColumn] = []
    values: list[list[StepValue]] = [[] for _ in rows]
    empty = []
    for index, characteristic in enumerate(state.step.measured):
        cells = [row.cells[index] for row in rows]
        if not any(cell.readings for cell in cells):
            empty.append(characteristic.name)
            continue
        columns.append(StepColumn(characteristic.name, unit_for(characteristic.unit_kind, unit)))
        for kept, cell in zip(values, cells, strict=True):
            kept.append(_value(cell))
    for index, derived in enumerate(state.step.derived):
        figures = [row.figures[index] for row in rows]
        worked = [_parted(figure) for figure in figures if figure.value is not None]
        if worked:
            columns.append(StepColumn(derived.name, worked[0][1], derived.formula))
            for kept, figure in zip(values, figures, strict=True):
                told = _parted(figure)[0] if figure.value is not None else "–"
                kept.append(StepValue(told, figure.verdict))
    return StepBlock(
        name=state.step.name,
        columns=columns,
        values=values,
        verdicts=[_verdict(row, kept) for row, kept in zip(rows, values, strict=True)],
        limits=list(_limits(rows, addresses)),
        readers=list(_readers(rows, people)),
        not_read=", ".join(empty),
    )


def _value(cell: Cell) -> StepValue:
    """What was typed; the mean beside it where there are repeats."""
    if not cell.readings:
        return StepValue("–")
    typed = ", ".join(_typed(reading, cell.unit) for reading in cell.readings)
    mean = f": mean {show(cell.mean, cell.unit)}" if len(cell.readings) > 1 else ""
    return StepValue(f"{typed}{mean}", cell.verdict)


def _typed(reading: Reading, unit: str) -> str:
    """In the column's unit: as typed where it was typed so, else converted with what was typed in brackets."""
    if reading.unit == unit or not reading.unit:
        return bare_number(reading.text)
    return f"{show(reading.value, unit)} ({reading.as_typed.replace(' ', NO_BREAK)})"


def _parted(figure: Figure) -> tuple[str, str]:
    """A figure without its unit, and the unit."""
    number, gap, unit = figure.words.partition(" ")
    return (number, unit) if gap else (number.removesuffix("°"), "°")


def _verdict(row: Row, values: list[StepValue]) -> str:
    """The heaviest verdict of a row; that something is missing; or that nothing here is judged."""
    found = {value.verdict for value in values}
    worst = next((verdict for verdict in VERDICTS if verdict in found), "")
    if worst in ("", "in") and row.missing:
        return "part read" if any(cell.readings for cell in row.cells) else "not read"
    return worst or "no limit"


def _limits(rows: list[Row], addresses: Mapping[str, str]) -> Iterator[str]:
    """Each limit that judged something here, once, with the addresses that it holds for where they differ."""
    found: dict[str, dict[tuple[str, str], list[str]]] = {}
    for row in rows:
        judged = [
            (cell.characteristic.name, cell.limit, cell.length_unit) for cell in row.cells if cell.readings
        ]
        judged += [
            (figure.derived.name, figure.limit, figure.length_unit)
            for figure in row.figures
            if figure.value is not None
        ]
        for name, limit, unit in judged:
            if limit is not None:
                key = (limit.words(unit), limit.source)
                found.setdefault(name, {}).setdefault(key, []).append(row.position)
    for name, held in found.items():
        everywhere = [place for places in held.values() for place in places]
        told = [
            f"{words}{'' if len(held) == 1 else f' at {_places(places, everywhere, addresses)}'} ({source})"
            for (words, source), places in held.items()
        ]
        yield f"{name} {'; '.join(told)}"


def _places(places: list[str], everywhere: list[str], addresses: Mapping[str, str]) -> str:
    """Addresses in a word where they are all of one kind."""
    for kind in dict.fromkeys(addresses.get(place, "") for place in places):
        if kind and places == [place for place in everywhere if addresses.get(place) == kind]:
            return kind
        if kind and set(places) == {place for place in everywhere if addresses.get(place) == kind}:
            return kind
    return ", ".join(places)


@dataclass
class _Readings:
    """What one person read with one tool on one day."""

    names: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    times: list[datetime] = field(default_factory=list)


def _readers(rows: list[Row], people: Mapping[int, tuple[str, str]]) -> Iterator[str]:
    """Who read a step, with what and when; with what was read, or where, if it was not one for all."""
    found: dict[tuple[str, str, str], _Readings] = {}
    read_at = set()
    for row in rows:
        for cell in row.cells:
            for reading in cell.readings:
                moment = timezone.localtime(reading.taken_at)
                tool, person = people.get(reading.pk, ("", ""))
                kept = found.setdefault((tool, person, day(moment.date())), _Readings())
                kept.names.append(cell.characteristic.name)
                kept.places.append(row.position)
                kept.times.append(moment)
                read_at.add(row.position)
    for (tool, person, date), kept in found.items():
        first, last = f"{min(kept.times):%H:%M}", f"{max(kept.times):%H:%M}"
        hours = first if first == last else f"{first} to {last}"
        told = kept.names if set(kept.places) == read_at else kept.places
        which = f"{', '.join(dict.fromkeys(told))}: " if len(found) > 1 else ""
        yield f"{which}{', '.join(filter(None, [tool, person]))}, {date} {hours}"
