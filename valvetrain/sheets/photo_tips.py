"""The tips of a photo log: each to scale, with the mark as read and the mark to expect."""

from valvetrain.charts.measured_tip import MeasuredTip, measured_tip
from valvetrain.charts.numbers import Drawing
from valvetrain.sheets.photo_lines import MarkLine


def tip_drawing(line: MarkLine, unit: str) -> Drawing:
    """One valve's tip; what is not read, and what is not known, is not drawn."""
    tip = MeasuredTip(
        tip_diameter=line.tip_diameter,
        inner=line.inner,
        outer=line.outer,
        expected=line.expected,
        taper=line.taper,
        closed=line.closed,
        open=line.open,
        unit=unit,
        address=line.address,
    )
    return measured_tip(tip, lettered=True)
