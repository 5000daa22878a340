"""The mark of a valve as it left and as found, on one drawing, from what the report keeps."""

from valvetrain.charts.mark_pair import MarkPair, MarkThen, mark_pair
from valvetrain.charts.numbers import Drawing
from valvetrain.sheets.return_lines import HadLine, MarkAt


def marks_drawing(line: HadLine, unit: str) -> Drawing | None:
    """Both marks of a valve to scale; nothing where there is neither, nor a tip to draw them on."""
    if line.tip_diameter is None or (line.then is None and line.now is None):
        return None
    pair = MarkPair(
        tip_diameter=line.tip_diameter, then=_mark(line.then), now=_mark(line.now), unit=unit, address=line.address
    )  # fmt: skip
    return mark_pair(pair, width=2.3, lettered=True)


def _mark(mark: MarkAt | None) -> MarkThen | None:
    return None if mark is None else MarkThen(mark.inner, mark.outer, mark.worked_out)
