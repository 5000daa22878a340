"""Drawings that are drawn once and then kept: what the press's child knows of the drawings it has printed.

Drawing an SVG costs WeasyPrint many times what it costs to repeat what came out. A ground is the same on every page,
and a head's drawings are the same until a number changes. So the page's own operators are kept with the text and the
size of the drawing, and repeated. Only drawings that consist of strokes, fills and words are kept: one that made
anything beside the page (a group, a pattern, a shading) is drawn anew each time. A repeated drawing is byte for byte
the drawn one; a test holds it to that.
"""

import re
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any

from builds.printing import lettering
from builds.printing.fetcher import DRAWING, OnlyFromTheHouse

MOST_KEPT = 200
BESIDE_THE_PAGE = ("XObject", "Pattern", "Shading")

_ALPHA = re.compile(rb"^/([Aa])(\d+(?:\.\d+)?) gs$")
_FONT = re.compile(rb"^/([A-Z]{6}) [\d.]+ Tf$")
_GLYPHS = re.compile(rb"<([0-9a-f]+)>")


@dataclass
class Lettered:
    """One font of a drawing: a line set in it (which keeps the font alive), and what its glyphs stand for."""

    layout: Any
    to_unicode: dict[int, str]
    widths: dict[int, int]


@dataclass
class Kept:
    """A drawing as the page's operators, with the fonts and the opacities that they name."""

    operators: bytes
    alphas: list[tuple[float, bool]]
    fonts: list[Lettered]


class KeptDrawings:
    """Draws the drawings of a job, or repeats them."""

    def __init__(self, fetcher: OnlyFromTheHouse) -> None:
        self._fetcher = fetcher
        self._kept: OrderedDict[tuple[str, float, float], Kept] = OrderedDict()

    def install(self) -> None:
        """Stand in for WeasyPrint's drawing of SVG images."""
        from weasyprint.images import SVGImage

        draw_anew = SVGImage.draw

        def draw(image: Any, stream: Any, width: float, height: float, style: Any) -> None:
            name = str(image._base_url)
            svg = self._fetcher.drawings.get(name.removeprefix(DRAWING)) if name.startswith(DRAWING) else None
            if svg is None:
                draw_anew(image, stream, width, height, style)
                return
            key = (svg, round(width, 6), round(height, 6))
            stream.push_state()
            if key in self._kept:
                self._kept.move_to_end(key)
                repeat(self._kept[key], stream)
            else:
                kept = draw_and_keep(lambda: draw_anew(image, stream, width, height, style), stream)
                if kept is not None:
                    self._kept[key] = kept
            stream.pop_state()
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)

        SVGImage.draw = draw


def draw_and_keep(draw: Any, stream: Any) -> Kept | None:
    """Draw, and give back what is to be repeated; None where it cannot be."""
    start = len(stream.stream)
    beside = [len(stream._resources[kind]) for kind in BESIDE_THE_PAGE]
    lines: list[tuple[Any, Any]] = []
    lettering.lines_set = lines
    try:
        draw()
    finally:
        lettering.lines_set = None
    if beside != [len(stream._resources[kind]) for kind in BESIDE_THE_PAGE]:
        return None
    operators = [part if isinstance(part, bytes) else str(part).encode() for part in stream.stream[start:]]
    alphas = [(float(found[2]), found[1] == b"A") for part in operators if (found := _ALPHA.match(part))]
    fonts = _fonts_of(operators, lines)
    return None if fonts is None else Kept(b"\n".join(operators), list(dict.fromkeys(alphas)), fonts)


def _fonts_of(operators: list[bytes], lines: list[tuple[Any, Any]]) -> list[Lettered] | None:
    """The fonts that the operators name, in their order, with the glyphs that they show; None if one is unknown."""
    known: dict[str, tuple[Any, Any]] = {}
    for layout, font in lines:
        known.setdefault(font.hash, (layout, font))
    found: dict[str, Lettered] = {}
    current: tuple[Any, Any] | None = None
    for part in operators:
        if named := _FONT.match(part):
            name = named[1].decode()
            if name not in known:
                return None
            current = known[name]
            found.setdefault(name, Lettered(current[0], {}, {}))
        elif part.endswith(b"TJ") and current is not None:
            kept = found[current[1].hash]
            for run in _GLYPHS.findall(part):
                for at in range(0, len(run), 4):
                    glyph = int(run[at : at + 4], 16)
                    kept.to_unicode.setdefault(glyph, current[1].to_unicode.get(glyph, ""))
                    kept.widths.setdefault(glyph, current[1].widths.get(glyph, 0))
    return list(found.values())


def repeat(kept: Kept, stream: Any) -> None:
    """Put a kept drawing on a page of this document."""
    for lettered in kept.fonts:
        font, _size = stream.add_font(lettering.font_of(lettered.layout))
        for glyph, text in lettered.to_unicode.items():
            font.to_unicode.setdefault(glyph, text)
        for glyph, width in lettered.widths.items():
            font.widths.setdefault(glyph, width)
    for alpha, stroke in kept.alphas:
        before = len(stream.stream)
        stream._current_alpha = stream._current_alpha_stroke = None
        stream.set_alpha(alpha, stroke)
        del stream.stream[before:]
    stream.stream.append(kept.operators)
