"""The integer program behind the packs of a whole engine: what its columns and rows are, and how to ask it.

A pack is so many shims of each thickness. Its total is their sum, counted in the thicknesses' common step;
the height error at a valve is linear in the totals under its stand's pads; a stand's worst is no less than
any of them either way, and is also counted in whole steps of the finest difference that matters, which is
what lets the solver stop where a bench would. Solved by HiGHS through scipy. Every answer is taken as
counts alone, and what the counts leave is worked out again exactly.
"""

import copy
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.engine_stands import EngineStand, pad_weights, straightness
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import Piece

# Rounding only, a nanoinch: packs that differ by less are as good as each other.
ROUNDING = 1e-9
# The solver's word for it.
PROVED_IMPOSSIBLE = 2
# The program counts heights in ten-thousandths, so that its own tolerances are far below a nanoinch.
_TENTH = 1e-4
# Thicknesses with a common step, none more than so many of it, are counted in that step.
_MOST_STEPS = 100_000
# More sums or pairs than this are not formed: the bound that they would give is only a help.
_MOST_SUMS = 300_000
_MOST_PAIRS = 4_000_000

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Row = Mapping[int, float]


@dataclass(frozen=True)
class SharedDrawer:
    """What is in the drawer that all stands share, each thickness once.

    Args:
        thicknesses: Thickness of each kind of shim [in].
        units: The same in whole numbers [1/127,000,000 in].
        stock: How many there are of each [-]; None: as many as it takes.
        max_pieces: Most shims under one pad [-].
    """

    thicknesses: tuple[float, ...]
    units: tuple[int, ...]
    stock: tuple[int | None, ...]
    max_pieces: int

    def with_places_for(self, thicknesses: Iterable[float]) -> "SharedDrawer":
        """The same drawer with a place, still empty, for each thickness that it has not.

        Args:
            thicknesses: What there must be a place for [in].
        Returns:
            The wider drawer, the new places last.
        """
        new = {whole_units(each): each for each in thicknesses if whole_units(each) not in self.units}
        return SharedDrawer(
            thicknesses=(*self.thicknesses, *new.values()),
            units=(*self.units, *new),
            stock=(*self.stock, *(0 for _ in new)),
            max_pieces=self.max_pieces,
        )

    def most(self, kind: int, pads: int) -> int:
        """How many of one kind a pack that goes under so many pads may have.

        Args:
            kind: Which kind of shim [-].
            pads: Pads that get this pack [-].
        Returns:
            Count [-].
        """
        stock = self.stock[kind]
        return self.max_pieces if stock is None else min(self.max_pieces, stock // pads)

    def listed(self, counts: Whole) -> tuple[tuple[float, int], ...]:
        """Thickness and count of what there is any of, thickest first.

        Args:
            counts: Count of each kind [-].
        Returns:
            Pairs of thickness [in] and count.
        """
        there = zip(self.thicknesses, counts.tolist(), strict=True)
        return tuple(sorted(((thickness, count) for thickness, count in there if count), reverse=True))


def whole_units(inches: float) -> int:
    """A thickness as a whole number.

    Args:
        inches: The thickness [in].
    Returns:
        The nearest whole number [1/127,000,000 in]: exact for whole microinches and micrometres.
    Examples:
        >>> whole_units(0.001)
        127000
    """
    return round(inches * UNITS_PER_INCH)


def shared_drawer(stock: Iterable[Piece], max_pieces: int) -> SharedDrawer:
    """Put the drawer in order: thickest first, each thickness once, what is used up left out.

    Args:
        stock: What is in the drawer [in].
        max_pieces: Most shims under one pad [-].
    Returns:
        The drawer.
    Raises:
        GeometryError: A shim too thin to count.
    Examples:
        >>> shared_drawer([Piece(0.005, 2), Piece(0.010), Piece(0.005, 1)], 8).stock
        (None, 3)
    """
    thickness: dict[int, float] = {}
    count: dict[int, int | None] = {}
    for piece in stock:
        units = whole_units(piece.thickness)
        if units == 0:
            raise GeometryError(
                f"shim thickness is {piece.thickness:g} in", where="thickness", right="no shim is that thin"
            )
        thickness.setdefault(units, piece.thickness)
        before = count.get(units, 0)
        count[units] = None if before is None or piece.count is None else before + piece.count
    there = [units for units in sorted(thickness, reverse=True) if count[units] != 0]
    return SharedDrawer(
        thicknesses=tuple(thickness[units] for units in there),
        units=tuple(there),
        stock=tuple(count[units] for units in there),
        max_pieces=max_pieces,
    )


class StandBlock:
    """One stand as the program sees it: one pack for all its pads, or one for each where it may tilt.

    Args:
        stand: The stand [in].
        drawer: What its packs are made from [in].
    Raises:
        GeometryError: Shims that must be in its packs and are not in the drawer, or are too many.
    """

    def __init__(self, stand: EngineStand, drawer: SharedDrawer) -> None:
        self.stand = stand
        self.packs = len(stand.pads_at) if stand.tilts else 1
        self.pads_each = 1 if stand.tilts else len(stand.pads_at)
        self.along_axis = math.cos(math.radians(stand.pad_tilt))
        by_pad = pad_weights(stand) * self.along_axis
        # Height error at each valve = gain · packs + offset.
        self.gain = by_pad if stand.tilts else by_pad.sum(axis=1, keepdims=True)
        self.offset = -by_pad @ np.array(stand.packs_in_place) - np.array(stand.rises)
        self.straight = straightness(stand) if stand.tilts else np.zeros((0, 1))
        self.forced = self._forced(drawer)
        self.floor = int(self.forced @ np.array(drawer.units, dtype=np.int64)) / UNITS_PER_INCH
        # With any thickness, also below zero; and with any that shims can have.
        self.ideal, self.ideal_worst = self._of_any_thickness(-math.inf)
        _packs, self.reachable_worst = self._of_any_thickness(self.floor)
        self.sums = self._sums(drawer) if self.packs <= 2 else None
        # Least worst with the whole drawer to itself, or less: a bound whatever the others take.
        self.alone = self._alone()

    @property
    def lower_by(self) -> float:
        """How far the stand must come down along the valve axis to be ideal [in]."""
        return max(0.0, -float(self.ideal.min()) * self.along_axis)

    def residuals(self, packs: Floats) -> Floats:
        """Height error that packs leave at each valve.

        Args:
            packs: Total of each pack [in].
        Returns:
            Error at each valve [in]; positive: high.
        """
        errors: Floats = self.gain @ packs + self.offset
        return errors

    def before(self, drawer: SharedDrawer) -> "StandBlock":
        """The same stand before a wider drawer.

        Args:
            drawer: The drawer with more places at its end [in].
        Returns:
            The stand, bound only by what any thickness could do.
        """
        block = copy.copy(self)
        block.forced = np.append(self.forced, np.zeros(len(drawer.units) - len(self.forced), np.int64))
        block.alone = self.reachable_worst
        return block

    def fewest_of(self, thickness: float, *, there: int, limit: float, max_pieces: int) -> int | None:
        """How many more of one thickness it takes to bring this stand within its limit by itself.

        Args:
            thickness: The thickness that is put in the drawer [in].
            there: How many of it are there already [-].
            limit: Height error allowed [in].
            max_pieces: Most shims under one pad [-].
        Returns:
            The fewest that must be bought for it [-], or a smaller number; None: none are enough.
        """
        if self.alone <= limit + ROUNDING:
            return 0
        if self.sums is None or self.packs > 1:
            return 1
        totals, pieces = self.sums
        gain = float(self.gain[0, 0])
        least = round((-limit - ROUNDING - float(self.offset.min())) / gain * UNITS_PER_INCH)
        greatest = round((limit + ROUNDING - float(self.offset.max())) / gain * UNITS_PER_INCH)
        for count in range(1, max_pieces + 1):
            bought = count * whole_units(thickness)
            first, past = np.searchsorted(totals, [least - bought, greatest - bought + 1])
            if past > first and int(pieces[first:past].min()) + count <= max_pieces:
                # Of those there, some may be too few to go round the pads: they still need not be bought.
                return count * self.pads_each - there % self.pads_each
        return None

    def _forced(self, drawer: SharedDrawer) -> Whole:
        forced = np.zeros(len(drawer.units), np.int64)
        for thickness, count in self.stand.forced:
            if count and whole_units(thickness) not in drawer.units:
                raise self.stand.refusal(
                    f"must have shims of {thickness:g} in and the drawer has none",
                    where="forced",
                    right="add them to the drawer",
                )
            if count:
                forced[drawer.units.index(whole_units(thickness))] += count
        if int(forced.sum()) > drawer.max_pieces:
            raise self.stand.refusal(
                f"must have {int(forced.sum())} shims under a pad and {drawer.max_pieces} are allowed",
                where="forced",
                right="ask for fewer or allow more",
            )
        return forced

    def _of_any_thickness(self, floor: float) -> tuple[Floats, float]:
        """Packs of any thickness from a floor up that leave the worst valve least wrong, and that worst."""
        if self.packs == 1:
            # All errors move together with the one pack: put the middle of their range at zero.
            middle = 0.5 * float(self.offset.max() + self.offset.min())
            packs = np.array([max(-middle / float(self.gain[0, 0]), floor)])
        else:
            packs = self._straightest(floor)
        return packs, float(np.abs(self.residuals(packs)).max())

    def _straightest(self, floor: float) -> Floats:
        # Packs and their worst in ten-thousandths: the worst is no less than any error either way.
        ones = np.ones((len(self.offset), 1))
        rows = [
            LinearConstraint(np.hstack([-self.gain, ones]), self.offset / _TENTH, np.inf),
            LinearConstraint(np.hstack([self.gain, ones]), -self.offset / _TENTH, np.inf),
        ]
        if len(self.straight):
            apart = self.stand.bending / _TENTH
            none = np.zeros((len(self.straight), 1))
            rows.append(LinearConstraint(np.hstack([self.straight, none]), -apart, apart))
        least = np.append(np.full(self.packs, floor / _TENTH), 0.0)
        cost = np.append(np.zeros(self.packs), 1.0)
        solved = milp(cost, bounds=Bounds(least, np.inf), constraints=rows)
        return np.asarray(solved.x[:-1], dtype=np.float64) * _TENTH

    def _sums(self, drawer: SharedDrawer) -> tuple[Whole, Whole] | None:
        """Every total that one pack can have from the whole drawer, in order, each with its fewest shims."""
        totals = np.array([int(self.forced @ np.array(drawer.units, dtype=np.int64))])
        pieces = np.array([int(self.forced.sum())])
        for kind, units in enumerate(drawer.units):
            more = np.arange(max(drawer.most(kind, self.pads_each) - int(self.forced[kind]), 0) + 1)
            totals = (totals[:, None] + units * more).ravel()
            pieces = (pieces[:, None] + more).ravel()
            few = pieces <= drawer.max_pieces
            order = np.lexsort((pieces[few], totals[few]))
            totals, pieces = totals[few][order], pieces[few][order]
            once = np.append(True, totals[1:] != totals[:-1])
            totals, pieces = totals[once], pieces[once]
            if len(totals) > _MOST_SUMS:
                return None
        return totals, pieces

    def _alone(self) -> float:
        if self.sums is None:
            return self.reachable_worst
        totals = self.sums[0] / UNITS_PER_INCH
        if self.packs == 1:
            return float(np.abs(self.gain * totals + self.offset[:, None]).max(axis=0).min())
        if len(totals) ** 2 * len(self.offset) > _MOST_PAIRS:
            return self.reachable_worst
        first, second = self.gain[:, 0, None, None], self.gain[:, 1, None, None]
        errors = first * totals[:, None] + second * totals + self.offset[:, None, None]
        return float(np.abs(errors).max(axis=0).min())


@dataclass(frozen=True)
class Answer:
    """Packs that the program gave, what they leave, and how sure it is.

    Args:
        counts: Shims of each kind in each pack [-].
        worsts: Greatest height error of each stand either way [in], worked out from the counts.
        bought: Shims of each kind that must be bought for it [-].
        bound: What the cost asked for cannot fall below [the cost's unit].
        gap: Distance of the cost to it, as part of the cost [-].
        status: The solver's status [-]; 0: optimal.
        nodes: Branches that it looked at [-].
    """

    counts: Whole
    worsts: Floats
    bought: Whole
    bound: float = 0.0
    gap: float = 0.0
    status: int = 0
    nodes: int = 0

    @property
    def worst(self) -> float:
        """Greatest height error of the engine [in]."""
        return float(self.worsts.max())


@dataclass(frozen=True)
class Rules:
    """What must hold already when the program is asked.

    Args:
        highest: Greatest height error allowed at each stand [in]; None: not asked.
        steps: Greatest height error allowed at any stand [steps]; None: not asked.
        out: Most stands that may be out of the limit [-]; None: not asked.
        sum: Greatest sum of the stands' worsts [steps]; None: not asked.
        pieces: Most shims in the whole engine [-]; None: not asked.
        kinds_bought: Most different thicknesses that may be bought [-]; None: not asked.
        bought: Most shims that may be bought [-]; None: not asked.
    """

    highest: Floats | None = None
    steps: int | None = None
    out: int | None = None
    sum: int | None = None
    pieces: int | None = None
    kinds_bought: int | None = None
    bought: int | None = None


class PackProgram:
    """Counts by pack and kind, a total by pack, a worst twice and a flag by stand; by kind bought a flag and how many.

    Args:
        blocks: The stands [in].
        drawer: What their packs are made from [in].
        limit: Height error above which a stand is out, each stand's own or one for all [in].
        finest: One step: differences of height below it count as none [in].
        seconds: Longest that the solver may take for one question [s].
        bought: Which kinds in the drawer may be bought [-].
    """

    def __init__(
        self,
        blocks: Sequence[StandBlock],
        drawer: SharedDrawer,
        *,
        limit: float | Floats,
        finest: float,
        seconds: float,
        bought: Sequence[int] = (),
    ) -> None:
        self.blocks, self.drawer = blocks, drawer
        self.limits: Floats = np.broadcast_to(np.asarray(limit, dtype=np.float64), len(blocks))
        self.finest, self.seconds = finest, seconds
        self.status = 0
        self._packs = sum(block.packs for block in blocks)
        self._kinds = len(drawer.units)
        # How many pads each pack goes under, and which is the first pack of each stand.
        self._pads = np.repeat([block.pads_each for block in blocks], [block.packs for block in blocks])
        self._first = np.cumsum([0, *(block.packs for block in blocks)])[:-1].tolist()
        self._bought = tuple(bought)
        sizes = [self._packs * self._kinds, self._packs, *[len(blocks)] * 3, *[len(bought)] * 2]
        ends = np.cumsum(sizes).tolist()
        self._counts, self._totals, self._worsts, self._steps, self._outs, self._flags, self._added = (
            range(end - size, end) for size, end in zip(sizes, ends, strict=True)
        )
        self._columns = ends[-1]
        self._unit, self._exact = _common_step(drawer.units)
        # A total that is no whole number can be off by what the solver takes for whole.
        self.rounding = ROUNDING if self._exact else 100 * ROUNDING
        # Least steps that each stand could have from the whole drawer alone.
        self.alone = self.steps_of(np.array([block.alone - self.rounding for block in blocks]))
        self._rows = _Rows(self._columns)
        self._sum_up_packs()
        self._keep_to_stock()
        self._measure_stands()

    # Costs

    def no_cost(self) -> Row:
        """Any packs do [-].

        Returns:
            Price of each column.
        """
        return {}

    def pieces(self) -> Row:
        """Shims in the whole engine [-].

        Returns:
            Price of each column.
        """
        return self._shims(range(self._kinds))

    def pieces_bought(self) -> Row:
        """Shims that must be bought [-].

        Returns:
            Price of each column.
        """
        return dict.fromkeys(self._added, 1.0)

    def sum_of_worsts(self) -> Row:
        """Sum of the stands' worst errors [steps].

        Returns:
            Price of each column.
        """
        return dict.fromkeys(self._steps, 1.0)

    def stands_out(self) -> Row:
        """How many stands are out of the limit [-].

        Returns:
            Price of each column.
        """
        return dict.fromkeys(self._outs, 1.0)

    # Questions

    def ask(self, cost: Row, rules: Rules) -> Answer | None:
        """The cheapest packs under the rules.

        Args:
            cost: Price of each column [-].
            rules: What must hold [in].
        Returns:
            The packs; None: there are none, proved if ``status`` says so.
        """
        weights = np.zeros(self._columns)
        for column, price in cost.items():
            weights[column] = price
        solved = milp(
            weights,
            integrality=self._integrality(),
            bounds=self._bounds(rules),
            constraints=self._rows.together_with(self._rule_rows(rules)),
            options={"mip_rel_gap": 0.0, "time_limit": self.seconds},
        )
        self.status = int(solved.status)
        if solved.x is None:
            return None
        shape = (self._packs, self._kinds)
        whole = np.rint(solved.x).astype(np.int64)
        counts = whole[: self._counts.stop].reshape(shape)
        bought = np.zeros(self._kinds, np.int64)
        bought[list(self._bought)] = whole[self._added.start :]
        return Answer(
            counts=counts,
            worsts=self._worsts_of(counts),
            bought=bought,
            bound=float(solved.mip_dual_bound),
            gap=float(solved.mip_gap),
            status=self.status,
            nodes=int(solved.mip_node_count),
        )

    def with_bought(self, thicknesses: Sequence[float], *, seconds: float) -> "PackProgram":
        """The same stands before a drawer to which some thicknesses may be added.

        Args:
            thicknesses: What may be added [in].
            seconds: Longest that the solver may take for one question [s].
        Returns:
            The wider program.
        """
        drawer = self.drawer.with_places_for(thicknesses)
        return PackProgram(
            [block.before(drawer) for block in self.blocks],
            drawer,
            limit=self.limits,
            finest=self.finest,
            seconds=seconds,
            bought=[drawer.units.index(whole_units(each)) for each in thicknesses],
        )

    def least_packs(self) -> Answer:
        """Packs of nothing but what must be in them: always possible.

        Returns:
            The packs.
        """
        counts = np.vstack([np.tile(block.forced, (block.packs, 1)) for block in self.blocks])
        return Answer(counts, self._worsts_of(counts), np.zeros(self._kinds, np.int64))

    def steps_of(self, worsts: Floats) -> Whole:
        """Height errors in whole steps, rounded up.

        Args:
            worsts: Height errors, zero or more [in].
        Returns:
            The same [steps].
        """
        steps = np.ceil((worsts - self.rounding) / self.finest).astype(np.int64)
        return np.maximum(steps, 0)

    def by_stand(self, counts: Whole) -> list[Whole]:
        """Deal the packs out to their stands.

        Args:
            counts: Shims of each kind in each pack [-].
        Returns:
            The same, one part for each stand.
        """
        return np.split(counts, self._first[1:])

    def taken(self, counts: Whole) -> Whole:
        """What all packs take out of the drawer.

        Args:
            counts: Shims of each kind in each pack [-].
        Returns:
            Count of each kind [-].
        """
        taken: Whole = self._pads @ counts
        return taken

    def _worsts_of(self, counts: Whole) -> Floats:
        units = np.array(self.drawer.units, dtype=np.int64)
        packs = [(mine @ units) / UNITS_PER_INCH for mine in self.by_stand(counts)]
        return np.array(
            [np.abs(block.residuals(mine)).max() for block, mine in zip(self.blocks, packs, strict=True)]
        )

    # Columns

    def _integrality(self) -> Whole:
        whole = np.ones(self._columns, np.int64)
        whole[self._totals.start : self._totals.stop] = int(self._exact)
        whole[self._worsts.start : self._worsts.stop] = 0
        return whole

    def _bounds(self, rules: Rules) -> Bounds:
        low, high = np.zeros(self._columns), np.full(self._columns, np.inf)
        low[: self._counts.stop] = np.concatenate(
            [np.tile(block.forced, block.packs) for block in self.blocks]
        )
        high[: self._counts.stop] = [
            self.drawer.max_pieces if kind in self._bought else self.drawer.most(kind, int(pads))
            for pads in self._pads
            for kind in range(self._kinds)
        ]
        worsts, steps = (slice(columns.start, columns.stop) for columns in (self._worsts, self._steps))
        low[steps] = self.alone
        if rules.highest is not None:
            high[worsts] = (rules.highest + self.rounding) / _TENTH
            # A bound is a help only while it is no more than what is allowed.
            low[steps] = np.minimum(low[steps], self.steps_of(rules.highest))
        if rules.steps is not None:
            high[steps] = np.maximum(rules.steps, low[steps])
        high[self._outs.start : self._flags.stop] = 1.0
        return Bounds(low, high)

    def _shims(self, kinds: Iterable[int]) -> dict[int, float]:
        kinds = tuple(kinds)
        return {
            pack * self._kinds + kind: float(pads) for pack, pads in enumerate(self._pads) for kind in kinds
        }

    # Rows that always hold

    def _sum_up_packs(self) -> None:
        for pack, total in enumerate(self._totals):
            start = pack * self._kinds
            steps = {start + kind: units / self._unit for kind, units in enumerate(self.drawer.units)}
            self._rows.add({**steps, total: -1.0}, 0.0, 0.0)
            self._rows.add(dict.fromkeys(steps, 1.0), 0.0, self.drawer.max_pieces)

    def _keep_to_stock(self) -> None:
        added = dict(zip(self._bought, self._added, strict=True))
        for kind, stock in enumerate(self.drawer.stock):
            if stock is not None:
                bought = {added[kind]: -1.0} if kind in added else {}
                self._rows.add({**self._shims([kind]), **bought}, -np.inf, stock)
        most = float(self.drawer.max_pieces * self._pads.sum())
        for column, flag in zip(self._added, self._flags, strict=True):
            self._rows.add({column: 1.0, flag: -most}, -np.inf, 0.0)

    def _measure_stands(self) -> None:
        tenths = self._unit / UNITS_PER_INCH / _TENTH
        for worst, steps in zip(self._worsts, self._steps, strict=True):
            rounding = self.rounding / _TENTH
            self._rows.add({worst: 1.0, steps: -self.finest / _TENTH}, -np.inf, rounding)
        for block, worst, first in zip(self.blocks, self._worsts, self._first, strict=True):
            totals = self._totals[first : first + block.packs]
            for gain, offset in zip(block.gain * tenths, (block.offset / _TENTH).tolist(), strict=True):
                high = dict(zip(totals, gain.tolist(), strict=True))
                low = {total: -part for total, part in high.items()}
                self._rows.add({worst: 1.0, **low}, offset, np.inf)
                self._rows.add({worst: 1.0, **high}, -offset, np.inf)
            apart = (block.stand.bending + ROUNDING) / _TENTH
            for row in block.straight * tenths:
                self._rows.add(dict(zip(totals, row.tolist(), strict=True)), -apart, apart)

    # Rows of one question

    def _rule_rows(self, rules: Rules) -> "_Rows":
        rows = _Rows(self._columns)
        if rules.out is not None:
            # A stand's worst is within the limit unless its flag is up; no worst is more than with no shims.
            furthest = self.least_packs().worst + self.finest
            limits = ((self.limits + self.rounding) / _TENTH).tolist()
            for worst, flag, limit in zip(self._worsts, self._outs, limits, strict=True):
                rows.add({worst: 1.0, flag: -furthest / _TENTH}, -np.inf, limit)
            rows.add(self.stands_out(), 0.0, rules.out)
        if rules.sum is not None:
            rows.add(self.sum_of_worsts(), 0.0, rules.sum)
        if rules.pieces is not None:
            rows.add(self.pieces(), 0.0, rules.pieces)
        if rules.kinds_bought is not None:
            rows.add(dict.fromkeys(self._flags, 1.0), 0.0, rules.kinds_bought)
        if rules.bought is not None:
            rows.add(self.pieces_bought(), 0.0, rules.bought)
        return rows


class _Rows:
    """Rows of a sparse matrix with their bounds, as they come."""

    def __init__(self, columns: int) -> None:
        self._columns = columns
        self._place: list[int] = []
        self._column: list[int] = []
        self._value: list[float] = []
        self._low: list[float] = []
        self._high: list[float] = []

    def add(self, row: Row, low: float, high: float) -> None:
        self._place.extend([len(self._low)] * len(row))
        self._column.extend(row)
        self._value.extend(row.values())
        self._low.append(low)
        self._high.append(high)

    def together_with(self, more: "_Rows") -> LinearConstraint:
        place = self._place + [len(self._low) + place for place in more._place]
        matrix = csr_array(
            (self._value + more._value, (place, self._column + more._column)),
            shape=(len(self._low) + len(more._low), self._columns),
        )
        return LinearConstraint(matrix, self._low + more._low, self._high + more._high)


def _common_step(units: Sequence[int]) -> tuple[int, bool]:
    """Step in which all thicknesses are whole, or a ten-thousandth where it is too fine to count in."""
    step = math.gcd(*units)
    if not units:
        return 1, True
    if max(units) // step <= _MOST_STEPS:
        return step, True
    return round(_TENTH * UNITS_PER_INCH), False
