"""The tips of a photo log: each to scale, with the mark to expect and the mark as measured."""

from valvetrain.charts.numbers import Drawing, ValveNumbers
from valvetrain.charts.tip import tip_mark
from valvetrain.geometry.errors import GeometryError
from valvetrain.sheets.photo_lines import MarkLine


def tip_drawing(line: MarkLine, unit: str) -> Drawing | None:
    """One valve's tip; None where neither rockers and lift nor a mark are known."""
    if line.arm is None or line.lift is None:
        return None
    numbers = ValveNumbers(
        arm_length=line.arm.length,
        tip_radius=line.arm.tip_radius,
        shaft_radius=line.arm.shaft_radius,
        lift=line.lift,
        tip_diameter=line.tip_diameter,
        square_at=line.arm.square_at,
        height_error=line.height_error,
        unit=unit,
        address=line.address,
    )
    try:
        return tip_mark(numbers, lettered=True)
    except GeometryError:
        return None
