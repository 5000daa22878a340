"""The drawings of a setup sheet, from its snapshot."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from valvetrain.charts.arm import arm_drawing
from valvetrain.charts.load import CERTIFIES_NOTHING, load_chart
from valvetrain.charts.measured_tip import MeasuredTip
from valvetrain.charts.numbers import Drawing, ValveNumbers
from valvetrain.charts.packmap import pack_map
from valvetrain.charts.ratio import ratio_chart
from valvetrain.charts.residuals import Residual, ResidualNumbers, residual_chart
from valvetrain.charts.spring import spring_chart
from valvetrain.charts.tip import mark_row, tip_layout
from valvetrain.charts.travel import travel_chart
from valvetrain.geometry.errors import GeometryError
from valvetrain.plan import lay_out
from valvetrain.sheets.plan_drawing import plan_drawing
from valvetrain.sheets.snapshot import SetupSheet, ValveLine
from valvetrain.sheets.steplines import LogLines, StepTable, StepValue
from valvetrain.sheets.table_drawing import Column, Group, Table, table_drawing

WIDTH = 3.3  # in: so wide is each; three stand beside one another
ABREAST = 3
NOTES, BETWEEN = 60.0, 5.0  # mm: a narrow table's notes are so wide; and so far stand tables apart
FEW_VALVES = 8  # so many tips with their marks leave room for a figure beside them
TIP = 0.8  # in: so wide is each of those


@dataclass(frozen=True)
class SheetFigure:
    """One figure under its heading; `key` is the name that the page shows it by."""

    key: str
    heading: str
    drawing: Drawing
    span: int = 1  # so many of the three places in a row
    note: str = ""  # in words below it


def numbers_of(valve: ValveLine, unit: str) -> ValveNumbers | None:
    """A valve as the drawings take it; None where something is missing."""
    if valve.arm is None or valve.lift is None or valve.target_top is None:
        return None
    return ValveNumbers(
        arm_length=valve.arm.length,
        tip_radius=valve.arm.tip_radius,
        shaft_radius=valve.arm.shaft_radius,
        lift=valve.lift,
        tip_diameter=valve.tip_diameter,
        square_at=valve.arm.square_at,
        height_error=valve.left_over,
        unit=unit,
        address=valve.address,
    )


def sheet_figures(sheet: SetupSheet) -> list[list[SheetFigure]]:
    """In rows, one for each kind of valve and rocker: the arm, its travel, and the spring; what is known of them."""
    rows = [(kind, list(figures)) for kind, figures in _arm_figures(sheet)]
    for spring in sheet.springs:
        figure = SheetFigure(
            f"spring-{spring.address}",
            f"{spring.kind.capitalize()} spring with the least margin: {spring.address}",
            spring_chart(spring, width=WIDTH, lettered=True),
        )
        row = next((figures for kind, figures in rows if kind == spring.kind), None)
        if row is None:
            rows.append((spring.kind, [figure]))
        else:
            row.append(figure)
    return [figures for _kind, figures in rows]


def more_figures(
    sheet: SetupSheet, first: Iterable[SheetFigure]
) -> tuple[list[list[SheetFigure]], SheetFigure | None]:
    """In full rows: these first, then ratio and load through the lift; and the packs of the engine.

    The packs stand in the last row where it holds them; else they come by themselves, to fill a page begun.
    """
    rows, packs = _in_rows([*first, *_through_lift(sheet)]), packs_figure(sheet)
    if packs is None or not rows or len(rows[-1]) + packs.span > ABREAST:
        return rows, packs
    return [*rows[:-1], [*rows[-1], packs]], None


def _in_rows(figures: list[SheetFigure]) -> list[list[SheetFigure]]:
    return [figures[start : start + ABREAST] for start in range(0, len(figures), ABREAST)]


def _through_lift(sheet: SetupSheet) -> Iterator[SheetFigure]:
    """Ratio and load of one valve of each kind, kind by kind."""
    for valve in sheet.valves:
        at, kind = valve.address, valve.kind.capitalize()
        for ratio in sheet.ratios:
            if ratio.address == at:
                try:
                    drawing = ratio_chart(ratio, width=WIDTH, lettered=True)
                except GeometryError:  # a lift that this linkage cannot follow: the worksheet says so
                    continue
                yield SheetFigure(f"ratio-{at}", f"{kind} ratio through the lift: {at}", drawing)
        for load in sheet.loads:
            if load.address == at:
                drawing = load_chart(load, width=WIDTH, lettered=True)
                note = load_note(sheet) if load is sheet.loads[-1] else ""
                yield SheetFigure(f"load-{at}", f"{kind} load at the tip, by speed: {at}", drawing, note=note)


def load_note(sheet: SetupSheet) -> str:
    """What stands below the last load: what was taken for granted, and that it certifies nothing."""
    told: dict[str, list[str]] = {}
    for load in sheet.loads:
        told.setdefault(load.assumed, []).append(load.address)
    if not told:
        return ""
    assumed = (f"Load at the tip at {' and '.join(at)}: {words}" for words, at in told.items())
    return " ".join([*assumed, CERTIFIES_NOTHING])


def packs_figure(sheet: SetupSheet) -> SheetFigure | None:
    """The packs of the whole engine; None while none is fitted."""
    if sheet.packs is None:
        return None
    return SheetFigure(
        "packs", "Packs of the engine", pack_map(sheet.packs, width=2 * WIDTH, lettered=True), span=2
    )


def residuals_figure(sheet: SetupSheet) -> SheetFigure | None:
    """The whole head's heights; None while none is read."""
    if all(valve.left_over is None for valve in sheet.valves):
        return None
    drawing = residual_chart(residuals_of(sheet), width=WIDTH, lettered=True)
    return SheetFigure("residuals", "Height along the head, against its limit", drawing)


def residuals_of(sheet: SetupSheet) -> ResidualNumbers:
    """Every valve's height error, as the chart takes it."""
    limit = sheet.valves[0]
    return ResidualNumbers(
        tuple(Residual(valve.address, valve.left_over, valve.verdict, valve.uncertainty) for valve in sheet.valves),
        low=limit.low, high=limit.high, unit=sheet.unit, head=sheet.head,
    )  # fmt: skip


def _arm_figures(sheet: SetupSheet) -> Iterator[tuple[str, list[SheetFigure]]]:
    """The arm and its travel for each distinct kind of valve and rocker, drawn for the one furthest off its height."""
    worst: dict[object, ValveLine] = {}
    for valve in sheet.valves:
        if numbers_of(valve, sheet.unit) is None:
            continue
        key = (valve.kind, valve.arm)
        if key not in worst or abs(valve.left_over or 0.0) > abs(worst[key].left_over or 0.0):
            worst[key] = valve
    for valve in worst.values():
        numbers = numbers_of(valve, sheet.unit)
        assert numbers is not None
        try:
            arm = arm_drawing(numbers, width=WIDTH, lettered=True)
            travel = travel_chart(numbers, width=WIDTH, lettered=True)
        except GeometryError:  # a height so far off that the arm cannot follow: the table says out
            continue
        kind, at = valve.kind.capitalize(), valve.address
        yield (
            valve.kind,
            [
                SheetFigure(f"arm-{at}", f"{kind} arm, drawn for {at}", arm),
                SheetFigure(f"travel-{at}", f"{kind} contact on the tip through the lift: {at}", travel),
            ],
        )


def marks_figure(sheet: SetupSheet) -> Drawing | None:
    """Every tip with its expected mark; None while no valve has a target."""
    found = [numbers_of(valve, sheet.unit) for valve in sheet.valves]
    drawn = tuple(numbers for numbers in found if numbers is not None and _reaches(numbers))
    each = TIP if len(drawn) <= FEW_VALVES else None
    return mark_row(drawn, read=marks_read(sheet), each=each, lettered=True) if drawn else None


def marks_read(sheet: SetupSheet) -> tuple[MeasuredTip, ...]:
    """The marks that were read, as the drawings take them."""
    return tuple(
        MeasuredTip(
            valve.tip_diameter, valve.mark.inner, valve.mark.outer, taper=valve.mark.taper, unit=sheet.unit,
            address=valve.address,
        )
        for valve in sheet.valves
        if valve.mark is not None
    )  # fmt: skip


def _reaches(numbers: ValveNumbers) -> bool:
    try:
        tip_layout(numbers)
    except GeometryError:
        return False
    return True


def plan_figure(sheet: SetupSheet) -> Drawing:
    """The head in plan, with the state of every stand and valve."""
    return plan_drawing(
        lay_out(sheet.plan_stands, sheet.plan_valves), sheet.plan_states, f"{sheet.head} in plan"
    )


@dataclass(frozen=True)
class LogFigure:
    """One table of the log; `key` is the name that the page shows it by, `share` its part of the sheet's width [%]."""

    key: str
    table: StepTable
    drawing: Drawing
    share: float


def log_figures(log: LogLines, width: float, name: str = "log") -> list[list[LogFigure]]:
    """The tables of the log's steps in rows, side by side where the sheet [mm] holds them; `name` begins their keys."""
    rows: list[list[LogFigure]] = []
    taken = width
    for number, table in enumerate(log.tables, start=1):
        drawn = table_drawing(
            _lying(table) if table.turned else _standing(table), width=width, title=table.title
        )
        room = max(drawn.width, NOTES) + BETWEEN
        if taken + room > width + BETWEEN:
            rows.append([])
            taken = 0.0
        rows[-1].append(LogFigure(f"{name}-{number}", table, drawn.drawing, round(100 * room / width, 2)))
        taken += room
    return rows


def _standing(table: StepTable) -> Table:
    """A row for each address, the steps side by side."""
    columns, groups = [Column("" if table.kind == "engine" else table.kind, figures=False, heavy=True)], []
    for block in table.blocks:
        columns += [Column(column.head) for column in block.columns]
        columns += [Column("verdict", figures=False, heavy=True)] * block.judged
        groups.append(Group(block.name, block.width))
    rows, out = [], set()
    for index, address in enumerate(table.addresses):
        row = [StepValue(address)]
        for block in table.blocks:
            row += block.values[index]
            row += [StepValue(block.verdicts[index], block.verdicts[index])] * block.judged
        out |= {(index, place) for place, value in enumerate(row) if value.verdict == "out"}
        rows.append(tuple(value.told for value in row))
    groups = [Group("", 1), *groups] if len(table.blocks) > 1 else []
    return Table(tuple(columns), tuple(rows), tuple(groups), frozenset(out))


def _lying(table: StepTable) -> Table:
    """A row for each thing measured, the addresses across; and a row of verdicts where something is judged."""
    lines: list[tuple[str, list[StepValue]]] = []
    for block in table.blocks:
        for index, column in enumerate(block.columns):
            lines.append((column.head, [row[index] for row in block.values]))
        if block.judged:
            lines.append(("verdict", [StepValue(verdict, verdict) for verdict in block.verdicts]))
    columns = (Column("", figures=False, heavy=True), *(Column(address) for address in table.addresses))
    rows = tuple((name, *(value.told for value in values)) for name, values in lines)
    out = frozenset(
        (number, place + 1)
        for number, (_name, values) in enumerate(lines)
        for place, value in enumerate(values)
        if value.verdict == "out"
    )
    return Table(columns, rows, (), out)
