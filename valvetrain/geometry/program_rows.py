"""Rows of an integer program, as the solver takes them."""

from collections.abc import Mapping

from scipy.optimize import LinearConstraint
from scipy.sparse import csr_array

# Column → its factor.
Row = Mapping[int, float]


class Rows:
    """Rows of a sparse matrix with their bounds, as they come.

    Args:
        columns: How many columns the matrix has [-].
    """

    def __init__(self, columns: int) -> None:
        self._columns = columns
        self._place: list[int] = []
        self._column: list[int] = []
        self._value: list[float] = []
        self._low: list[float] = []
        self._high: list[float] = []

    def add(self, row: Row, *, low: float, high: float) -> None:
        """Take in one row.

        Args:
            row: Factor of each column that is not zero [the row's unit].
            low: What the row may not fall below [the row's unit].
            high: What it may not exceed [the row's unit].
        Returns:
            Nothing.
        """
        self._place.extend([len(self._low)] * len(row))
        self._column.extend(row)
        self._value.extend(row.values())
        self._low.append(low)
        self._high.append(high)

    def together_with(self, more: "Rows") -> LinearConstraint:
        """All rows as one rule for the solver.

        Args:
            more: Rows that come after these [-].
        Returns:
            The rule.
        """
        place = self._place + [len(self._low) + place for place in more._place]
        matrix = csr_array(
            (self._value + more._value, (place, self._column + more._column)),
            shape=(len(self._low) + len(more._low), self._columns),
        )
        return LinearConstraint(matrix, self._low + more._low, self._high + more._high)
