"""The integer program behind the packs of a whole engine: what its columns and rows are, and how to ask it.

A pack is so many shims of each thickness. Its total is their sum, counted in the thicknesses' common step;
the height error at a valve is linear in the totals under its stand's pads; a stand's worst is no less than
any of them either way, and is also counted in whole steps of the finest difference that matters, which is
what lets the solver stop where a bench would. Solved by HiGHS through scipy. Every answer is taken as
counts alone, and what the counts leave is worked out again exactly.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, milp

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.program_rows import Row, Rows
from valvetrain.geometry.shared_drawer import Floats, SharedDrawer, Whole, whole_units
from valvetrain.geometry.stand_block import ROUNDING, TENTH, StandBlock

# The solver's word for it.
PROVED_IMPOSSIBLE = 2
# Thicknesses with a common step, none more than so many of it, are counted in that step.
_MOST_STEPS = 100_000


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
        self._rows = Rows(self._columns)
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
            high[worsts] = (rules.highest + self.rounding) / TENTH
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
            self._rows.add({**steps, total: -1.0}, low=0.0, high=0.0)
            self._rows.add(dict.fromkeys(steps, 1.0), low=0.0, high=self.drawer.max_pieces)

    def _keep_to_stock(self) -> None:
        added = dict(zip(self._bought, self._added, strict=True))
        for kind, stock in enumerate(self.drawer.stock):
            if stock is not None:
                bought = {added[kind]: -1.0} if kind in added else {}
                self._rows.add({**self._shims([kind]), **bought}, low=-np.inf, high=stock)
        most = float(self.drawer.max_pieces * self._pads.sum())
        for column, flag in zip(self._added, self._flags, strict=True):
            self._rows.add({column: 1.0, flag: -most}, low=-np.inf, high=0.0)

    def _measure_stands(self) -> None:
        tenths = self._unit / UNITS_PER_INCH / TENTH
        for worst, steps in zip(self._worsts, self._steps, strict=True):
            rounding = self.rounding / TENTH
            self._rows.add({worst: 1.0, steps: -self.finest / TENTH}, low=-np.inf, high=rounding)
        for block, worst, first in zip(self.blocks, self._worsts, self._first, strict=True):
            totals = self._totals[first : first + block.packs]
            for gain, offset in zip(block.gain * tenths, (block.offset / TENTH).tolist(), strict=True):
                high = dict(zip(totals, gain.tolist(), strict=True))
                low = {total: -part for total, part in high.items()}
                self._rows.add({worst: 1.0, **low}, low=offset, high=np.inf)
                self._rows.add({worst: 1.0, **high}, low=-offset, high=np.inf)
            apart = (block.stand.bending + ROUNDING) / TENTH
            for row in block.straight * tenths:
                self._rows.add(dict(zip(totals, row.tolist(), strict=True)), low=-apart, high=apart)

    # Rows of one question

    def _rule_rows(self, rules: Rules) -> Rows:
        rows = Rows(self._columns)
        if rules.out is not None:
            # A stand's worst is within the limit unless its flag is up; no worst is more than with no shims.
            furthest = self.least_packs().worst + self.finest
            limits = ((self.limits + self.rounding) / TENTH).tolist()
            for worst, flag, limit in zip(self._worsts, self._outs, limits, strict=True):
                rows.add({worst: 1.0, flag: -furthest / TENTH}, low=-np.inf, high=limit)
            rows.add(self.stands_out(), low=0.0, high=rules.out)
        if rules.sum is not None:
            rows.add(self.sum_of_worsts(), low=0.0, high=rules.sum)
        if rules.pieces is not None:
            rows.add(self.pieces(), low=0.0, high=rules.pieces)
        if rules.kinds_bought is not None:
            rows.add(dict.fromkeys(self._flags, 1.0), low=0.0, high=rules.kinds_bought)
        if rules.bought is not None:
            rows.add(self.pieces_bought(), low=0.0, high=rules.bought)
        return rows


def _common_step(units: Sequence[int]) -> tuple[int, bool]:
    """Step in which all thicknesses are whole, or a ten-thousandth where it is too fine to count in."""
    step = math.gcd(*units)
    if not units:
        return 1, True
    if max(units) // step <= _MOST_STEPS:
        return step, True
    return round(TENTH * UNITS_PER_INCH), False
