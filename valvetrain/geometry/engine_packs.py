"""The packs of a whole engine at once, out of one drawer that all its stands share.

One rule after another is met, each held while the next is worked:

1. the engine's worst valve is least wrong;
2. if that is out of the limit, as few stands as possible are out;
3. the sum of each stand's worst is least, so that one hopeless stand does not excuse the others;
4. fewest shims; then, where packs only close to the least wrong are asked for, fewer shims still.

For 1 and 3 a worst counts in whole steps of the finest difference that matters, rounded up; the limit is
kept exactly. The first is settled by asking, for one figure after another, whether the engine can be held within it:
yes gives packs, no is a proof. What each stand could have from the whole drawer alone, found by forming
all sums, bounds the answer from below and is mostly reached at once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.engine_stands import EngineStand
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar
from valvetrain.geometry.pack_program import PackProgram
from valvetrain.geometry.pack_search import PackSearch, Stage
from valvetrain.geometry.pack_shopping import Addition, Shopping
from valvetrain.geometry.packs import MOST_PIECES, Piece
from valvetrain.geometry.shared_drawer import Counts, Floats, SharedDrawer, Whole, shared_drawer
from valvetrain.geometry.stand_block import StandBlock

# Thicknesses to offer when the drawer cannot do it: whole thousandths. Common practice, no source.
ROUND_THICKNESSES = tuple(mil / 1000.0 for mil in range(1, 61))
# Half of what a feeler or a height gauge can be read to: less than this apart, two heights are one.
FINEST = 0.0001

Reason = Literal["", "valves disagree", "too high", "drawer"]


@dataclass(frozen=True)
class PadPack:
    """The pack under one pad.

    Args:
        at: Place of the pad along the stand [in].
        thickness: Total along the pad's normal [in].
        pieces: Thickness [in] and count of each shim, thickest first.
    """

    at: float
    thickness: float
    pieces: Counts


@dataclass(frozen=True)
class StandPacks:
    """The packs of one stand, and what they leave.

    Args:
        name: The stand's address [-].
        packs: One for each pad, in the order given [in].
        residuals: Height error left at each valve [in]; positive: high.
        worst: Greatest of them either way [in].
        within: Whether the worst is within the limit [-].
        why_out: Why not [-]: "valves disagree" (no pack can do it), "too high" (the stand must come
            down), "drawer" (a fuller drawer could); empty if it is within.
        ideal: The pack under each pad that a drawer with every thickness would give [in]; negative: the
            stand is too high with no shim there.
        lower_by: How far the stand must come down along the valve axis to be ideal [in]; above zero only
            if a pack would have to be negative.
    """

    name: str
    packs: tuple[PadPack, ...]
    residuals: tuple[float, ...]
    worst: float
    within: bool
    why_out: Reason
    ideal: tuple[float, ...]
    lower_by: float

    @property
    def pieces(self) -> int:
        """Shims under all its pads together [-]."""
        return sum(count for pack in self.packs for _thickness, count in pack.pieces)


@dataclass(frozen=True)
class EnginePacks:
    """The packs of the whole engine.

    Args:
        stands: One for each stand, in the order given [in].
        worst: Greatest height error left at any valve [in]; zero for no stands.
        pieces: Shims in all packs together [-].
        taken: Thickness [in] and count of what comes out of the drawer, thickest first.
        stages: The rules that were met, in order, each with its proof [-].
        addition: What to add to the drawer [in]; None: nothing is needed, or nothing offered would do.
    """

    stands: tuple[StandPacks, ...]
    worst: float
    pieces: int
    taken: Counts
    stages: tuple[Stage, ...]
    addition: Addition | None = None

    @property
    def within(self) -> bool:
        """Whether every valve is within the limit [-]."""
        return all(stand.within for stand in self.stands)

    @property
    def out(self) -> tuple[str, ...]:
        """Addresses of the stands that are not [-]."""
        return tuple(stand.name for stand in self.stands if not stand.within)

    @property
    def proved(self) -> bool:
        """Whether every rule is proved met [-]."""
        return all(stage.status == 0 for stage in self.stages)


def choose_engine_packs(
    stands: Iterable[EngineStand],
    stock: Iterable[Piece],
    *,
    tolerance: float,
    max_pieces: int = 8,
    close_enough: float = 0.0,
    finest: float = FINEST,
    to_buy: Iterable[float] | None = None,
    seconds: float = 2.0,
) -> EnginePacks:
    """Choose all packs of an engine out of one drawer.

    Args:
        stands: All stands of the engine, rises and places in [in].
        stock: What is in the drawer, with what will come out of the packs in place, thicknesses in [in];
            the same thickness twice is added up.
        tolerance: Height error allowed at a valve either way [in], zero or more.
        max_pieces: Most shims under one pad [-], 1 to 32.
        close_enough: How much worse than at its least wrong each stand may be for fewer shims [in], zero
            or more; none is let out of the limit for that.
        finest: Differences of height below this count as none [in], above zero; much finer takes longer.
        to_buy: Thicknesses that can be had [in], for advice when the drawer cannot do it; left out: those
            of the drawer and whole thousandths up to 0.060; empty: no advice.
        seconds: Longest that the solver may take for one rule, and for advice [s]; what is not proved by
            then says so.
    Returns:
        Packs, what they leave, the proof, and what to add to the drawer if it cannot do it.
    Raises:
        GeometryError: A number out of range, two stands of one name, or shims that must be in a pack and
            are not in the drawer or are too many for it.
    Notes:
        The module says the rules in order. A stand whose pads get the same pack takes as many of each shim
        as it has pads. Derived here.
    Examples:
        >>> stands = [EngineStand(f"L.stand{n}", (0.015, 0.015)) for n in (1, 2)]
        >>> engine = choose_engine_packs(stands, [Piece(0.015, 2), Piece(0.005, 8)], tolerance=0.005)
        >>> engine.worst, engine.pieces, engine.taken, engine.proved
        (0.0, 8, ((0.015, 2), (0.005, 6)), True)
    """
    stands, stock = tuple(stands), tuple(stock)
    limit = scalar("tolerance", tolerance)
    slack = scalar("tolerance", close_enough)
    seconds = scalar("seconds", seconds)
    _check_count(max_pieces)
    _check_names(stands)
    drawer = shared_drawer(stock, max_pieces)
    if not stands:
        return EnginePacks((), 0.0, 0, (), ())
    blocks = [StandBlock(stand, drawer) for stand in stands]
    _check_forced(blocks, drawer)
    own = [limit if stand.tolerance is None else stand.tolerance for stand in stands]
    limits: Floats = np.array(own, dtype=np.float64)
    program = PackProgram(blocks, drawer, limit=limits, finest=scalar("finest", finest), seconds=seconds)
    search = PackSearch(program)
    search.run(slack)
    best = search.best
    results = tuple(
        _stand_packs(block, counts, program.drawer, each + program.rounding)
        for block, counts, each in zip(blocks, program.by_stand(best.counts), own, strict=True)
    )
    addition = None
    if any(stand.why_out == "drawer" for stand in results):
        known = [piece.thickness for piece in stock]
        offered = [*known, *ROUND_THICKNESSES] if to_buy is None else to_buy
        can = [stand.why_out in ("", "drawer") for stand in results]
        worst = max(stand.worst for stand in results)
        shopping = Shopping(program, can, worst, [scalar("piece", each) for each in offered], known, slack)
        addition = shopping.cheapest()
    taken = program.taken(best.counts)
    return EnginePacks(
        stands=results,
        worst=max(stand.worst for stand in results),
        pieces=int(taken.sum()),
        taken=drawer.listed(taken),
        stages=tuple(search.stages),
        addition=addition,
    )


# What comes out


def _stand_packs(block: StandBlock, counts: Whole, drawer: SharedDrawer, limit: float) -> StandPacks:
    totals = counts @ np.array(drawer.units, dtype=np.int64) / UNITS_PER_INCH
    residuals = block.residuals(totals)
    worst = float(np.abs(residuals).max())
    # One pack for all pads, or one for each.
    each = range(block.packs) if block.packs > 1 else [0] * len(block.stand.pads_at)
    return StandPacks(
        name=block.stand.name,
        packs=tuple(
            PadPack(at, float(totals[pack]), drawer.listed(counts[pack]))
            for at, pack in zip(block.stand.pads_at, each, strict=True)
        ),
        residuals=tuple(residuals.tolist()),
        worst=worst,
        within=worst <= limit,
        why_out="" if worst <= limit else _why_out(block, limit),
        ideal=tuple(float(block.ideal[pack]) for pack in each),
        lower_by=block.lower_by,
    )


def _why_out(block: StandBlock, limit: float) -> Reason:
    if block.ideal_worst > limit:
        return "valves disagree"
    return "too high" if block.reachable_worst > limit else "drawer"


# Refusals


def _check_count(max_pieces: int) -> None:
    if isinstance(max_pieces, bool) or not isinstance(max_pieces, int) or not 1 <= max_pieces <= MOST_PIECES:
        raise GeometryError(
            f"max_pieces is {max_pieces!r}",
            where="max_pieces",
            right=f"give a whole number from 1 to {MOST_PIECES}",
        )


def _check_names(stands: Sequence[EngineStand]) -> None:
    names = [stand.name for stand in stands]
    for name in names:
        if names.count(name) > 1:
            raise GeometryError(f"stand {name} is given twice", where="stands", right="give each stand once")


def _check_forced(blocks: Sequence[StandBlock], drawer: SharedDrawer) -> None:
    for kind, (thickness, stock) in enumerate(zip(drawer.thicknesses, drawer.stock, strict=True)):
        wanted = sum(int(block.forced[kind]) * len(block.stand.pads_at) for block in blocks)
        if stock is not None and wanted > stock:
            raise GeometryError(
                f"the stands must have {wanted} shims of {thickness:g} in and the drawer has {stock}",
                where="forced",
                right="ask for fewer, or add them to the drawer",
            )
