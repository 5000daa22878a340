"""What stands on an engine, carried over to a job that looks at it again: heads, rockers, card, springs, packs, slides.

The drawer is not touched: a carried pack was taken out of it when it was first fitted.
"""

from typing import Any

from builds.models import Build
from valvetrain.models import (
    CamCard,
    FittedPack,
    FittedPiece,
    Head,
    LobePoint,
    LobeTable,
    MovingMasses,
    Pad,
    PistonSide,
    PushrodSide,
    RockerSet,
    SpringSheet,
    Stand,
    StandMove,
)

ON_A_BUILD: tuple[Any, ...] = (RockerSet, CamCard, SpringSheet, PushrodSide, MovingMasses, PistonSide)


def carry_valvetrain(old: Build, new: Build) -> None:
    """Copy what the old job had on its engine to the new one, under the same addresses."""
    for head in Head.objects.filter(build=old).order_by("pk"):
        head.copy_to(new, code=head.code, name=head.name)
    for model in ON_A_BUILD:
        for record in model.objects.filter(build=old).order_by("pk"):
            _copy(record, build=new)
    for table in LobeTable.objects.filter(build=old).order_by("pk"):
        points = list(table.points.all())
        copied = _copy(table, build=new)
        for point in points:
            point.pk, point.table, point._state.adding = None, copied, True
        LobePoint.objects.bulk_create(points)
    _carry_work(old, new)


def _copy(record: Any, **instead: Any) -> Any:
    record.pk, record._state.adding = None, True
    for name, value in instead.items():
        setattr(record, name, value)
    record.save()
    return record


def _carry_work(old: Build, new: Build) -> None:
    """The packs that were in place and every slide. Only the newest pack of a stand: those before it are history."""
    stands = {
        (stand.head.code, stand.name): stand
        for stand in Stand.objects.filter(head__build=new).select_related("head")
    }
    pads = {
        (pad.stand.head.code, pad.stand.name, pad.letter): pad
        for pad in Pad.objects.filter(stand__head__build=new).select_related("stand__head")
    }
    packs: dict[int, FittedPack] = {}
    fitted = FittedPack.objects.filter(stand__head__build=old).order_by("pk")
    for pack in fitted.select_related("stand__head").prefetch_related("pieces__pad"):
        packs[pack.stand_id] = pack
    for pack in packs.values():
        place = (pack.stand.head.code, pack.stand.name)
        carried = FittedPack.objects.create(
            stand=stands[place], fitted_by=pack.fitted_by, fitted_at=pack.fitted_at, carried=True, note=pack.note,
            measured_text=pack.measured_text, measured_unit=pack.measured_unit, measured_total=pack.measured_total,
            context=pack.context,
        )  # fmt: skip
        FittedPiece.objects.bulk_create(
            FittedPiece(
                pack=carried, thickness=piece.thickness, count=piece.count,
                pad=None if piece.pad is None else pads[(*place, piece.pad.letter)],
            )
            for piece in pack.pieces.all()
        )  # fmt: skip
    moves = StandMove.objects.filter(stand__head__build=old).select_related("stand__head").order_by("pk")
    StandMove.objects.bulk_create(
        StandMove(
            stand=stands[move.stand.head.code, move.stand.name], slide_text=move.slide_text,
            slide_unit=move.slide_unit, slide=move.slide, relieved_text=move.relieved_text,
            relieved=move.relieved, moved_by=move.moved_by, moved_at=move.moved_at, note=move.note,
        )
        for move in moves
    )  # fmt: skip
