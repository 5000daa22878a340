"""The mark of one valve then and now on one tip, to scale: then outlined by a chain line, now hatched."""

from dataclasses import dataclass
from functools import lru_cache

from builds.measures import show
from valvetrain.charts.measured_tip import MeasuredTip, mark_edges, mark_hatching
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.style import CHAIN, DYE, GRAPHITE, HEAVY, LINE, SOFT, THIN, Sheet
from valvetrain.charts.tip_shapes import Band, circle, dimension_band, outline, scale_bar

APART = 3.2  # pt between the strokes of the hatching
# Long dashes and dots, and heavy: told apart from the tip's thin centre lines by weight as well.
THEN_DASH = (0, (7, 1.6, 1.4, 1.6))
WORKED_OUT = "worked out from the height"


@dataclass(frozen=True)
class MarkThen:
    """A mark at one of the two times: its edges from the tip's centre line [in], plus: outboard.

    `worked_out`: not read, but what the height that was read makes, drawn in the middle of the tip.
    """

    inner: float
    outer: float
    worked_out: bool = False

    @property
    def width(self) -> float:
        """How far the contact swept."""
        return self.outer - self.inner

    @property
    def band(self) -> Band:
        """Its edges, inner then outer."""
        return self.inner, self.outer


@dataclass(frozen=True)
class MarkPair:
    """One valve's tip with its mark then and now, as drawn. Lengths in inches whatever `unit` they are lettered in."""

    tip_diameter: float
    then: MarkThen | None = None
    now: MarkThen | None = None
    unit: str = "in"
    address: str = ""

    @property
    def radius(self) -> float:
        """Half the tip's diameter."""
        return self.tip_diameter / 2

    def said(self, inches: float) -> str:
        """A length as it is lettered: to a thousandth, as a mark is read."""
        return show(inches, self.unit, 3 if self.unit == "in" else 2)

    @property
    def words(self) -> str:
        """The drawing in a sentence."""
        place = f"{self.address}: " if self.address else ""
        told = [_told(self, self.then, "when it left"), _told(self, self.now, "as found")]
        if self.then is not None and self.now is not None:
            wider = self.now.width - self.then.width
            if self.said(abs(wider)) != self.said(0.0):
                word = "wider" if wider > 0 else "narrower"
                told.append(f"{self.said(abs(wider))} {self.unit} {word} as found")
        return f"{place}{', '.join(told)}, on a tip {self.said(self.tip_diameter)} {self.unit} across."


def _told(pair: MarkPair, mark: MarkThen | None, when: str) -> str:
    if mark is None:
        return f"no mark {when}"
    how = f" ({WORKED_OUT})" if mark.worked_out else ""
    return f"mark {pair.said(mark.width)} {pair.unit} wide {when}{how}"


@lru_cache(maxsize=256)
def mark_pair(pair: MarkPair, *, width: float = 3.4, lettered: bool = False) -> Drawing:
    """Draw the tip large with both marks, each with its width: then below the tip, now above it."""
    radius = pair.radius
    sheet = Sheet(width=width, x=(-radius * 2.1, radius * 2.1), y=(-radius * 2.25, radius * 1.85))
    reach, step = radius + sheet.points(5), sheet.points(11)
    sheet.strokes([[(-reach, 0), (reach, 0)], [(0, -reach), (0, reach)]], width=THIN, dash=CHAIN, color=SOFT)
    if pair.now is not None:
        tip = MeasuredTip(pair.tip_diameter, *pair.now.band)
        sheet.strokes(mark_hatching(tip, sheet.points(APART)), width=THIN, color=DYE)
        sheet.strokes(mark_edges(tip), width=LINE, color=DYE)
        words = f"{pair.said(pair.now.width)} as found"
        dimension_band(sheet, pair.now.band, radius * 0.2, radius + 1.2 * step, words, color=DYE)
    if pair.then is not None:
        sheet.strokes([outline(pair.then.band, radius)], width=HEAVY, dash=THEN_DASH, closed=True)
        words = f"{pair.said(pair.then.width)} when it left"
        dimension_band(sheet, pair.then.band, -radius * 0.2, -radius - 1.2 * step, words)
    sheet.strokes([circle((0.0, 0.0), radius)], width=HEAVY, closed=True)
    side = radius + sheet.points(7)
    sheet.text(-side, 0, "toward\nshaft", ha="right", color=SOFT, linespacing=1.1)
    sheet.text(side, 0, "outboard", ha="left", color=SOFT)
    sheet.text(side * 0.86, radius * 0.78, "front", ha="left", color=SOFT)
    sheet.text(side * 0.86, -radius * 0.78, "rear", ha="left", color=SOFT)
    scale_bar(sheet, pair.unit, -radius * 2.02, -radius * 2.08)
    _letter_key(sheet, pair)
    place = f"{pair.address}: " if pair.address else ""
    return sheet.finish(f"{place}the mark then and now", pair.words, lettered=lettered)


def _letter_key(sheet: Sheet, pair: MarkPair) -> None:
    """Which line is which, by a stroke of each; and what of it was not read."""
    radius, line = pair.radius, sheet.points(10)
    start, low = -radius * 0.55, -radius * 2.12
    rows = [("when it left", pair.then, False), ("as found", pair.now, True)]
    for number, (words, mark, hatched) in enumerate(rows):
        y = low + line * (1 - number)
        if mark is None:
            sheet.text(start, y, f"{words}: no mark", ha="left", fontsize=6.5, color=SOFT)
            continue
        end = start + sheet.points(20)
        if hatched:
            half = sheet.points(3)
            sheet.line(
                [start, end, end, start, start],
                [y - half, y - half, y + half, y + half, y - half],
                width=THIN,
                color=DYE,
            )
            strokes = [
                [(start + sheet.points(3 * n), y - half), (start + sheet.points(3 * n) + 2 * half, y + half)]
                for n in range(5)
            ]
            sheet.strokes(strokes, width=THIN, color=DYE)
        else:
            sheet.line([start, end], [y, y], width=HEAVY, dash=THEN_DASH, color=GRAPHITE)
        how = ", worked out" if mark.worked_out else ", as read"
        sheet.text(end + sheet.points(4), y, f"{words}{how}", ha="left", fontsize=6.5)
