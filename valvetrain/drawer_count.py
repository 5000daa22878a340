"""What lies in the shim drawer now: the last count of each thickness, less the packs fitted since, plus what came out.

A refit puts the old pieces back, unless the person who fitted it said that they are scrap. The tablet's time decides,
since that is when a piece left the drawer: a pack that waited on the tablet through a count is not taken off twice.
Nothing of this is kept: the count that a person made stays as it was made.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.db.models import Case, Count, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from valvetrain.models import FittedPack, FittedPiece, Pad, ShimStock


@dataclass(frozen=True)
class InDrawer:
    """One thickness [in] and how many pieces of it there are now: never fewer than none.

    `off_by` is how many more were taken than had been counted; `least` is what the shop wants to keep.
    """

    thickness: Decimal
    count: int
    least: int = 0
    off_by: int = 0

    @property
    def low(self) -> bool:
        """Whether there are fewer than the shop wants to keep."""
        return self.count < self.least


def with_taken(stocks: "QuerySet[ShimStock]") -> "QuerySet[ShimStock]":
    """Each thickness with `taken`: how many pieces have left the drawer since it was counted, net."""
    return stocks.annotate(taken=Coalesce(Subquery(_taken()), 0, output_field=IntegerField()))


def _taken() -> "QuerySet[FittedPiece, Any]":
    """Pieces of one thickness that went under pads since it was counted, less those that came back."""
    after = FittedPack.objects.filter(stand=OuterRef("pack__stand"), pk__gt=OuterRef("pack")).order_by("pk")
    pads = (
        Pad.objects.filter(stand=OuterRef("pack__stand")).order_by().values("stand").annotate(n=Count("pk"))
    )
    counted_at = OuterRef("counted_at")
    went_in = Q(pack__fitted_at__gt=counted_at, pack__carried=False)
    came_back = Q(replaced_at__gt=counted_at, scrapped=False)
    return (
        FittedPiece.objects.filter(thickness=OuterRef("thickness"))
        .order_by()
        .annotate(
            replaced_at=Subquery(after.values("fitted_at")[:1]),
            scrapped=Subquery(after.values("old_scrapped")[:1]),
            pads=Case(
                When(pad__isnull=False, then=Value(1)), default=Coalesce(Subquery(pads.values("n")), 1)
            ),
        )
        .filter(went_in | came_back)
        .annotate(
            net=F("count")
            * F("pads")
            * (
                Case(When(went_in, then=1), default=0, output_field=IntegerField())
                - Case(When(came_back, then=1), default=0, output_field=IntegerField())
            )
        )
        .values("thickness")
        .annotate(taken=Sum("net"))
        .values("taken")
    )


def read_drawer() -> list[InDrawer]:
    """Everything in the drawer now, in one query, thinnest first."""
    return in_drawer(with_taken(ShimStock.objects.all()))


def in_drawer(stocks: "Iterable[ShimStock]") -> list[InDrawer]:
    """What is there now of each thickness, from rows with their `taken`.

    A pack does not say which material or bolt size its pieces had, so rows of one thickness are one lot. What left since
    the oldest of their counts is taken off: rather too few in the book than a pack that cannot be made.
    """
    alike: dict[Decimal, list[ShimStock]] = defaultdict(list)
    for stock in stocks:
        alike[stock.thickness].append(stock)
    found = []
    for thickness, rows in sorted(alike.items()):
        oldest = min(rows, key=lambda row: row.counted_at)
        left = sum(row.count for row in rows) - oldest.taken  # type: ignore[attr-defined]
        found.append(InDrawer(thickness, max(left, 0), sum(row.least for row in rows), max(-left, 0)))
    return found


def pieces_in(pack: FittedPack | None, pads: int) -> Counter[Decimal]:
    """How many pieces of each thickness lie under a stand of so many pads, all pads together."""
    found: Counter[Decimal] = Counter()
    for piece in pack.pieces.all() if pack is not None else ():
        found[piece.thickness] += piece.count * (pads if piece.pad_id is None else 1)
    return found


def within_reach(drawer: Sequence[InDrawer], own: Counter[Decimal]) -> list[InDrawer]:
    """The drawer with the pieces that lie under the very stand: a new pack may use those too."""
    known = {line.thickness for line in drawer}
    lines = [replace(line, count=line.count + own[line.thickness]) for line in drawer]
    lines += [InDrawer(thickness, count) for thickness, count in own.items() if thickness not in known]
    return sorted((line for line in lines if line.count), key=lambda line: line.thickness)


def taken_by(pieces: Iterable[tuple[Decimal, int]], pads: int, own: Counter[Decimal]) -> Counter[Decimal]:
    """What a pack (thickness [in], count under each of so many pads) takes out of the drawer beyond the stand's own."""
    wanted: Counter[Decimal] = Counter()
    for thickness, count in pieces:
        wanted[thickness] += count * pads
    return wanted - own


@dataclass(frozen=True)
class DrawerRow:
    """One row of the drawer's list: what was counted, and what there is now of its thickness."""

    stock: ShimStock
    line: InDrawer
    alike: int

    @property
    def out(self) -> int:
        """How many have left the drawer since the count, net; fewer than none when some came back."""
        return int(self.stock.taken)  # type: ignore[attr-defined]


def drawer_rows(thickness: Decimal | None = None) -> list[DrawerRow]:
    """The drawer row by row, or only the rows of one thickness, in one query."""
    stocks = ShimStock.objects.all() if thickness is None else ShimStock.objects.filter(thickness=thickness)
    kept = list(with_taken(stocks))
    lines = {line.thickness: line for line in in_drawer(kept)}
    alike = Counter(stock.thickness for stock in kept)
    return [DrawerRow(stock, lines[stock.thickness], alike[stock.thickness]) for stock in kept]
