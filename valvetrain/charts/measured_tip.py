"""A valve tip from above to scale: the mark as it was read, hatched, beside the mark to expect, outlined."""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

from builds.measures import show
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.style import CHAIN, DYE, GRAPHITE, HEAVY, LINE, SOFT, THIN, Sheet
from valvetrain.charts.tip_shapes import Point, circle, dimension_band, outline, scale_bar

APART = 2.6  # pt between the strokes of a hatching
NOTE = "Outlined: the mark to expect at the right height,\nin the middle. Hatched: the mark as read."


@dataclass(frozen=True)
class MeasuredTip:
    """One valve's tip with its mark, as drawn. Lengths in inches whatever `unit` they are lettered in.

    Edges from the tip's centre line, plus: outboard; `expected` is the width at the right height; `taper` the width of
    the front half less that of the rear half. What is None is not drawn.
    """

    tip_diameter: float
    inner: float | None = None
    outer: float | None = None
    expected: float | None = None
    taper: float | None = None
    closed: float | None = None
    open: float | None = None
    unit: str = "in"
    address: str = ""

    @property
    def radius(self) -> float:
        """Half the tip's diameter."""
        return self.tip_diameter / 2

    @property
    def width(self) -> float | None:
        """Width of the mark as read; None where it was not, or where its edges cannot be."""
        if self.inner is None or self.outer is None or self.outer <= self.inner:
            return None
        return self.outer - self.inner

    @property
    def slope(self) -> float:
        """How much wider the mark gets toward the front, inch for inch: the halves are read a radius apart."""
        return (self.taper or 0.0) / self.radius

    def said(self, inches: float, *, sign: bool = False) -> str:
        """A length as it is lettered: to a thousandth, as a mark is read."""
        return show(inches, self.unit, 3 if self.unit == "in" else 2, sign=sign)

    @property
    def words(self) -> str:
        """The drawing in a sentence."""
        place = f"{self.address}: " if self.address else ""
        told = []
        if self.width is not None:
            middle = ((self.inner or 0.0) + (self.outer or 0.0)) / 2
            side = "outboard" if middle > 0 else "toward the shaft"
            told.append(f"mark {self.said(self.width)} wide, its middle {self.said(abs(middle))} {side}")
        else:
            told.append("no mark read")
        if self.expected is not None:
            told.append(f"{self.said(self.expected)} to expect at the right height")
        tip = f"on a tip {self.said(self.tip_diameter)} {self.unit} across"
        return f"{place}{', '.join(told)}, {tip}."


@lru_cache(maxsize=256)
def measured_tip(tip: MeasuredTip, *, lettered: bool = False) -> Drawing:
    """Draw one tip large, with its figures."""
    radius = tip.radius
    sheet = Sheet(width=2.9, x=(-radius * 2.2, radius * 2.2), y=(-radius * 2.3, radius * 1.85))
    _draw(sheet, tip)
    step = sheet.points(11)
    if tip.expected is not None:
        band = (-tip.expected / 2, tip.expected / 2)
        dimension_band(sheet, band, -radius * 0.2, -radius - 1.6 * step, f"{tip.said(tip.expected)} expected")
    if tip.width is not None and tip.inner is not None and tip.outer is not None:
        high = radius + 1.2 * step
        dimension_band(
            sheet, (tip.inner, tip.outer), radius * 0.2, high, f"{tip.said(tip.width)} read", color=DYE
        )
    _draw_ends(sheet, tip)
    side = radius + sheet.points(7)
    sheet.text(-side, 0, "toward\nshaft", ha="right", color=SOFT, linespacing=1.1)
    sheet.text(side, 0, "outboard", ha="left", color=SOFT)
    sheet.text(side * 0.86, radius * 0.78, "front", ha="left", color=SOFT)
    sheet.text(side * 0.86, -radius * 0.78, "rear", ha="left", color=SOFT)
    scale_bar(sheet, tip.unit, -radius * 2.12, -radius * 2.02)
    sheet.text(radius * 2.12, -radius * 2.02, NOTE, ha="right", fontsize=6, color=SOFT, linespacing=1.15)
    place = f"{tip.address}: " if tip.address else ""
    return sheet.finish(f"{place}the tip with its mark", tip.words, lettered=lettered)


@lru_cache(maxsize=512)
def small_tip(tip: MeasuredTip, *, lettered: bool = False) -> Drawing:
    """Draw one tip small, without figures: for a row of them."""
    reach = tip.radius * 1.16
    sheet = Sheet(width=1.5, x=(-reach, reach), y=(-reach, reach))
    _draw(sheet, tip)
    place = f"{tip.address}: " if tip.address else ""
    return sheet.finish(f"{place}the tip with its mark", tip.words, lettered=lettered)


def _draw(sheet: Sheet, tip: MeasuredTip) -> None:
    radius = tip.radius
    reach = radius + sheet.points(5)
    sheet.strokes([circle((0.0, 0.0), radius)], width=HEAVY, closed=True)
    sheet.strokes([[(-reach, 0), (reach, 0)], [(0, -reach), (0, reach)]], width=THIN, dash=CHAIN, color=SOFT)
    if tip.width is not None:
        sheet.strokes(mark_hatching(tip, sheet.points(APART)), width=THIN, color=DYE)
        sheet.strokes(mark_edges(tip), width=LINE, color=DYE)
    if tip.expected is not None:
        band = (-tip.expected / 2, tip.expected / 2)
        sheet.strokes([outline(band, radius)], width=HEAVY, closed=True)


def _draw_ends(sheet: Sheet, tip: MeasuredTip) -> None:
    """Where the contact stands closed and at full lift: a tick each on the tip, with its word."""
    for at, word, end in ((tip.closed, "closed", 1), (tip.open, "open", -1)):
        if at is None or abs(at) >= tip.radius:
            continue
        y = end * tip.radius * 0.52
        size = sheet.points(5)
        sheet.line([at, at], [y - size, y + size], width=HEAVY, color=GRAPHITE)
        leader = max(tip.radius * 0.3, at + sheet.points(9))
        sheet.line([at, leader], [y, y], width=THIN, color=GRAPHITE)
        sheet.text(leader + sheet.points(2), y, word, ha="left", fontsize=6.5)


def mark_edges(tip: MeasuredTip) -> list[list[Point]]:
    """The two edges of the mark as read, from rim to rim; leaning toward one another where it tapers."""
    found = []
    for edge, side in ((tip.inner, -1.0), (tip.outer, 1.0)):
        assert edge is not None
        lean = side * tip.slope / 2  # x = edge + lean·y
        found.append(_across_tip(edge, lean, tip.radius))
    return [line for line in found if line]


def _across_tip(at: float, lean: float, radius: float) -> list[Point]:
    """The line x = at + lean·y from rim to rim; nothing where it misses the tip."""
    a, b, c = 1 + lean * lean, at * lean, at * at - radius * radius
    inside = b * b - a * c
    if inside <= 0:
        return []
    return [(at + lean * y, y) for y in ((-b - sqrt(inside)) / a, (-b + sqrt(inside)) / a)]


def mark_hatching(tip: MeasuredTip, apart: float) -> list[list[Point]]:
    """Strokes at 45 degrees over the mark as read, as far as mark and tip go."""
    assert tip.inner is not None and tip.outer is not None
    radius, lean = tip.radius, tip.slope / 2
    lines = []
    count = int(2 * radius / (apart * sqrt(2))) + 1
    for number in range(-count, count + 1):
        c = number * apart * sqrt(2)  # the line y = x + c
        inside = 2 * radius**2 - c**2
        if inside <= 0:
            continue
        # Inside the tip, and between x = inner − lean·y and x = outer + lean·y.
        low = max((-c - sqrt(inside)) / 2, (tip.inner - lean * c) / (1 + lean))
        high = min((-c + sqrt(inside)) / 2, (tip.outer + lean * c) / (1 - lean))
        if high > low:
            lines.append([(low, low + c), (high, high + c)])
    return lines
