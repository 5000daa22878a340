"""A table of many figures as a drawing: each word set once, each kind of rule one path.

A page's own tables are laid out cell by cell, which costs more for one figure than drawing it. So the log's tables, which
have hundreds, are drawn; what was drawn is kept by the press, and only a table in which a figure changed is drawn anew.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape

from fontTools.ttLib import TTFont

from builds.printing.paper import FACE
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.style import GRAPHITE, SOFT

SIZE, SMALL = 2.54, 2.3  # mm: lettering of the figures and of the heads
LINE, PAD, INSET = 3.05, 0.38, 0.9  # mm: a line's height, room above and below it, and beside it
MOST = 34.0  # mm: a figure wider than this is broken into lines
ROOM = 5.0  # mm at most, so that columns of few figures do not drift apart
REGULAR = FACE.with_name("IBMPlexSans-Regular.ttf")


@dataclass(frozen=True)
class Column:
    """One column: its head, and whether its figures stand to the right."""

    head: str
    figures: bool = True
    heavy: bool = False


@dataclass(frozen=True)
class Group:
    """Columns that belong together, under a name."""

    name: str
    count: int


@dataclass(frozen=True)
class Table:
    """What is drawn: columns, the groups that they stand in, and rows of cells; a cell that is out has a heavy box."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    groups: tuple[Group, ...] = ()
    out: frozenset[tuple[int, int]] = frozenset()


def text_width(text: str, size: float, *, heavy: bool = False) -> float:
    """How wide a line is [in the unit of its size]."""
    glyphs, widths, em = _metrics(heavy)
    return sum(widths[glyphs.get(ord(letter), ".notdef")][0] for letter in text) * size / em


@lru_cache(maxsize=2)
def _metrics(heavy: bool) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:
    with TTFont(FACE if heavy else REGULAR) as font:
        return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


@dataclass(frozen=True)
class DrawnTable:
    """A finished table, and how wide it came out [mm]."""

    drawing: Drawing
    width: float


def table_drawing(table: Table, *, width: float, title: str) -> DrawnTable:
    """Draw a table no wider than `width` [mm]; smaller lettering where it would not fit."""
    widths, size = _fitted(table, width)
    small = size * SMALL / SIZE
    edges = [0.0]
    for each in widths:
        edges.append(edges[-1] + each)
    head = [_broken(column.head, widths[i], small, heavy=True) for i, column in enumerate(table.columns)]
    lines = size / SIZE * LINE
    top = (lines + 2 * PAD) if table.groups else 0.0
    below = top + max(len(words) for words in head) * lines + 2 * PAD
    texts: list[str] = []
    rules = [below]
    for index, words in enumerate(head):
        first = below - PAD - len(words) * lines
        texts += _cell(
            table.columns[index], words, edges[index], edges[index + 1], first, small, lines, heavy=True
        )
    y = below
    boxes = []
    for number, row in enumerate(table.rows):
        broken = [_broken(text, widths[i], size, heavy=table.columns[i].heavy) for i, text in enumerate(row)]
        height = max(len(words) for words in broken) * lines + 2 * PAD
        for index, words in enumerate(broken):
            column = table.columns[index]
            heavy = column.heavy or (number, index) in table.out
            texts += _cell(column, words, edges[index], edges[index + 1], y + PAD, size, lines, heavy=heavy)
            if (number, index) in table.out:
                boxes.append((edges[index], y, widths[index], height))
        y += height
        rules.append(y)
    parts = [*_rules(table, edges, rules, top), *_boxes(boxes), *texts, *_groups(table, edges, small, lines)]
    return DrawnTable(_written(parts, edges[-1], y, title, _words(table)), edges[-1])


def _fitted(table: Table, most: float) -> tuple[list[float], float]:
    """Widths of the columns, and the size of the lettering that lets them stand within the sheet."""
    size = SIZE
    while True:
        widths = [_need(table, index, size) for index in range(len(table.columns))]
        spare = most - sum(widths)
        if spare >= 0 or size < 0.6 * SIZE:
            each = min(ROOM, max(0.0, spare) / len(widths))
            return [need + each for need in widths], size
        size *= 0.96


def _need(table: Table, index: int, size: float) -> float:
    """The least width of a column: its longest figure, or the longest word of its head."""
    column = table.columns[index]
    lines = [line for row in table.rows for line in _whole(row[index])]
    figures = [min(text_width(line, size, heavy=True), MOST) for line in lines]
    words = [text_width(word, size * SMALL / SIZE, heavy=True) for word in column.head.split()]
    return max([*figures, *words, 6.0]) + 2 * INSET


def _whole(text: str) -> list[str]:
    """The parts of a cell that are best not broken: its lines, and what was typed in brackets apart from its figure."""
    return text.replace(" (", "\n(").split("\n")


def _broken(text: str, width: float, size: float, *, heavy: bool) -> list[str]:
    """Text in lines that fit a column; what stands on a line of its own stays there."""
    return [line for part in text.split("\n") for line in _filled(part, width, size, heavy=heavy)]


def _filled(text: str, width: float, size: float, *, heavy: bool) -> list[str]:
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}".strip(" ")
        if line and text_width(longer, size, heavy=heavy) > width - 2 * INSET + 1e-6:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line]


def _cell(
    column: Column, words: Sequence[str], left: float, right: float, y: float, size: float, line: float, *, heavy: bool
) -> Iterable[str]:  # fmt: skip
    x, anchor = (right - INSET, ' text-anchor="end"') if column.figures else (left + INSET, "")
    weight = ' font-weight="600"' if heavy else ""
    for number, text in enumerate(words):
        if text:
            base = y + number * line + 0.76 * line
            yield f'<text x="{x:.2f}" y="{base:.2f}" font-size="{size:.3g}"{weight}{anchor}>{escape(text)}</text>'


def _groups(table: Table, edges: Sequence[float], size: float, line: float) -> Iterable[str]:
    at = 0
    for group in table.groups:
        if group.name:
            column = Column(group.name, figures=False)
            yield from _cell(column, [group.name], edges[at], edges[at + 1], PAD, size, line, heavy=True)
        at += group.count


def _rules(table: Table, edges: Sequence[float], rules: Sequence[float], top: float) -> Iterable[str]:
    """The frame and the rule under the heads; thin rules between the rows, and between the groups."""
    right, bottom = edges[-1], rules[-1]
    frame = f"M.18 .18H{right - 0.18:.2f}V{bottom - 0.18:.2f}H.18z"
    yield f'<path d="{frame}M0 {rules[0]:.2f}H{right:.2f}" stroke-width=".35"/>'
    thin = "".join(f"M0 {y:.2f}H{right:.2f}" for y in rules[1:-1])
    at, between = 0, ""
    for group in table.groups[:-1]:
        at += group.count
        between += f"M{edges[at]:.2f} 0V{bottom:.2f}"
    if top:
        between += f"M{edges[table.groups[0].count]:.2f} {top:.2f}H{right:.2f}"
    if thin or between:
        yield f'<path d="{thin}{between}" stroke="{SOFT}" stroke-width=".15"/>'


def _boxes(boxes: Iterable[tuple[float, float, float, float]]) -> Iterable[str]:
    drawn = "".join(
        f"M{x + 0.35:.2f} {y + 0.35:.2f}h{w - 0.7:.2f}v{h - 0.7:.2f}h-{w - 0.7:.2f}z" for x, y, w, h in boxes
    )
    if drawn:
        yield f'<path d="{drawn}" stroke-width=".7"/>'


def _written(parts: Iterable[str], width: float, height: float, title: str, words: str) -> Drawing:
    # Rules are strokes, words are filled: the group says both once.
    drawn = "".join(
        part.replace("<text ", f'<text fill="{GRAPHITE}" stroke="none" ', 1)
        if part.startswith("<text")
        else part
        for part in parts
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.2f} {height:.2f}" font-family="Plex" fill="none" stroke="{GRAPHITE}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(words)}</desc>{drawn}</svg>"
    )
    return Drawing(svg=svg, title=title, words=words)


def _in_one_line(text: str) -> str:
    return text.replace("\n", ", ")


def _words(table: Table) -> str:
    """The table row by row, for those who cannot see it."""
    heads = [column.head for column in table.columns[1:]]
    told = [
        f"{row[0]}: {', '.join(f'{head} {_in_one_line(text)}' for head, text in zip(heads, row[1:], strict=True))}"
        for row in table.rows
    ]
    return f"{'; '.join(told)}."
