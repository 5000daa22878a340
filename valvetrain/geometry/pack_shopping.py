"""What to add to the drawer: the cheapest thickness, or two, with which shims can mend what they can mend."""

import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from valvetrain.geometry.pack_program import PROVED_IMPOSSIBLE, PackProgram, Rules
from valvetrain.geometry.shared_drawer import Counts, whole_units


@dataclass(frozen=True)
class Addition:
    """What to add to the drawer so that every stand which shims can mend comes within its limit, and near its middle.

    Args:
        shims: Thickness [in] and how many to add, thickest first.
        proved: Whether it is proved cheapest of what was offered [-]: fewest thicknesses, then fewest shims.
    """

    shims: Counts
    proved: bool


class Shopping:
    """The cheapest thickness, or two, that bring within its limit every stand that shims can bring.

    Args:
        program: The program that found the drawer wanting [in].
        can: Whether shims can bring each stand within its limit [-].
        worst: Greatest height error that the drawer leaves [in].
        offered: Thicknesses that may be bought [in].
        known: Thicknesses that the drawer has already [in].
        close_enough: How much worse than the nearest a known thickness may be [in].
    """

    def __init__(
        self,
        program: PackProgram,
        can: Sequence[bool],
        worst: float,
        offered: Iterable[float],
        known: Iterable[float],
        close_enough: float,
    ) -> None:
        self.program, self._close_enough = program, close_enough
        self.proved = True
        self._ends = time.monotonic() + program.seconds
        self._mended = [
            (block, limit)
            for block, limit, mend in zip(program.blocks, program.limits.tolist(), can, strict=True)
            if mend
        ]
        self._can = np.array(can)
        # A stand that shims cannot mend does not pay for the others.
        self._rules = Rules(highest=np.where(can, program.limits, worst))
        self._stock = dict(zip(program.drawer.units, program.drawer.stock, strict=True))
        self._known = {whole_units(each) for each in known}
        offers = {whole_units(each): each for each in offered}
        self._offers = sorted(each for units, each in offers.items() if self._can_run_out(units))

    def _can_run_out(self, units: int) -> bool:
        return units > 0 and self._stock.get(units, 0) is not None

    def cheapest(self) -> Addition | None:
        """Look for one thickness, then for two.

        Returns:
            What to add; None: nothing that is offered would do, or the time was too short.
        """
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
