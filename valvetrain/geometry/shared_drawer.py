"""The drawer that all stands of an engine share, each thickness once, counted in whole units."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valvetrain.geometry.drawer import UNITS_PER_INCH
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import Piece

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
# Thickness [in] and how many of it.
Counts = tuple[tuple[float, int], ...]


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
