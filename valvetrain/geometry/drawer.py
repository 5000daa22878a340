"""Every thickness that a drawer of shims can make, and the one nearest to what is wanted.

Exhaustive, not a search that may miss: all sums are formed, as whole numbers, so what comes back is
proved nearest. The drawer is dealt into two halves, all sums of each half are formed one thickness
at a time, and for each sum of one half the best partner in the other is looked up. Of several ways
to one sum only the one with fewest pieces, then fewest thicknesses, is kept: both counts add up
over the thicknesses, so a worse way to a part is never part of a better way to the whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# 1 µin is 127 of these and 1 µm is 5000, so inch and metric shims alike are whole numbers.
UNITS_PER_INCH = 127_000_000

_Whole = NDArray[np.int64]


@dataclass(frozen=True)
class _Sums:
    """Sums in rising order, each once, with the leanest way to make it."""

    total: _Whole
    pieces: _Whole
    distinct: _Whole
    counts: _Whole

    def take(self, which: NDArray[np.bool_] | _Whole) -> "_Sums":
        return _Sums(self.total[which], self.pieces[which], self.distinct[which], self.counts[which])


class Drawer:
    """All packs of up to so many pieces from a drawer, up to a ceiling.

    Args:
        thicknesses: Different thicknesses, all above zero [1/127,000,000 in].
        limits: How many pieces of each there are for one pad [-].
        max_pieces: Most pieces in one pack [-].
        ceiling: Thickest pack worth forming [1/127,000,000 in].
    """

    def __init__(
        self, thicknesses: Sequence[int], limits: Sequence[int], *, max_pieces: int, ceiling: int
    ) -> None:
        self._max_pieces = max_pieces
        self._thicknesses = tuple(thicknesses)
        self._first = _all_sums(thicknesses[::2], limits[::2], max_pieces, ceiling)
        second = _all_sums(thicknesses[1::2], limits[1::2], max_pieces, ceiling)
        # What may join a first half of so many pieces: no more than then are left.
        self._second = [second.take(second.pieces <= max_pieces - used) for used in range(max_pieces + 1)]

    def nearest(self, wanted: int) -> list[int]:
        """How many of each thickness make the pack nearest to the one wanted.

        Args:
            wanted: Thickness [1/127,000,000 in]; may be below zero.
        Returns:
            Counts in the order of the thicknesses [-]. Of equally near packs the one with fewest
            pieces, then fewest thicknesses, then the thinner.
        Notes:
            The nearest partner of a first half is next to the gap it leaves, on one side or the other.
        """
        return self._best(wanted, self._max_pieces, sides=(-1, 0))

    def leanest_near(self, wanted: int, nearest: list[int], *, slack: int) -> list[int]:
        """The pack of fewest pieces that is hardly further off than the nearest one.

        Args:
            wanted: Thickness [1/127,000,000 in]; may be below zero.
            nearest: Counts of the nearest pack, from ``nearest`` [-].
            slack: How much further off than that a leaner pack may be [1/127,000,000 in], zero or more.
        Returns:
            Counts in the order of the thicknesses [-]; the nearest pack itself where none is leaner.
        """
        allowed = abs(wanted - self._thickness(nearest)) + slack
        # Nearest first for every smaller number of pieces: the first that is near enough is the leanest.
        # (No pieces at all is only ever near enough when next to nothing is wanted.)
        for fewer in range(0 if wanted <= allowed else 1, sum(nearest)):
            leaner = self._best(wanted, fewer, sides=(-1, 0))
            if abs(wanted - self._thickness(leaner)) <= allowed:
                return leaner
        return nearest

    def _thickness(self, counts: list[int]) -> int:
        return sum(thickness * count for thickness, count in zip(self._thicknesses, counts, strict=True))

    def thickest_within(self, wanted: int, *, max_pieces: int) -> list[int]:
        """How many of each thickness make the thickest pack no thicker than the one wanted.

        Args:
            wanted: Thickness, zero or more [1/127,000,000 in].
            max_pieces: Most pieces in this pack [-], no more than the drawer was opened for.
        Returns:
            Counts in the order of the thicknesses [-].
        """
        return self._best(wanted, max_pieces, sides=(-1,))

    def _best(self, wanted: int, max_pieces: int, *, sides: tuple[int, ...]) -> list[int]:
        # A smaller pack is as if some pieces were used already: look further along the partners.
        spare = self._max_pieces - max_pieces
        found = []
        for used in range(max_pieces + 1):
            first = np.flatnonzero(self._first.pieces == used)
            partners = self._second[used + spare].total
            gap = wanted - self._first.total[first]
            place = np.searchsorted(partners, gap, side="right")
            for side in sides:
                partner = place + side
                real = (partner >= 0) & (partner < len(partners))
                found.append((first[real], partner[real], np.full(int(real.sum()), used + spare)))
        first, partner, group = (np.concatenate(column) for column in zip(*found, strict=True))
        miss = np.abs(wanted - self._first.total[first] - self._partner("total", partner, group))
        closest = np.flatnonzero(miss == miss.min())
        first, partner, group = first[closest], partner[closest], group[closest]
        order = np.lexsort(
            (
                self._first.total[first] + self._partner("total", partner, group),
                self._first.distinct[first] + self._partner("distinct", partner, group),
                self._first.pieces[first] + self._partner("pieces", partner, group),
            )
        )
        lean = order[0]
        counts_first = self._first.counts[first[lean]].tolist()
        counts_second = self._second[group[lean]].counts[partner[lean]].tolist()
        return _shuffled_back(counts_first, counts_second)

    def _partner(self, column: str, partner: _Whole, group: _Whole) -> _Whole:
        values = np.zeros_like(partner)
        for used in np.unique(group):
            mine = group == used
            values[mine] = getattr(self._second[used], column)[partner[mine]]
        return values


def _all_sums(thicknesses: Sequence[int], limits: Sequence[int], max_pieces: int, ceiling: int) -> _Sums:
    none = np.zeros(1, np.int64)
    sums = _Sums(none, none, none, np.zeros((1, len(thicknesses)), np.int64))
    for column, (thickness, limit) in enumerate(zip(thicknesses, limits, strict=True)):
        copies = np.arange(min(limit, max_pieces, ceiling // thickness) + 1)
        row = np.repeat(np.arange(len(sums.total)), len(copies))
        added = np.tile(copies, len(sums.total))
        grown = sums.take(row)
        grown.counts[:, column] = added
        grown = _Sums(
            grown.total + added * thickness, grown.pieces + added, grown.distinct + (added > 0), grown.counts
        )
        sums = _leanest(grown.take((grown.pieces <= max_pieces) & (grown.total <= ceiling)))
    return sums


def _leanest(sums: _Sums) -> _Sums:
    """Keep one way to each sum, in rising order."""
    sums = sums.take(np.lexsort((sums.distinct, sums.pieces, sums.total)))
    return sums.take(np.concatenate(([True], sums.total[1:] != sums.total[:-1])))


def _shuffled_back(first: list[int], second: list[int]) -> list[int]:
    counts = [0] * (len(first) + len(second))
    counts[::2], counts[1::2] = first, second
    return counts
