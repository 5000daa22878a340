"""Writing in the set-up log: lifts, heights, and packs fitted. Each write is one transaction and safe to repeat."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from builds.measures import MeasureError, parse
from builds.models import Person, Reading
from builds.recording import CLOCK_SLACK, Entry, EntryQuestioned, EntryRefused, record
from valvetrain.changes import inputs_of
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT, STAND_GAP
from valvetrain.gathering import HeadRecords
from valvetrain.models import FittedPack, FittedPiece, Stand, Valve

MOST_PIECES = 12
THICKEST_FEELER = Decimal("0.5")


def record_lift(records: HeadRecords, person: Person, entry: Entry) -> tuple[Reading, bool]:
    """Write a measured net lift at a valve. What the cam card leads to expect guards against the wrong unit."""
    lift = inputs_of(records, _valve(records, entry.position)).lift
    expected = None if lift is None else Decimal(repr(lift))
    return _record(records, person, replace(entry, characteristic=NET_LIFT.key, expected=expected))


def record_height(
    records: HeadRecords, person: Person, entry: Entry, *, pack: str = "", foot_feeler: str = ""
) -> tuple[Reading, bool]:
    """Write one reading of the shaft's height at a valve.

    `entry.characteristic` says which way it was taken; `pack` is the client id of the pack that was in place ("" for
    none); `foot_feeler` is the blade under the gauge's foot as typed, in the unit of the entry.
    """
    if entry.characteristic not in HEIGHT_WAYS:
        raise EntryRefused(
            "characteristic", f"“{entry.characteristic}” is not a way to read the shaft's height."
        )
    valve = _valve(records, entry.position)
    gauge = records.gauges.get(entry.instrument.pk) if entry.instrument else None
    if entry.characteristic == STAND_GAP.key and gauge is None:
        raise EntryRefused("instrument", "Say which height gauge was used: choose it above the fields.")
    _check_pack(records, valve, pack)
    feeler = _foot_feeler(entry, foot_feeler)
    held = inputs_of(records, valve).to_keep(gauge if entry.characteristic == STAND_GAP.key else None)
    context = {"pack": pack, "foot_feeler": feeler, "held": held}
    return _record(records, person, replace(entry, context=context))


def _record(records: HeadRecords, person: Person, entry: Entry) -> tuple[Reading, bool]:
    reading, new = record(records.head.job, person, entry, records.positions)
    records.take_in(reading)
    return reading, new


def _valve(records: HeadRecords, address: str) -> Valve:
    for valves in records.valves_on.values():
        for valve in valves:
            if valve.address == address:
                return valve
    raise EntryRefused(
        "position", f"There is no valve “{address}” on {records.head}. Use an address from its plan."
    )


def _check_pack(records: HeadRecords, valve: Valve, pack: str) -> None:
    if pack and pack not in {str(known.client_id) for known in records.packs.get(valve.stand_id, [])}:
        raise EntryRefused(
            "pack",
            f"{valve.address}: the pack that this reading names was never fitted under its stand. Fit the pack, then "
            "read again.",
        )


def _foot_feeler(entry: Entry, typed: str) -> dict[str, str]:
    """The blade under the foot as typed and in inches; nothing typed is no blade."""
    if not typed.strip():
        return {"text": "", "unit": entry.unit, "value": "0"}
    try:
        measure = parse(typed, unit=entry.unit or None)
    except MeasureError as error:
        raise EntryRefused(
            "foot_feeler", f"{entry.position}, feeler under the foot: {error.sentence}", error.offers
        ) from None
    if measure.base > THICKEST_FEELER and not entry.sure:
        raise EntryQuestioned(
            "foot_feeler",
            f"{entry.position}: a feeler of {measure.text} {measure.unit} under the foot is unusual. Is it meant?",
        )
    return {"text": measure.text, "unit": measure.unit, "value": str(measure.base)}


def fit_pack(
    stand: Stand,
    person: Person,
    *,
    client_id: UUID,
    pieces: list[tuple[Decimal, int]],
    fitted_at: datetime | None = None,
    note: str = "",
) -> tuple[FittedPack, bool]:
    """Write that these pieces (thickness [in], count) now lie under every pad of a stand. No pieces: none.

    Returns the pack and whether it is new. A refit starts a new set of height readings.
    """
    known = FittedPack.objects.filter(client_id=client_id).prefetch_related("pieces").first()
    if known is not None:
        return _same_pack(known, stand, pieces), False
    build = stand.head.build
    if build is None or not build.takes_readings:
        raise EntryRefused("stand", "This job's log is closed: nothing more is fitted on it.")
    if fitted_at is not None and fitted_at > timezone.now() + CLOCK_SLACK:
        raise EntryRefused(
            "fitted_at", "This pack says it was fitted in the future. Set the tablet's clock right."
        )
    for thickness, count in pieces:
        if thickness <= 0 or not 1 <= count <= MOST_PIECES:
            raise EntryRefused(
                "pieces", f"“{count} of {thickness}” is not a shim. Give its thickness and how many."
            )
    if sum(count for _thickness, count in pieces) > MOST_PIECES:
        raise EntryRefused(
            "pieces", f"More than {MOST_PIECES} shims under one pad is not a pack. Use thicker ones."
        )
    try:
        with transaction.atomic():
            pack = FittedPack(
                client_id=client_id,
                stand=stand,
                fitted_by=person,
                fitted_at=fitted_at or timezone.now(),
                note=note[:200],
            )
            pack.save()
            for thickness, count in pieces:
                FittedPiece(pack=pack, thickness=thickness, count=count).save()
    except IntegrityError:
        known = FittedPack.objects.filter(client_id=client_id).prefetch_related("pieces").get()
        return _same_pack(known, stand, pieces), False
    return pack, True


def _same_pack(known: FittedPack, stand: Stand, pieces: list[tuple[Decimal, int]]) -> FittedPack:
    kept = sorted((piece.thickness, piece.count) for piece in known.pieces.all())
    if known.stand_id != stand.pk or kept != sorted(pieces):
        raise EntryRefused(
            "pieces", "This pack's number is already used for another pack. Choose the pieces again."
        )
    return known
