"""The pieces that the drawings of a valve tip share: rim, bands across it, hatching, dimensions, a bar to scale."""

from math import ceil, cos, floor, pi, sin, sqrt

from valvetrain.charts.style import GRAPHITE, LINE, THIN, Sheet

Point = tuple[float, float]
# Edges of a mark from the tip's centre [in], inner then outer; outboard is positive.
Band = tuple[float, float]


def moved(lines: list[list[Point]], x: float, y: float) -> list[list[Point]]:
    """Lines carried to another place."""
    return [[(x + px, y + py) for px, py in line] for line in lines]


def circle(centre: Point, radius: float) -> list[Point]:
    """A circle as a polygon that looks round on paper."""
    turns = [2 * pi * number / 72 for number in range(72)]
    return [(centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns]


def clipped(band: Band, radius: float) -> Band | None:
    """The part of a band that lies on the tip."""
    inner, outer = max(band[0], -radius), min(band[1], radius)
    return (inner, outer) if outer > inner else None


def outline(band: Band, radius: float) -> list[Point]:
    """A band across the tip, as far as the tip goes."""
    kept = clipped(band, radius)
    if kept is None:
        return []
    steps = [kept[0] + (kept[1] - kept[0]) * i / 8 for i in range(9)]
    upper = [(x, sqrt(max(radius**2 - x**2, 0.0))) for x in steps]
    return upper + [(x, -y) for x, y in reversed(upper)]


def hatching(band: Band, radius: float, apart: float) -> list[list[Point]]:
    """Strokes at 45 degrees over a band, as far as the tip goes."""
    kept = clipped(band, radius)
    if kept is None:
        return []
    spacing = apart * sqrt(2)
    reach = radius + (kept[1] - kept[0])
    lines = []
    for number in range(floor(-reach / spacing), ceil(reach / spacing) + 1):
        # The line y = x + c, kept within the band and within the tip.
        c = number * spacing
        inside = 2 * radius**2 - c**2
        if inside <= 0:
            continue
        start, end = max(kept[0], (-c - sqrt(inside)) / 2), min(kept[1], (-c + sqrt(inside)) / 2)
        if end > start:
            lines.append([(start, start + c), (end, end + c)])
    return lines


def edges(band: Band, radius: float) -> list[list[Point]]:
    """The two edges of a band on the tip."""
    halves = [(edge, sqrt(max(radius**2 - edge**2, 0.0))) for edge in clipped(band, radius) or ()]
    return [[(edge, -half), (edge, half)] for edge, half in halves]


def dimension_band(
    sheet: Sheet, band: Band, start: float, at: float, words: str, color: str = GRAPHITE
) -> None:
    """Dimension a band's width on a line at `at`, with extension lines from the tip."""
    beyond = at + (sheet.points(3) if at > start else -sheet.points(3))
    for edge in band:
        sheet.line([edge, edge], [start, beyond], width=THIN, color=color)
    sheet.dimension((band[0], at), (band[1], at), "", color=color)
    away = sheet.points(9) if at > 0 else -sheet.points(9)
    sheet.text(0.0, at + away, words, color=color)


def scale_bar(sheet: Sheet, unit: str, x: float, y: float) -> None:
    """A bar of a tenth of an inch, or of two millimetres, with its length above it."""
    length, words = (0.1, "0.100") if unit == "in" else (2 / 25.4, "2")
    tick = sheet.points(2.5)
    sheet.line(
        [x, x, x, x + length, x + length, x + length],
        [y + tick, y - tick, y, y, y - tick, y + tick],
        width=LINE,
    )
    sheet.text(x, y + sheet.points(8), f"{words} {unit}", ha="left", fontsize=6.5)
