"""The stands of an engine in plan with the pack under each: what is where, to hold beside the engine."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import WIDE
from valvetrain.charts.style import CHAIN, DYE, GRAPHITE, HAIR, HEAVY, LETTERING, LINE, SOFT, THIN, Sheet
from valvetrain.plan import spread

EDGE = 0.7  # in of engine, beyond the outermost part
LETTER, LINE_HEIGHT = 0.058, 0.125  # in of paper: a letter's width, a line's height
BETWEEN_HEADS = 0.14  # in of paper

Place = Callable[[float, float], tuple[float, float]]  # along and across the head → the drawing


@dataclass(frozen=True)
class PackOnPads:
    """One pack as it is called, its total as lettered, and the letters of the pads that it lies under."""

    pads: str
    pieces: tuple[str, ...]
    total: str


@dataclass(frozen=True)
class MappedStand:
    """A stand: its pads as (letter, along, across) [in], and its packs; none while nothing was fitted."""

    address: str
    pads: tuple[tuple[str, float, float], ...]
    packs: tuple[PackOnPads, ...]
    word: str = ""


@dataclass(frozen=True)
class MappedHead:
    """A head: its stands, and its valves as (address, along, across) [in]."""

    name: str
    stands: tuple[MappedStand, ...]
    valves: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class PackMapNumbers:
    """The heads of an engine."""

    heads: tuple[MappedHead, ...]
    unit: str = "in"

    @property
    def unit_name(self) -> str:
        """The unit of every thickness, as a word."""
        return "millimetres" if self.unit == "mm" else "inches"


def pack_table(numbers: PackMapNumbers) -> ChartTable:
    """Every stand with its pack."""
    rows = []
    for head in numbers.heads:
        for stand in head.stands:
            if not stand.packs:
                rows.append((stand.address, head.name, "all", "no shims", "–", stand.word))
            rows += [
                (
                    stand.address,
                    head.name,
                    pack.pads,
                    " + ".join(pack.pieces) or "no shims",
                    pack.total,
                    stand.word,
                )
                for pack in stand.packs
            ]
    return ChartTable(
        "Packs of the engine",
        ("stand", "head", "pads", "pieces", f"total, {numbers.unit}", "stands"),
        tuple(rows),
    )


@lru_cache(maxsize=64)
def pack_map(numbers: PackMapNumbers, *, width: float = 1.6 * WIDE, lettered: bool = False) -> Drawing:
    """Draw the heads one below the other, each stand with its pieces stacked above it."""
    heads = [head for head in numbers.heads if any(stand.pads for stand in head.stands)]
    left, right = _ends(heads)
    scale = width / (right - left)
    depths = [_depth(head, scale) for head in heads]
    sheet = Sheet(width=width, x=(left, right), y=(-sum(depths) or -1.0, 0.0))
    top = 0.0
    for head, depth in zip(heads, depths, strict=True):
        _draw_head(sheet, head, top, (left, right), numbers.unit_name)
        top -= depth
    return sheet.finish("The packs of the engine", _words(numbers), lettered=lettered)


def _ends(heads: list[MappedHead]) -> tuple[float, float]:
    alongs = [along for head in heads for stand in head.stands for _letter, along, _across in stand.pads]
    alongs += [along for head in heads for _address, along, _across in head.valves]
    return (min(alongs) - EDGE, max(alongs) + EDGE) if alongs else (0.0, 10.0)


def _lines(stand: MappedStand) -> list[str]:
    """What is lettered above a stand, from the top: its address, its total, its pieces."""
    if not stand.packs:
        return [stand.address, "no shims"]
    found = [stand.address]
    for pack in stand.packs:
        where = f"{pack.pads}: " if len(stand.packs) > 1 else ""
        found += [f"{where}{pack.total}", *pack.pieces] if len(pack.pieces) > 1 else [f"{where}{pack.total}"]
    return found


def _across(head: MappedHead) -> tuple[float, float]:
    places = [across for stand in head.stands for _letter, _along, across in stand.pads]
    places += [across for _address, _along, across in head.valves]
    return min(places), max(places)


def _depth(head: MappedHead, scale: float) -> float:
    low, high = _across(head)
    lettering = max((len(_lines(stand)) for stand in head.stands), default=0) * LINE_HEIGHT
    return (high - low) + 0.9 + (lettering + 3 * LINE_HEIGHT + BETWEEN_HEADS) / scale


def _draw_head(sheet: Sheet, head: MappedHead, top: float, ends: tuple[float, float], unit_name: str) -> None:
    """One head, its upper edge at `top`."""
    step = LINE_HEIGHT / sheet.scale
    low, _high = _across(head)
    deepest = max(len(_lines(stand)) for stand in head.stands)
    sheet.text(
        ends[0] + 0.1,
        top - 0.7 * step,
        f"{head.name}, packs in {unit_name}",
        ha="left",
        weight="semibold",
        fontsize=8.5,
    )
    shelf = top - (1.9 + deepest) * step
    base = shelf - 0.9 * step - 0.45

    def place(along: float, across: float) -> tuple[float, float]:
        return along, base - (across - low)

    sheet.strokes(
        [[place(along, across - 0.42), place(along, across + 0.12)] for _a, along, across in head.valves],
        width=LINE, color=SOFT,
    )  # fmt: skip
    for address, along, across in head.valves:
        sheet.circle(place(along, across), 0.17, width=LINE, filled=True)
        x, y = place(along, across)
        sheet.text(x, y - 0.2 - 0.55 * step, address, fontsize=LETTERING - 1, color=SOFT)
    stands = [stand for stand in head.stands if stand.pads]
    middles = [sum(along for _l, along, _a in stand.pads) / len(stand.pads) for stand in stands]
    order = sorted(range(len(stands)), key=lambda index: (middles[index], index))
    unit = sheet.scale / LETTER  # letters of paper in an inch of engine
    # `spread` keeps sixteen units between boxes: two letters here.
    centres = spread(
        [middles[index] * unit * 8 for index in order],
        [max(len(line) for line in _lines(stands[index])) * 8.0 + 4 for index in order],
        low=ends[0] * unit * 8, high=ends[1] * unit * 8,
    )  # fmt: skip
    for index, centre in zip(order, centres, strict=True):
        _draw_stand(sheet, stands[index], centre / (unit * 8), shelf, middles[index], place)


def _draw_stand(
    sheet: Sheet, stand: MappedStand, at: float, shelf: float, middle: float, place: Place
) -> None:
    """A stand as a bar on its pads, and its pieces stacked above it."""
    step = LINE_HEIGHT / sheet.scale
    pads = [place(along, across) for _letter, along, across in stand.pads]
    xs, y = [x for x, _y in pads], sum(y for _x, y in pads) / len(pads)
    half = 0.3
    corners = [
        (min(xs) - half, y + half), (max(xs) + half, y + half), (max(xs) + half, y - half), (min(xs) - half, y - half)
    ]  # fmt: skip
    sheet.line([at, middle], [shelf, y + half], width=THIN, color=DYE)
    sheet.strokes([corners], width=HEAVY if stand.packs else LINE, closed=True)
    for (letter, _along, _across), centre in zip(stand.pads, pads, strict=True):
        sheet.circle(centre, 0.2, width=LINE)
        sheet.text(*centre, letter, fontsize=LETTERING - 1)
    sheet.line([min(xs) - half, max(xs) + half], [y, y], width=THIN, dash=CHAIN, color=HAIR)
    for number, words in enumerate(reversed(_lines(stand))):
        first = number == len(_lines(stand)) - 1
        how = {"weight": "semibold"} if first or number == len(_lines(stand)) - 2 else {"color": GRAPHITE}
        sheet.text(at, shelf + (0.6 + number) * step, words, **how)


def _words(numbers: PackMapNumbers) -> str:
    told = []
    for head in numbers.heads:
        for stand in head.stands:
            packs = [
                f"{f'pad {pack.pads} ' if len(stand.packs) > 1 else ''}{' + '.join(pack.pieces) or 'no shims'}"
                for pack in stand.packs
            ]
            told.append(f"{stand.address} {', '.join(packs) or 'no shims'}")
    return f"Packs, in {numbers.unit_name}: {'; '.join(told)}." if told else "There are no stands yet."
