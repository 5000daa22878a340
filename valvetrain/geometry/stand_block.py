"""One stand as the integer program of an engine's packs sees it, and what it could have from the drawer alone."""

import copy
import math

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.engine_stands import EngineStand, pad_weights, straightness
from valvetrain.geometry.shared_drawer import Floats, SharedDrawer, Whole, whole_units

# Rounding only, a nanoinch: packs that differ by less are as good as each other.
ROUNDING = 1e-9
# Heights are counted in ten-thousandths, so that the solver's own tolerances are far below a nanoinch.
TENTH = 1e-4
# More sums or pairs than this are not formed: the bound that they would give is only a help.
_MOST_SUMS = 300_000
_MOST_PAIRS = 4_000_000


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
            LinearConstraint(np.hstack([-self.gain, ones]), self.offset / TENTH, np.inf),
            LinearConstraint(np.hstack([self.gain, ones]), -self.offset / TENTH, np.inf),
        ]
        if len(self.straight):
            apart = self.stand.bending / TENTH
            none = np.zeros((len(self.straight), 1))
            rows.append(LinearConstraint(np.hstack([self.straight, none]), -apart, apart))
        least = np.append(np.full(self.packs, floor / TENTH), 0.0)
        cost = np.append(np.zeros(self.packs), 1.0)
        solved = milp(cost, bounds=Bounds(least, np.inf), constraints=rows)
        return np.asarray(solved.x[:-1], dtype=np.float64) * TENTH

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
