"""The valve tip from above, with the mark that the roller leaves on it."""

from dataclasses import dataclass, replace
from functools import lru_cache

from valvetrain.charts.measured_tip import MeasuredTip, mark_edges, mark_hatching
from valvetrain.charts.numbers import Drawing, ValveNumbers
from valvetrain.charts.style import CHAIN, DYE, HEAVY, SOFT, THIN, Sheet
from valvetrain.charts.tip_shapes import (
    Band,
    Point,
    circle,
    dimension_band,
    edges,
    hatching,
    moved,
    outline,
    scale_bar,
)
from valvetrain.geometry.travel import expected_mark

NOTE = "Drawn centred: where the mark lies across the tip\nis proved by the mark itself."
IN_A_ROW = 8


@dataclass(frozen=True)
class TipLayout:
    """Edges of the marks from the tip's centre [in], inner then outer; outboard is positive."""

    radius: float
    right: Band
    now: Band | None
    read: MeasuredTip | None = None  # the mark as it was read, hatched instead


def tip_layout(numbers: ValveNumbers) -> TipLayout:
    """Work out the marks. Raises `GeometryError` where the arm cannot reach.

    The shaft stands where the mark at the right height is centred, and stays there when it stands high or low.
    """

    def band(error: float) -> Band:
        mark = expected_mark(
            numbers.arm, numbers.lift, shaft_offset=numbers.shaft_offset, height_error=error,
            square_at=numbers.square_at,
        )  # fmt: skip
        return float(mark.inner), float(mark.outer)

    now = band(numbers.height_error) if numbers.is_off and numbers.height_error is not None else None
    return TipLayout(numbers.tip_diameter / 2, band(0.0), now)


@lru_cache(maxsize=256)
def tip_mark(numbers: ValveNumbers, *, lettered: bool = False) -> Drawing:
    """Draw the tip to scale with the expected mark: outlined at the right height, hatched as it is now."""
    layout = tip_layout(numbers)
    radius = layout.radius
    # Laid out in tip diameters, so that every tip fills its drawing.
    sheet = Sheet(width=2.9, x=(-radius * 2.2, radius * 2.2), y=(-radius * 2.3, radius * 1.75))
    _draw_tips(sheet, [((0.0, 0.0), layout)])
    step = sheet.points(11)
    low = -radius - 1.6 * step
    dimension_band(sheet, layout.right, -radius * 0.2, low, numbers.said(layout.right[1] - layout.right[0]))
    if layout.now is not None:
        high = radius + 1.2 * step
        width = numbers.said(layout.now[1] - layout.now[0])
        dimension_band(sheet, layout.now, radius * 0.2, high, f"{width} now", color=DYE)
    side = radius + sheet.points(7)
    sheet.text(-side, 0, "toward\nshaft", ha="right", color=SOFT, linespacing=1.1)
    sheet.text(side, 0, "outboard", ha="left", color=SOFT)
    scale_bar(sheet, numbers.unit, -radius * 2.12, -radius * 2.02)
    sheet.text(radius * 2.12, -radius * 2.02, NOTE, ha="right", fontsize=6, color=SOFT, linespacing=1.15)
    return sheet.finish(f"{numbers.place}the tip with its mark", _words(numbers, layout), lettered=lettered)


@lru_cache(maxsize=64)
def mark_row(
    valves: tuple[ValveNumbers, ...],
    *,
    read: tuple[MeasuredTip, ...] = (),
    each: float | None = None,
    lettered: bool = False,
) -> Drawing:
    """Draw every valve's tip with its expected mark, all at one scale, to hold beside the marks on the bench.

    Where a mark was `read`, that is hatched, at its place and with its width below.
    """
    as_read = {tip.address: tip for tip in read if tip.width is not None}
    largest = max(numbers.tip_diameter for numbers in valves)
    across, down = largest * 1.62, largest * (2.55 if as_read else 2.3)
    in_a_row = IN_A_ROW if len(valves) <= IN_A_ROW else 2 * IN_A_ROW
    rows, count = -(-len(valves) // in_a_row), min(len(valves), in_a_row)
    # Two scales: a head with few valves has them larger.
    sheet = Sheet(
        width=(each or (0.95 if in_a_row == IN_A_ROW else 0.61)) * count,
        x=(0, across * count),
        y=(-down * rows, 0),
    )
    tips: list[tuple[Point, TipLayout]] = []
    for index, numbers in enumerate(valves):
        layout = tip_layout(numbers)
        centre = (across * (index % in_a_row + 0.5), -down * (index // in_a_row + (0.45 if as_read else 0.5)))
        found = as_read.get(numbers.address)
        tips.append((centre, layout if found is None else replace(layout, now=None, read=found)))
        above, below = centre[1] + largest / 2 + sheet.points(9), centre[1] - largest / 2 - sheet.points(9)
        sheet.text(centre[0], above, numbers.address, weight="semibold", fontsize=8.5)
        shown = layout.now or layout.right
        sheet.text(centre[0], below, numbers.said(shown[1] - shown[0]))
        if found is not None and found.width is not None:
            under = below - sheet.points(9)
            sheet.text(centre[0], under, f"read {found.said(found.width)}", color=DYE)
    _draw_tips(sheet, tips)
    words = "; ".join(_short_words(numbers) for numbers in valves)
    told = f"Width of the expected mark. {words}."
    if as_read:
        told += f" As read. {' '.join(tip.words for tip in as_read.values())}"
    return sheet.finish("The tips with their expected marks", told, lettered=lettered)


def _draw_tips(sheet: Sheet, tips: list[tuple[Point, TipLayout]]) -> None:
    """Draw tips with their marks; all the lines of one kind as one path, since a row of tips has hundreds."""
    over = sheet.points(5)
    centre_lines, dyed = [], []
    for (x, y), layout in tips:
        reach = layout.radius + over
        centre_lines += [[(x - reach, y), (x + reach, y)], [(x, y - reach), (x, y + reach)]]
        if layout.now is not None:
            dyed += moved(hatching(layout.now, layout.radius, sheet.points(2.6)), x, y)
            dyed += moved(edges(layout.now, layout.radius), x, y)
        if layout.read is not None:
            dyed += moved(mark_hatching(layout.read, sheet.points(2.6)), x, y)
            dyed += moved(mark_edges(layout.read), x, y)
    sheet.strokes([circle(centre, layout.radius) for centre, layout in tips], width=HEAVY, closed=True)
    sheet.strokes(centre_lines, width=THIN, dash=CHAIN, color=SOFT)
    sheet.strokes(dyed, width=THIN, color=DYE)
    outlines = [moved([outline(layout.right, layout.radius)], x, y)[0] for (x, y), layout in tips]
    sheet.strokes(outlines, width=HEAVY, closed=True)


def _short_words(numbers: ValveNumbers) -> str:
    layout = tip_layout(numbers)
    right = f"{numbers.place}{numbers.told(layout.right[1] - layout.right[0])} at the right height"
    return right if layout.now is None else f"{right}, {numbers.told(layout.now[1] - layout.now[0])} now"


def _words(numbers: ValveNumbers, layout: TipLayout) -> str:
    said = f"{_short_words(numbers)}, on a tip {numbers.told(numbers.tip_diameter)} across."
    off = layout.now is not None and (layout.now[0] < -layout.radius or layout.now[1] > layout.radius)
    edge = " At the height that was read the contact runs off the tip." if off else ""
    return f"{said}{edge} {NOTE}".replace("\n", " ")
