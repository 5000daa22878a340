"""Paper sizes, and the ground of a page: frame, zones at its border, and DRAFT across it where it is one."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from pathlib import Path

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

FACE = Path(__file__).resolve().parent.parent.parent / "static/fonts/IBMPlexSans-SemiBold.ttf"
EDGE, BORDER = 5.0, 4.0  # mm: paper's edge to the frame, and the strip with the zones
ACROSS, DOWN = 6, 4
BLOCK, INSET, LETTERING = (
    9.0,
    1.8,
    3.1,
)  # mm: height of the title block, room beside its words, and their size
GRAPHITE, SOFT, GHOST = "#26292c", "#565a5e", "#a5a29a"
# Single-stroke lettering, 1.2 mm wide and 2 mm tall, from its upper left corner.
STROKES = {
    "1": "m.3 .4l.4-.4v2", "2": "m0 .4l.3-.4h.6l.3 .4v.4l-1.2 1.2h1.2", "3": "h1.2l-.7 .8l.7 .4v.4l-.3 .4h-.6l-.3-.4",
    "4": "m.9 2v-2l-.9 1.4h1.2", "5": "m1.1 0h-.9l-.1 .9h.8l.3 .3v.4l-.3 .4h-.6l-.3-.4",
    "6": "m1 0l-.8 .9l-.2 .4v.3l.3 .4h.6l.3-.4v-.3l-.3-.3h-.8",
    "A": "m0 2l.6-2l.6 2m-.2-.7h-.8", "B": "v2h.9l.3-.3v-.5l-.3-.3h-.9m.8 0l.3-.3v-.3l-.3-.3h-.8",
    "C": "m1.2 .4l-.3-.4h-.6l-.3 .4v1.2l.3 .4h.6l.3-.4", "D": "v2h.7l.5-.5v-1l-.5-.5z",
}  # fmt: skip


@dataclass(frozen=True)
class Paper:
    """A size of paper, lying on its side. Millimetres."""

    name: str
    width: float
    height: float

    @property
    def size(self) -> str:
        """As CSS writes it."""
        return f"{self.width}mm {self.height}mm"


PAPERS = {paper.name: paper for paper in (Paper("A4", 297.0, 210.0), Paper("Letter", 279.4, 215.9))}


@dataclass(frozen=True)
class Cell:
    """One cell of the title block at the foot of every page: a name, what stands under it, and its share of the width."""

    name: str
    text: str
    share: float = 1.0
    heavy: bool = False

    def fitting(self, width: float) -> str:
        """As much of the text as the cell holds."""
        room = int((width - 2 * INSET) / (LETTERING * 0.2))
        return self.text if len(self.text) <= room else self.text[: room - 1].rstrip() + "…"


@lru_cache(maxsize=32)
def ground(paper: Paper, *, word: str = "", cells: tuple[Cell, ...] = ()) -> str:
    """The ground of every page as SVG: frame, zones and title block.

    `word` stands across the page in outline, behind the figures. The last cell is left to the page's own number.
    """
    width, height = paper.width, paper.height
    inner = EDGE + BORDER
    parts = [
        f'<rect x="{EDGE}" y="{EDGE}" width="{width - 2 * EDGE:g}" height="{height - 2 * EDGE:g}" stroke-width=".2"/>',
        f'<rect x="{inner}" y="{inner}" width="{width - 2 * inner:g}" height="{height - 2 * inner:g}" '
        'stroke-width=".6"/>',
        f'<path d="{"".join(_ticks(width, height))}" stroke-width=".2"/>',
        f'<path d="{"".join(_zones(width, height))}" stroke-width=".3" stroke-linecap="round" stroke-linejoin="round"/>',
        *_title_block(paper, cells),
    ]
    if word:
        # As large as the frame holds at this slope.
        turn = f"translate({width / 2:g} {height / 2:g}) rotate(-24)"
        parts.append(
            f'<path transform="{turn}" d="{_outlined(word, width * 0.72)}" stroke="{GHOST}" stroke-width=".4"/>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}" '
        f'fill="none" stroke="{GRAPHITE}" font-family="Plex">{"".join(parts)}</svg>'
    )


def _title_block(paper: Paper, cells: tuple[Cell, ...]) -> Iterator[str]:
    """The block of cells along the foot of the frame."""
    left, right = EDGE + BORDER, paper.width - EDGE - BORDER
    bottom = paper.height - EDGE - BORDER
    top, x = bottom - BLOCK, left
    if not cells:
        return
    yield f'<path d="M{left} {top:g}H{right:g}" stroke-width=".6"/>'
    whole = sum(cell.share for cell in cells)
    for cell in cells:
        width = (right - left) * cell.share / whole
        at = f'x="{x + INSET:.2f}" stroke="none"'
        name, text = escape(cell.name), escape(cell.fitting(width))
        yield f'<text {at} y="{top + 3.1:.2f}" font-size="2.3" fill="{SOFT}">{name}</text>'
        if text:
            weight = ' font-weight="600"' if cell.heavy else ""
            yield f'<text {at} y="{top + 7.1:.2f}" font-size="{LETTERING}" fill="{GRAPHITE}"{weight}>{text}</text>'
        x += width
        if x < right - 1:
            yield f'<path d="M{x:.2f} {top:g}V{bottom:g}" stroke-width=".2"/>'


def _ticks(width: float, height: float) -> Iterator[str]:
    """Strokes between the zones, on all four sides."""
    for number in range(1, ACROSS):
        x = round(EDGE + (width - 2 * EDGE) * number / ACROSS, 2)
        yield f"M{x} {EDGE}v{BORDER}M{x} {height - EDGE}v-{BORDER}"
    for number in range(1, DOWN):
        y = round(EDGE + (height - 2 * EDGE) * number / DOWN, 2)
        yield f"M{EDGE} {y}h{BORDER}M{width - EDGE} {y}h-{BORDER}"


def _zones(width: float, height: float) -> Iterator[str]:
    """Figures along, letters down, in single strokes as from a lettering guide: each zone has a name."""
    middle = EDGE + BORDER / 2
    for number in range(ACROSS):
        x = EDGE + (width - 2 * EDGE) * (number + 0.5) / ACROSS
        for y in (middle, height - middle):
            yield _stroked(str(number + 1), x, y)
    for number in range(DOWN):
        y = EDGE + (height - 2 * EDGE) * (number + 0.5) / DOWN
        for x in (middle, width - middle):
            yield _stroked("ABCD"[number], x, y)


def _stroked(letter: str, x: float, y: float) -> str:
    return f"M{x - 0.6:.2f} {y - 1:.2f}{STROKES[letter]}"


def _outlined(word: str, across: float) -> str:
    """A word as outlines about the origin, so wide [mm]."""
    font = _face()
    glyphs, names = font.getGlyphSet(), [font.getBestCmap()[ord(letter)] for letter in word]
    bounds = BoundsPen(glyphs)
    glyphs[names[0]].draw(bounds)
    scale = across / sum(glyphs[name].width for name in names)
    pen = SVGPathPen(glyphs, ntos=lambda number: f"{number:.2f}")
    x, y = -across / 2, bounds.bounds[3] * scale / 2
    for name in names:
        glyphs[name].draw(TransformPen(pen, (scale, 0, 0, -scale, x, y)))
        x += glyphs[name].width * scale
    path: str = pen.getCommands()
    return path


@lru_cache(maxsize=1)
def _face() -> TTFont:
    return TTFont(FACE, lazy=True)
