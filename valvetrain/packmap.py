"""The map of an engine's packs, laid out for drawing: each head from the side, its stands on their shims.

Along the head true to scale; upward the shims alone, enlarged so that the thickest pack fills its room. Nothing here
reads the database, and nothing knows about templates.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from builds.measures import show
from valvetrain.packwords import pack_pieces, shim_words
from valvetrain.shimming import StandProposal
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.valvestate import within

WIDTH = 1000.0
MARGIN = 56.0
BASE = 214.0  # the head's face, from the top
ROOM = 76.0  # for the thickest pack of a head
BAR = 26.0  # how a stand is drawn, not how it measures
SHIM_WIDTH = 34.0
HEIGHT = 250.0


@dataclass(frozen=True)
class DrawnShim:
    """One shim in a pack."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class DrawnPack:
    """The pack under one pad, and its total."""

    x: float
    letter: str
    total: str
    shims: tuple[DrawnShim, ...]


@dataclass(frozen=True)
class DrawnResidual:
    """What is left over at one valve; neighbours stand in two rows, so that their words do not meet."""

    x: float
    y: float
    address: str
    told: str
    out: bool


@dataclass(frozen=True)
class DrawnStand:
    """One stand on its packs."""

    address: str
    points: str
    middle: float
    top: float
    packs: tuple[DrawnPack, ...]
    valves: tuple[DrawnResidual, ...]
    note: str
    words: str


@dataclass(frozen=True)
class HeadMap:
    """One head with its packs."""

    name: str
    stands: tuple[DrawnStand, ...]
    width: float = WIDTH
    height: float = HEIGHT
    base: float = BASE

    @property
    def words(self) -> str:
        """The same for those who hear it."""
        return f"{self.name}, packs from front to rear: " + "; ".join(stand.words for stand in self.stands)


@dataclass(frozen=True)
class _Scale:
    start: float
    per_inch: float
    up: float

    def along(self, place: float) -> float:
        return round(MARGIN + (place - self.start) * self.per_inch, 1)


def head_map(head: HeadState, proposed: Mapping[str, StandProposal], unit: str) -> HeadMap:
    """Lay out one head: proposed packs where there are any, else those in place."""
    places = [
        float(place)
        for stand in head.stands
        for place in (*(pad.along for pad in stand.pads), *(valve.valve.along for valve in stand.valves))
    ] or [0.0]
    thickest = max(
        (float(_total(pieces)) for stand in head.stands for _letter, pieces in _packs(stand, proposed)),
        default=0.0,
    )
    length = max(max(places) - min(places), 1.0)
    scale = _Scale(min(places), (WIDTH - 2 * MARGIN) / length, ROOM / thickest if thickest else 0.0)
    rows = {valve.address: number % 2 for number, valve in enumerate(head.valves)}
    return HeadMap(
        head.head.name,
        tuple(_stand(stand, proposed, scale, rows, unit) for stand in head.stands if stand.pads),
    )


def _packs(
    stand: StandState, proposed: Mapping[str, StandProposal]
) -> list[tuple[str, list[tuple[Decimal, int]]]]:
    if stand.address in proposed:
        return [(pad.letter, pad.pieces) for pad in proposed[stand.address].pads]
    return [(pad.letter, pack_pieces(stand.pack, pad.pk)) for pad in stand.pads]


def _total(pieces: list[tuple[Decimal, int]]) -> Decimal:
    return sum((thickness * count for thickness, count in pieces), Decimal(0))


def _stand(
    stand: StandState,
    proposed: Mapping[str, StandProposal],
    scale: _Scale,
    rows: Mapping[str, int],
    unit: str,
) -> DrawnStand:
    packs = _packs(stand, proposed)
    drawn = tuple(
        _pack(scale.along(float(pad.along)), letter, pieces, scale, unit)
        for pad, (letter, pieces) in zip(stand.pads, packs, strict=True)
    )
    tops = [
        (pack.x, BASE - float(_total(pieces)) * scale.up)
        for pack, (_letter, pieces) in zip(drawn, packs, strict=True)
    ]
    (left, left_y), (right, right_y) = tops[0], tops[-1]
    half = SHIM_WIDTH / 2 + 3
    outline = [
        (left - half, left_y), *tops[1:-1], (right + half, right_y), (right + half, right_y - BAR),
        (left - half, left_y - BAR),
    ]  # fmt: skip
    told = [f"pad {letter} {shim_words(pieces, unit)}" for letter, pieces in packs]
    note = "proposed" if stand.address in proposed else ("in place" if stand.pack else "no pack yet")
    return DrawnStand(
        address=stand.address,
        points=" ".join(f"{x:.1f},{y:.1f}" for x, y in outline),
        middle=round((left + right) / 2, 1),
        top=round((left_y + right_y) / 2 - BAR / 2, 1),
        packs=drawn,
        valves=tuple(_residuals(stand, proposed, scale, rows, unit)),
        note=note,
        words=f"{stand.address}, {note}: {', '.join(told)}",
    )


def _pack(x: float, letter: str, pieces: list[tuple[Decimal, int]], scale: _Scale, unit: str) -> DrawnPack:
    shims, y = [], BASE
    for thickness, count in pieces:
        height = float(thickness) * scale.up
        for _ in range(count):
            y -= height
            shims.append(DrawnShim(round(x - SHIM_WIDTH / 2, 1), round(y, 1), SHIM_WIDTH, round(height, 1)))
    total = show(_total(pieces), unit, 3) if pieces else "none"
    return DrawnPack(x, letter, total.removeprefix("0") if unit == "in" else total, tuple(shims))


def _residuals(
    stand: StandState,
    proposed: Mapping[str, StandProposal],
    scale: _Scale,
    rows: Mapping[str, int],
    unit: str,
) -> list[DrawnResidual]:
    if stand.address in proposed:
        left = dict(proposed[stand.address].residuals)
    else:
        left = {valve.address: valve.height_error for valve in stand.valves if valve.height_error is not None}
    return [
        DrawnResidual(
            x=scale.along(float(valve.valve.along)),
            y=24.0 + 42.0 * rows[valve.address],
            address=valve.address,
            told=show(left[valve.address], unit, sign=True) if valve.address in left else "to read",
            out=valve.address in left and not within(left[valve.address], stand.tolerance),
        )
        for valve in stand.valves
    ]
