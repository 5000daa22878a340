"""The pack of shims under each stand, out of the drawer, that leaves the worst valve least wrong."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from valvetrain.geometry.drawer import UNITS_PER_INCH, Drawer
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import scalar
from valvetrain.geometry.height import pack_for_rise

# Rounding only, a nanoinch: a valve that is off by exactly the limit is within it.
_ROUNDING = 1e-9
# Packs of more pieces than this are no pack at all, and forming their sums would take long.
MOST_PIECES = 32


@dataclass(frozen=True)
class Piece:
    """One thickness of shim in the drawer.

    Args:
        thickness: Thickness of one shim [in], above zero.
        count: How many there are [-]; left out: as many as it takes.
    Raises:
        GeometryError: A thickness that is not above zero, or a count that is not a whole number.
    Examples:
        >>> Piece(0.015, count=4)
        Piece(thickness=0.015, count=4)
    """

    thickness: float
    count: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "thickness", scalar("piece", self.thickness))
        if self.count is not None:
            _whole("count", self.count, least=0)


@dataclass(frozen=True)
class StandNeed:
    """What one stand needs, with the pack that was under it when it was read.

    Args:
        name: The stand's address [-].
        rises: One rise for each valve along its axis [in]; positive: raise.
        pads: Pads under the stand, each of which gets the same pack [-], 1 or more.
        pad_tilt: Pad normal from the valve axis [deg], -45 to 45.
        pack_in_place: Pack under each pad when the valves were read [in], zero or more.
    Raises:
        GeometryError: No valve at all, or a number out of range.
    Examples:
        >>> StandNeed("L.stand2", (0.022, 0.026)).pads
        2
    """

    name: str
    rises: Sequence[float]
    pads: int = 2
    pad_tilt: float = 0.0
    pack_in_place: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "rises", tuple(scalar("rise", rise) for rise in self.rises))
        if not self.rises:
            raise GeometryError(
                f"stand {self.name} has no valve to set", where="rises", right="give one rise for each valve"
            )
        _whole("pads", self.pads, least=1)
        object.__setattr__(self, "pad_tilt", scalar("pad_tilt", self.pad_tilt))
        object.__setattr__(self, "pack_in_place", scalar("pack_in_place", self.pack_in_place))


@dataclass(frozen=True)
class PackChoice:
    """The pack for one stand, what it leaves, and what stands in the way if it is not enough.

    Args:
        name: The stand's address [-].
        thickness: Pack under each pad, along the pad's normal [in].
        pieces: Thickness [in] and count of each shim under one pad, thickest first.
        residuals: Height error left at each valve [in]; positive: high.
        worst: Greatest of them either way [in].
        within: Whether the worst is within the limit [-].
        ideal: The pack a drawer with every thickness would give [in]; negative: the stand is too high
            with no shim under it.
        lower_by: How far the stand must come down along the valve axis to be ideal [in]; above zero
            only if the ideal is negative. Not needed where the worst is within the limit anyway.
        missing: One shim that would bring the stand within the limit [in]; None: none is needed, or
            none can.
        missing_joins: Thickness [in] and count of the shims under one pad that go with it.
        spread_too_wide: Whether the valves disagree by more than twice the limit, so that no pack can
            do it [-].
    """

    name: str
    thickness: float
    pieces: tuple[tuple[float, int], ...]
    residuals: tuple[float, ...]
    worst: float
    within: bool
    ideal: float
    lower_by: float
    missing: float | None
    missing_joins: tuple[tuple[float, int], ...] = field(default=())
    spread_too_wide: bool = False

    @property
    def tip_work(self) -> tuple[float, ...]:
        """Change of tip height that takes away what is left at each valve [in].

        Positive: tip up (a longer valve or a lash cap). Negative: tip down (ground, or a
        shorter valve). A tip that comes up brings the target up with it, so it equals what is left over.
        """
        return self.residuals


def choose_packs(
    stands: Iterable[StandNeed],
    stock: Iterable[Piece],
    *,
    tolerance: float,
    max_pieces: int = 8,
    close_enough: float = 0.0,
) -> tuple[PackChoice, ...]:
    """Choose for each stand the pack that leaves its worst valve least wrong.

    Args:
        stands: What each stand needs, rises in [in].
        stock: What is in the drawer, thicknesses in [in]; the same thickness twice is added up.
        tolerance: Height error allowed at a valve either way [in], zero or more.
        max_pieces: Most shims under one pad [-], 1 to 32.
        close_enough: How much worse than the least wrong a pack of fewer shims may be [in], zero or
            more; it is never let out of the limit for that. Zero: least wrong first, whatever it takes.
    Returns:
        One choice for each stand, in the same order.
    Raises:
        GeometryError: A number out of range.
    Notes:
        Each stand is solved on its own from the whole drawer: stands do not share it. The best use of
        one drawer over the whole engine is another function's job. The same pack goes under every pad
        of a stand, so one shim in a pack takes as many from the drawer as the stand has pads.

        Least worst error first, then fewest pieces, then fewest thicknesses, then the thinner pack.
        The errors at the valves move together with the pack, so the worst is least where the pack is
        nearest to the middle of the range of what the valves want; every pack the drawer can make is
        considered (see ``drawer``), so the choice is proved best. Thicknesses are compared in steps of
        0.2 nm, which is exact for whole microinches and whole micrometres. Derived here.
    Examples:
        >>> drawer = [Piece(0.005), Piece(0.010), Piece(0.015)]
        >>> choice, = choose_packs([StandNeed("L.stand2", (0.022, 0.026))], drawer, tolerance=0.005)
        >>> choice.pieces, choice.residuals, choice.within
        (((0.015, 1), (0.010, 1)), (0.003, -0.001), True)
    """
    stands = tuple(stands)
    limit = scalar("tolerance", tolerance)
    slack = scalar("tolerance", close_enough)
    _whole("max_pieces", max_pieces, least=1, most=MOST_PIECES)
    pieces = _merged(stock)
    drawers = {
        pads: _opened(
            tuple(pieces),
            tuple(max_pieces if piece.count is None else piece.count // pads for piece in pieces.values()),
            max_pieces,
            # A pack thicker than twice what is wanted is further off than no pack.
            _rounded_up(
                max(2 * max(_whole_units(_ideal(stand)) for stand in stands if stand.pads == pads), 0)
            ),
        )
        for pads in {stand.pads for stand in stands}
    }
    thicknesses = [piece.thickness for piece in pieces.values()]
    return tuple(
        _choice(stand, drawers[stand.pads], thicknesses, limit, max_pieces, slack) for stand in stands
    )


@lru_cache(maxsize=64)
def _opened(thicknesses: tuple[int, ...], limits: tuple[int, ...], max_pieces: int, ceiling: int) -> Drawer:
    """One drawer serves stand after stand: it is opened once as long as nothing in it changes."""
    return Drawer(list(thicknesses), list(limits), max_pieces=max_pieces, ceiling=ceiling)


def _rounded_up(units: int) -> int:
    """To the next twentieth of an inch, so that stands that want nearly the same share an opened drawer."""
    step = UNITS_PER_INCH // 20
    return -(-units // step) * step


def _choice(
    stand: StandNeed,
    drawer: Drawer,
    thicknesses: list[float],
    limit: float,
    max_pieces: int,
    close_enough: float,
) -> PackChoice:
    ideal = _ideal(stand)
    along_axis = math.cos(math.radians(stand.pad_tilt))
    wanted = _whole_units(ideal)

    def left_over(pack: float) -> tuple[float, ...]:
        return tuple((pack - stand.pack_in_place) * along_axis - rise for rise in stand.rises)

    nearest = drawer.nearest(wanted)
    pieces = _listed(thicknesses, nearest)
    room = limit - max(abs(residual) for residual in left_over(_total(pieces)))
    slack = min(close_enough, room) if room > 0 else close_enough
    if slack > 0:
        pieces = _listed(thicknesses, drawer.leanest_near(wanted, nearest, slack=int(slack * UNITS_PER_INCH)))
    thickness = _total(pieces)
    residuals = left_over(thickness)
    worst = max(abs(residual) for residual in residuals)
    within = worst <= limit + _ROUNDING
    spread_too_wide = 0.5 * (max(stand.rises) - min(stand.rises)) > limit + _ROUNDING
    missing: float | None = None
    joins: tuple[tuple[float, int], ...] = ()
    if not within and not spread_too_wide and wanted > 0:
        joins = _listed(thicknesses, drawer.thickest_within(wanted, max_pieces=max_pieces - 1))
        missing = ideal - _total(joins)
    return PackChoice(
        name=stand.name,
        thickness=thickness,
        pieces=pieces,
        residuals=residuals,
        worst=worst,
        within=within,
        ideal=ideal,
        lower_by=max(0.0, -ideal * along_axis),
        missing=missing,
        missing_joins=joins,
        spread_too_wide=spread_too_wide,
    )


def _ideal(stand: StandNeed) -> float:
    middle = 0.5 * (max(stand.rises) + min(stand.rises))
    return float(pack_for_rise(middle, stand.pad_tilt, pack_in_place=stand.pack_in_place))


def _merged(stock: Iterable[Piece]) -> dict[int, Piece]:
    """One piece for each thickness, thickest first, those that are used up left out."""
    pieces: dict[int, Piece] = {}
    for piece in stock:
        units = _whole_units(piece.thickness)
        if units == 0:
            raise GeometryError(
                f"shim thickness is {piece.thickness:g} in", where="thickness", right="no shim is that thin"
            )
        count = piece.count
        if units in pieces and count is not None:
            there = pieces[units].count
            count = None if there is None else there + count
        pieces[units] = Piece(pieces[units].thickness if units in pieces else piece.thickness, count)
    return {units: piece for units, piece in sorted(pieces.items(), reverse=True) if piece.count != 0}


def _listed(thicknesses: list[float], counts: list[int]) -> tuple[tuple[float, int], ...]:
    return tuple((thickness, count) for thickness, count in zip(thicknesses, counts, strict=True) if count)


def _total(pieces: tuple[tuple[float, int], ...]) -> float:
    return math.fsum(thickness * count for thickness, count in pieces)


def _whole_units(inches: float) -> int:
    return round(inches * UNITS_PER_INCH)


def _whole(name: str, value: object, *, least: int, most: int | None = None) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < least or value > (most or value):
        upto = "up" if most is None else f"to {most}"
        raise GeometryError(
            f"{name} is {value!r}", where=name, right=f"give a whole number from {least} {upto}"
        )
