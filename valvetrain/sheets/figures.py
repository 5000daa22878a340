"""The drawings of a setup sheet, from its snapshot."""

from dataclasses import dataclass

from valvetrain.charts.arm import arm_drawing
from valvetrain.charts.numbers import Drawing, ValveNumbers
from valvetrain.charts.tip import mark_row, tip_layout
from valvetrain.charts.travel import TravelRow, travel_chart, travel_table
from valvetrain.geometry.errors import GeometryError
from valvetrain.plan import lay_out
from valvetrain.sheets.plan_drawing import plan_drawing
from valvetrain.sheets.snapshot import SetupSheet, ValveLine


@dataclass(frozen=True)
class ArmFigure:
    """One kind of valve: the arm, its travel, and the travel as figures; for the valve furthest off its height."""

    kind: str
    address: str
    arm: Drawing
    travel: Drawing
    rows: list[TravelRow]


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


def arm_figures(sheet: SetupSheet) -> list[ArmFigure]:
    """One figure for each distinct kind of valve and rocker."""
    worst: dict[object, ValveLine] = {}
    for valve in sheet.valves:
        if numbers_of(valve, sheet.unit) is None:
            continue
        key = (valve.kind, valve.arm)
        if key not in worst or abs(valve.left_over or 0.0) > abs(worst[key].left_over or 0.0):
            worst[key] = valve
    figures = []
    for valve in worst.values():
        numbers = numbers_of(valve, sheet.unit)
        assert numbers is not None
        try:
            figures.append(
                ArmFigure(
                    valve.kind,
                    valve.address,
                    arm_drawing(numbers, lettered=True),
                    travel_chart(numbers, lettered=True),
                    travel_table(numbers, 9),
                )
            )
        except GeometryError:  # a height so far off that the arm cannot follow: the table says out
            continue
    return figures


def marks_figure(sheet: SetupSheet) -> Drawing | None:
    """Every tip with its expected mark; None while no valve has a target."""
    found = [numbers_of(valve, sheet.unit) for valve in sheet.valves]
    drawn = tuple(numbers for numbers in found if numbers is not None and _reaches(numbers))
    return mark_row(drawn, lettered=True) if drawn else None


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
