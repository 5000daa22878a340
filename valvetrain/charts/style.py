"""Lines, lettering and dimensions as on an inspection drawing, and the writing of the SVG."""

import io
import re
import threading
from collections.abc import Sequence
from functools import lru_cache
from html import escape
from math import hypot
from textwrap import fill

import matplotlib
from django.conf import settings
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch, Polygon
from matplotlib.path import Path

from valvetrain.charts.numbers import Drawing

GRAPHITE, SOFT, HAIR, DYE = "#26292c", "#565a5e", "#b9b4a8", "#22408f"
HEAVY, LINE, THIN = 1.5, 0.9, 0.5  # pt
# Dashes that stay apart in black and white: hidden, chain (axes), phantom (other positions).
HIDDEN, CHAIN, PHANTOM = (0, (5, 2.2)), (0, (11, 2, 2, 2)), (0, (9, 2, 1.6, 2, 1.6, 2))
LETTERING = 7.5  # pt
ARROW = 4.5  # pt

for _face in ("Regular", "SemiBold"):
    font_manager.fontManager.addfont(settings.BASE_DIR / f"static/fonts/IBMPlexSans-{_face}.ttf")
# Set once for this process: glyphs as outlines (no font is needed to show them) and the same ids every time.
matplotlib.rcParams.update(
    {"font.family": "IBM Plex Sans", "font.size": LETTERING, "svg.fonttype": "path", "svg.hashsalt": "standbook",
     "axes.linewidth": THIN, "axes.edgecolor": GRAPHITE, "text.color": GRAPHITE, "axes.unicode_minus": True}
)  # fmt: skip

# matplotlib shares font objects and caches between figures; one drawing at a time costs nothing that is felt.
_one_at_a_time = threading.Lock()
_STYLE = re.compile(r' style="([^"]*)"')
_COMMENT = re.compile(r"\n? *<!--.*?-->", re.DOTALL)
_UNTURNED = re.compile(r' transform="rotate\(-?0 [^)]*\)"')
_GROUP, _GROUP_THAT_DOES = re.compile(r'\s*(<g(?: id="[^"]*")?>|</g>)'), re.compile(r'<g (?!id="[^"]*">)')
_PATH, _FIGURES = re.compile(r' d="[^"]*"'), re.compile(r"(\d\.\d\d)\d+")
_SHEET = re.compile(r" *<defs>\n? *<style[^>]*>.*?</style>\n? *</defs>\n", re.DOTALL)


class Sheet:
    """A figure of a fixed width whose drawing is true to scale: one data unit is one inch of engine."""

    def __init__(self, *, width: float, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Make an empty drawing `width` [in] wide that shows x and y [in of engine] at one scale."""
        self.scale = width / (x[1] - x[0])
        self.figure = Figure(figsize=(width, (y[1] - y[0]) * self.scale))
        self.axes: Axes = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set_axis_off()
        self.axes.patch.set_visible(False)
        self.axes.set_xlim(*x)
        self.axes.set_ylim(*y)

    def points(self, size: float) -> float:
        """A size on paper [pt] in inches of engine."""
        return size / 72 / self.scale

    def line(
        self,
        xs: Sequence[float],
        ys: Sequence[float],
        *,
        width: float = LINE,
        dash: object = "-",
        color: str = GRAPHITE,
    ) -> None:
        """Draw a line through points."""
        self.axes.plot(xs, ys, lw=width, ls=dash, color=color, solid_capstyle="butt", dash_capstyle="butt",
                       scalex=False, scaley=False, clip_on=False)  # fmt: skip

    def strokes(
        self, lines: Sequence[Sequence[tuple[float, float]]], *, width: float = LINE, dash: object = "-",
        color: str = GRAPHITE, closed: bool = False,
    ) -> None:  # fmt: skip
        """Draw many lines as one path."""
        points = [point for line in lines for point in [*line, *([line[0]] if closed and line else [])]]
        if points:
            codes = [code for line in lines if line for code in _codes(len(line), closed)]
            self.axes.add_patch(
                PathPatch(
                    Path(points, codes), fc="none", ec=color, lw=width, ls=dash, zorder=3, clip_on=False
                )
            )

    def circle(
        self, centre: tuple[float, float], radius: float, *, width: float = LINE, dash: object = "-",
        color: str = GRAPHITE, filled: bool = False,
    ) -> None:  # fmt: skip
        """Draw a circle; filled with the ground's white, it hides what was drawn before it."""
        self.axes.add_patch(
            Circle(
                centre,
                radius,
                fc="white" if filled else "none",
                ec=color,
                lw=width,
                ls=dash,
                zorder=2,
                clip_on=False,
            )
        )

    def text(self, x: float, y: float, words: str, **how: object) -> None:
        """Letter words at a point; on paper, so that lines behind them do not run through."""
        settings_ = {"ha": "center", "va": "center", "fontsize": LETTERING, "clip_on": False} | how
        self.axes.text(x, y, words, **settings_)  # type: ignore[arg-type]

    def arrow(self, x: float, y: float, dx: float, dy: float, color: str = GRAPHITE) -> None:
        """Draw an arrow head whose point is at x, y, pointing along dx, dy."""
        length, half = self.points(ARROW), self.points(ARROW * 0.28)
        size = hypot(dx, dy)
        ux, uy = dx / size, dy / size
        back = (x - ux * length, y - uy * length)
        corners = [
            (x, y),
            (back[0] - uy * half, back[1] + ux * half),
            (back[0] + uy * half, back[1] - ux * half),
        ]
        self.axes.add_patch(Polygon(corners, closed=True, fc=color, ec="none", clip_on=False))

    def dimension(
        self, start: tuple[float, float], end: tuple[float, float], words: str, *, color: str = GRAPHITE
    ) -> None:
        """Dimension a distance along one axis; where it is short the arrows stand outside and the words beside."""
        (x0, y0), (x1, y1) = start, end
        length = hypot(x1 - x0, y1 - y0)
        ux, uy = ((x1 - x0) / length, (y1 - y0) / length) if length else (0.0, 1.0)
        upright = abs(uy) > abs(ux)
        need = self.points(3 * ARROW + (LETTERING if upright else 0.56 * LETTERING * len(words)))
        tail = self.points(2.6 * ARROW)
        if length >= need:
            self.line([x0, x1], [y0, y1], width=THIN, color=color)
            self.arrow(x0, y0, -ux, -uy, color)
            self.arrow(x1, y1, ux, uy, color)
        else:
            for (x, y), side in (((x0, y0), -1), ((x1, y1), 1)):
                self.line([x, x + side * ux * tail], [y, y + side * uy * tail], width=THIN, color=color)
                self.arrow(x, y, -side * ux, -side * uy, color)
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        gap = self.points(3)
        if upright:
            self.text(middle[0] - gap, middle[1], words, ha="right", color=color)
        else:
            self.text(middle[0], middle[1] + gap, words, va="bottom", color=color)

    def finish(self, title: str, words: str, *, lettered: bool = False) -> Drawing:
        """Write the drawing."""
        return write(self.figure, title, words, lettered=lettered)


def _codes(count: int, closed: bool) -> list[int]:
    codes = [Path.MOVETO, *[Path.LINETO] * (count - 1), *([Path.CLOSEPOLY] if closed else [])]
    return [int(code) for code in codes]


def write(figure: Figure, title: str, words: str, *, lettered: bool = False) -> Drawing:
    """Write a figure as an SVG that any page may show: no style sheet, no date, its title and words inside.

    Its words are outlines, which need no font; `lettered` keeps them as text, for sheets that bring the font along.
    """
    buffer = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.patch.set_visible(False)
    with _one_at_a_time:
        matplotlib.rcParams["svg.fonttype"] = "none" if lettered else "path"
        figure.savefig(buffer, format="svg", transparent=True, metadata=nothing)
    text = buffer.getvalue()
    svg = _SHEET.sub("", _COMMENT.sub("", text[text.index("<svg") :]), count=1)
    # A page's security policy forbids style attributes; as plain attributes they mean the same.
    svg = _STYLE.sub(_plain_attributes, svg)
    if lettered:
        svg = _UNTURNED.sub("", svg).replace("'IBM Plex Sans'", "Plex, sans-serif")
    if not _GROUP_THAT_DOES.search(svg):
        svg = _GROUP.sub("", svg)
    svg = _PATH.sub(lambda path: _FIGURES.sub(r"\1", path.group()).replace("\n", ""), svg)
    opening = svg.index(">")
    told = f"<title>{escape(title)}</title><desc>{escape(words)}</desc>"
    named = f'{svg[:opening]} role="img" stroke-linejoin="round">{told}'
    return Drawing(svg=named + svg[opening + 1 :], title=title, words=words)


def _plain_attributes(match: "re.Match[str]") -> str:
    pairs = (rule.split(":", 1) for rule in match.group(1).split(";") if ":" in rule)
    return "".join(f' {name.strip()}="{value.strip()}"' for name, value in pairs)


@lru_cache(maxsize=64)
def words_drawing(sentence: str) -> Drawing:
    """A drawing's place with words in it, where there is nothing to draw yet."""
    sheet = Sheet(width=4.7, x=(0, 4.7), y=(0, 1.4))
    sheet.line(
        [0.02, 4.68, 4.68, 0.02, 0.02], [0.02, 0.02, 1.38, 1.38, 0.02], width=THIN, dash=HIDDEN, color=SOFT
    )
    sheet.text(2.35, 0.7, fill(sentence, 62), linespacing=1.3)
    return sheet.finish("Not drawn", sentence)
