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

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.engine_stands import EngineStand
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar
from valvetrain.geometry.pack_program import (
    PROVED_IMPOSSIBLE,
    Answer,
    Floats,
    PackProgram,
    Row,
    Rules,
    SharedDrawer,
    StandBlock,
    Whole,
    shared_drawer,
    whole_units,
)
from valvetrain.geometry.packs import MOST_PIECES, Piece

# Thicknesses to offer when the drawer cannot do it: whole thousandths. Common practice, no source.
ROUND_THICKNESSES = tuple(mil / 1000.0 for mil in range(1, 61))
# Half of what a feeler or a height gauge can be read to: less than this apart, two heights are one.
FINEST = 0.0001

Reason = Literal["", "valves disagree", "too high", "drawer"]
Counts = tuple[tuple[float, int], ...]


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
class Stage:
    """One rule of the choice, and the proof that it was met.

    Args:
        rule: "worst", "stands out", "sum", "pieces", "leaner" or "sum again" [-].
        value: What was reached: whole steps of the finest difference [in], or a count.
        bound: What cannot be beaten [in, or a count].
        gap: Distance of the two as part of the value, as the solver has it [-]; zero: proved.
        status: The solver's status [-]; 0: optimal.
        nodes: Branches that the solver looked at [-].
    """

    rule: str
    value: float
    bound: float
    gap: float
    status: int
    nodes: int


@dataclass(frozen=True)
class Addition:
    """What to add to the drawer so that every stand which shims can mend comes within its limit, and near its middle.

    Args:
        shims: Thickness [in] and how many to add, thickest first.
        proved: Whether it is proved cheapest of what was offered [-]: fewest thicknesses, then fewest shims.
    """

    shims: Counts
    proved: bool


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
    search = _Search(program)
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
        shopping = _Shopping(program, results, [scalar("piece", each) for each in offered], known, slack)
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


# One rule after another


class _Search:
    """The best packs so far, the rules that they keep to, and the proof of each."""

    def __init__(self, program: PackProgram) -> None:
        self.program = program
        self.best = program.least_packs()
        self.rules = Rules()
        self.stages: list[Stage] = []

    def run(self, slack: float) -> None:
        self._hold_the_worst()
        reached = self.program.steps_of(self.best.worsts) * self.program.finest
        if (reached > self.program.limits + self.program.rounding).any():
            # The last step may hold stands on both sides of the limit, so this is kept to from here on.
            self.rules = replace(self.rules, out=len(self.program.blocks))
            self._settle("stands out", self.program.stands_out(), self._stands_out, bound=self._hopeless())
            self.rules = replace(self.rules, out=self._stands_out(self.best))
        self._settle_sum("sum")
        self.rules = replace(self.rules, sum=self._sum(self.best))
        self._settle("pieces", self.program.pieces(), self._pieces)
        if slack > 0.0:
            self.rules = Rules(highest=self._loosened(slack))
            self._settle("leaner", self.program.pieces(), self._pieces)
            self.rules = replace(self.rules, pieces=self._pieces(self.best))
            self._settle_sum("sum again")

    # The first rule

    def _hold_the_worst(self) -> None:
        """Close in on the least worst, in whole steps: each question gives better packs or a bound."""
        program = self.program
        asked = least = int(program.alone.max())
        most, nodes, status = self._worst(self.best), 0, 0
        while least < most and status == 0:
            answer = program.ask(program.no_cost(), Rules(steps=asked))
            if answer is not None:
                self.best, most = answer, min(most - 1, self._worst(answer))
                nodes += answer.nodes
            elif program.status == PROVED_IMPOSSIBLE:
                least = asked + 1
            else:
                status = program.status
            asked = (least + most) // 2
        finest = program.finest
        gap = 0.0 if status == 0 else (most - least) / most
        self.stages.append(Stage("worst", most * finest, least * finest, gap, status, nodes))
        self.rules = Rules(steps=most)

    # The other rules

    def _settle(
        self, rule: str, cost: Row, measure: Callable[[Answer], int], *, bound: int = 0, unit: float = 1.0
    ) -> None:
        """Ask for less of something, unless what there is is as little as there can be."""
        value = measure(self.best)
        if value <= bound:
            self.stages.append(Stage(rule, value * unit, value * unit, 0.0, 0, 0))
            return
        answer = self.program.ask(cost, self.rules)
        if answer is None:
            # What there is keeps to the rules, so there is an answer: the time was too short to find it.
            self.stages.append(Stage(rule, value * unit, bound * unit, 1.0, self.program.status, 0))
            return
        if measure(answer) <= value:
            self.best = answer
        reached = measure(self.best) * unit
        self.stages.append(Stage(rule, reached, answer.bound * unit, answer.gap, answer.status, answer.nodes))

    def _settle_sum(self, rule: str) -> None:
        program = self.program
        bound = int(program.alone.sum())
        self._settle(rule, program.sum_of_worsts(), self._sum, bound=bound, unit=program.finest)

    def _worst(self, answer: Answer) -> int:
        return int(self.program.steps_of(answer.worsts).max())

    def _sum(self, answer: Answer) -> int:
        return int(self.program.steps_of(answer.worsts).sum())

    def _pieces(self, answer: Answer) -> int:
        return int(self.program.taken(answer.counts).sum())

    def _stands_out(self, answer: Answer) -> int:
        return int((answer.worsts > self.program.limits + self.program.rounding).sum())

    def _hopeless(self) -> int:
        furthest = self.program.limits + 2 * self.program.rounding
        return int((np.array([block.alone for block in self.program.blocks]) > furthest).sum())

    def _loosened(self, slack: float) -> Floats:
        """Each stand's worst and the slack, but never out of the limit for that."""
        worsts, limit = self.best.worsts, self.program.limits
        inside = worsts <= limit + self.program.rounding
        loose: Floats = np.where(
            inside, np.minimum(worsts + slack, np.maximum(worsts, limit)), worsts + slack
        )
        return loose


# What to add


class _Shopping:
    """The cheapest thickness, or two, that bring within its limit every stand that shims can bring."""

    def __init__(
        self,
        program: PackProgram,
        results: Sequence[StandPacks],
        offered: Iterable[float],
        known: Iterable[float],
        close_enough: float,
    ) -> None:
        self.program, self._close_enough = program, close_enough
        self.proved = True
        self._ends = time.monotonic() + program.seconds
        can = [stand.why_out in ("", "drawer") for stand in results]
        self._mended = [
            (block, limit)
            for block, limit, mend in zip(program.blocks, program.limits.tolist(), can, strict=True)
            if mend
        ]
        self._can = np.array(can)
        # A stand that shims cannot mend does not pay for the others.
        worst = max(stand.worst for stand in results)
        self._rules = Rules(highest=np.where(can, program.limits, worst))
        self._stock = dict(zip(program.drawer.units, program.drawer.stock, strict=True))
        self._known = {whole_units(each) for each in known}
        offers = {whole_units(each): each for each in offered}
        self._offers = sorted(each for units, each in offers.items() if self._can_run_out(units))

    def _can_run_out(self, units: int) -> bool:
        return units > 0 and self._stock.get(units, 0) is not None

    def cheapest(self) -> Addition | None:
        return self._one_thickness() or self._two_thicknesses()

    def _one_thickness(self) -> Addition | None:
        best: Addition | None = None
        for fewest, _new, thickness in sorted(self._hopes()):
            most = best.shims[0][1] - 1 if best else None
            if most is not None and fewest > most:
                break
            bought = self._ask([thickness], replace(self._rules, bought=most))
            best = Addition(bought, self.proved) if bought else best
        if best is None:
            return None
        return Addition(self._nearest_the_middle(best.shims), self.proved)

    def _nearest_the_middle(self, found: Counts) -> Counts:
        """Of as few shims of one thickness, what brings the stands nearest right; of those as close, a known one first.

        The limit's edge costs as much as its middle. The time may end the looking: what was found stands.
        """
        ((first, count),) = found
        others = [each for fewest, _new, each in sorted(self._hopes()) if fewest <= count and each != first]
        bought = {}
        for thickness in (first, *others):
            left = self._ends - time.monotonic()
            if left <= 0.0:
                break
            program = self.program.with_bought([thickness], seconds=left)
            answer = program.ask(program.sum_of_worsts(), replace(self._rules, bought=count))
            if answer is not None:
                worst = int(self.program.steps_of(answer.worsts)[self._can].max())
                new = whole_units(thickness) not in self._known
                bought[worst, new, thickness] = program.drawer.listed(answer.bought)
        shims = {key: each for key, each in bought.items() if sum(many for _thin, many in each) == count}
        if not shims:
            return found
        near = min(shims)[0] + round(self._close_enough / self.program.finest)
        return shims[min((key for key in shims if key[0] <= near), key=lambda key: (key[1], key[0], key[2]))]

    def _hopes(self) -> Iterator[tuple[int, bool, float]]:
        """Fewest that could do, of one thickness; of as few a known thickness first, then the thinner."""
        max_pieces = self.program.drawer.max_pieces
        for thickness in self._offers:
            there = self._stock.get(whole_units(thickness)) or 0
            fewest = [
                block.fewest_of(thickness, there=there, limit=limit, max_pieces=max_pieces)
                for block, limit in self._mended
            ]
            if None not in fewest:
                known = whole_units(thickness) in self._known
                yield max(1, sum(each or 0 for each in fewest)), not known, thickness

    def _two_thicknesses(self) -> Addition | None:
        bought = self._ask(self._offers, replace(self._rules, kinds_bought=2))
        return Addition(bought, self.proved) if bought else None

    def _ask(self, thicknesses: Sequence[float], rules: Rules) -> Counts:
        left = self._ends - time.monotonic()
        if left <= 0.0:
            self.proved = False
            return ()
        program = self.program.with_bought(thicknesses, seconds=left)
        answer = program.ask(program.pieces_bought(), rules)
        self.proved = self.proved and program.status in (0, PROVED_IMPOSSIBLE)
        if answer is None:
            return ()
        return program.drawer.listed(answer.bought)


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
