"""Writing in the set-up log: lifts, heights, and packs fitted. Each write is one transaction and safe to repeat."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from builds.found import set_number
from builds.measures import Measure, MeasureError, parse, show
from builds.models import Build, Person, Reading
from builds.recording import CLOCK_SLACK, Entry, EntryQuestioned, EntryRefused, record
from valvetrain.changes import inputs_of
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT, STAND_GAP
from valvetrain.doubts import held_limit, question_height
from valvetrain.gathering import HeadRecords
from valvetrain.models import FittedPack, FittedPiece, Pad, Stand, Valve

MOST_PIECES = 12
THICKEST_FEELER = Decimal("0.5")
# A pack by micrometer that differs from its pieces by more than this [in] is another pack.
MEASURED_APART = Decimal("0.003")


def record_lift(records: HeadRecords, person: Person, entry: Entry) -> tuple[Reading, bool]:
    """Write a measured net lift at a valve. What the cam card leads to expect guards against the wrong unit."""
    lift = inputs_of(records, _valve(records, entry.position)).lift
    expected = None if lift is None else Decimal(repr(lift))
    # The bench adds to the set that counts; a new set is begun in the log's own step.
    number = max(map(set_number, records.build.lifts.get(entry.position, [])), default=0)
    context = {**entry.context, "set": number}
    return _record(
        records, person, replace(entry, characteristic=NET_LIFT.key, expected=expected, context=context)
    )


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
    _check_pack(records, valve, entry, pack)
    feeler = _foot_feeler(entry, foot_feeler)
    held = inputs_of(records, valve).to_keep(gauge if entry.characteristic == STAND_GAP.key else None)
    context = {"pack": pack, "foot_feeler": feeler, "held": held | held_limit(records)}
    if not entry.sure:
        question_height(records, valve, replace(entry, context=context))
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


def _check_pack(records: HeadRecords, valve: Valve, entry: Entry, pack: str) -> None:
    fitted = [str(known.client_id) for known in records.packs.get(valve.stand_id, [])]
    if fitted and pack in ["", *fitted[:-1]] and not entry.sure:
        raise EntryQuestioned(
            "pack",
            f"{valve.address}: another pack was fitted under its stand since this page was opened. If this was read "
            "before that, say yes. If it was read with the new pack in place, clear the field and type it again.",
        )
    if pack and pack not in fitted:
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


Pieces = list[tuple[Decimal, int]]


@dataclass(frozen=True)
class PackEntry:
    """What a person says of a pack before it is checked.

    `pieces` (thickness [in], count) lie alike under every pad; `under` holds, by the pad's letter, what lies under one
    pad besides. `measured` is the total by micrometer as typed, in `unit`. `instead_of` is the client id of the pack that
    the person saw in place ("" for none); None where nobody looked.
    """

    client_id: UUID
    pieces: Pieces
    under: Mapping[str, Pieces] = field(default_factory=dict)
    measured: str = ""
    unit: str = "in"
    old_scrapped: bool = False
    instead_of: str | None = None
    fitted_at: datetime | None = None
    note: str = ""


def fit_pack(
    stand: Stand,
    person: Person,
    *,
    client_id: UUID,
    pieces: Pieces,
    fitted_at: datetime | None = None,
    note: str = "",
) -> tuple[FittedPack, bool]:
    """Write that these pieces (thickness [in], count) now lie under every pad of a stand. No pieces: none.

    Returns the pack and whether it is new. A refit starts a new set of height readings.
    """
    return fit(stand, person, PackEntry(client_id, pieces, fitted_at=fitted_at, note=note))


def fit(stand: Stand, person: Person, entry: PackEntry) -> tuple[FittedPack, bool]:
    """Write a pack as it was put under a stand, in one transaction. Returns it and whether it is new."""
    known = _known_pack(entry)
    if known is not None:
        return _same_pack(known, stand, entry), False
    measured = _check_entry(stand, entry)
    try:
        with transaction.atomic():
            _check_open_and_unchanged(stand, entry)
            pack = FittedPack(
                client_id=entry.client_id,
                stand=stand,
                fitted_by=person,
                fitted_at=entry.fitted_at or timezone.now(),
                measured_text=measured.text if measured else "",
                measured_unit=measured.unit if measured else "",
                measured_total=measured.base if measured else None,
                old_scrapped=entry.old_scrapped,
                note=entry.note[:200],
            )
            pack.save()
            for pad, thickness, count in _placed(stand, entry):
                FittedPiece(pack=pack, pad=pad, thickness=thickness, count=count).save()
    except IntegrityError:
        known = _known_pack(entry)
        if known is None:
            raise
        return _same_pack(known, stand, entry), False
    return pack, True


def _known_pack(entry: PackEntry) -> FittedPack | None:
    return FittedPack.objects.filter(client_id=entry.client_id).prefetch_related("pieces__pad").first()


def _check_entry(stand: Stand, entry: PackEntry) -> Measure | None:
    """Check what was said of a pack; its total by micrometer, where one was typed."""
    if entry.fitted_at is not None and entry.fitted_at > timezone.now() + CLOCK_SLACK:
        raise EntryRefused(
            "fitted_at", "This pack says it was fitted in the future. Set the tablet's clock right."
        )
    letters = {pad.letter for pad in stand.pads.all()}
    for letter, extra in entry.under.items():
        if letter not in letters:
            raise EntryRefused(
                "pieces",
                f"{stand.address} has no pad {letter}. Its pads are {', '.join(sorted(letters)) or 'not entered'}.",
            )
        _check_pieces([*entry.pieces, *extra])
    _check_pieces(entry.pieces)
    return _measured(stand, entry)


def _check_pieces(pieces: Pieces) -> None:
    for thickness, count in pieces:
        if thickness <= 0 or not 1 <= count <= MOST_PIECES:
            raise EntryRefused(
                "pieces", f"“{count} of {thickness}” is not a shim. Give its thickness and how many."
            )
    if sum(count for _thickness, count in pieces) > MOST_PIECES:
        raise EntryRefused(
            "pieces", f"More than {MOST_PIECES} shims under one pad is not a pack. Use thicker ones."
        )


def _measured(stand: Stand, entry: PackEntry) -> Measure | None:
    if not entry.measured.strip():
        return None
    if entry.under:
        raise EntryRefused(
            "measured",
            "One total can be kept only for a pack that is the same under every pad. Leave the measured total empty.",
        )
    try:
        measure = parse(entry.measured, unit=entry.unit or None)
    except MeasureError as error:
        raise EntryRefused(
            "measured", f"{stand.address}, measured total: {error.sentence}", error.offers
        ) from None
    nominal = sum((thickness * count for thickness, count in entry.pieces), Decimal(0))
    if abs(measure.base - nominal) > MEASURED_APART:
        raise EntryRefused(
            "measured",
            f"{stand.address}: the pack measures {show(measure.base, measure.unit, with_unit=True)} and its pieces come "
            f"to {show(nominal, measure.unit, with_unit=True)}. One of the two is wrong: measure again, or type the "
            "pieces that are in it.",
        )
    return measure


def _check_open_and_unchanged(stand: Stand, entry: PackEntry) -> None:
    """Hold the job, and look whether its log is open and the stand still as the person saw it."""
    build = stand.head.build
    if build is not None:
        build.went_out_on = (
            Build.objects.select_for_update().values_list("went_out_on", flat=True).get(pk=build.pk)
        )
    if build is None or not build.takes_readings:
        raise EntryRefused("stand", "This job's log is closed: nothing more is fitted on it.")
    if entry.instead_of is None:
        return
    newest = (
        FittedPack.objects.filter(stand=stand).order_by("-pk").values_list("client_id", flat=True).first()
    )
    if entry.instead_of != (str(newest) if newest else ""):
        raise EntryRefused(
            "pieces",
            f"The pack under {stand.address} was changed since this page was opened. Look at it again, then fit.",
        )


def _placed(stand: Stand, entry: PackEntry) -> Iterator[tuple[Pad | None, Decimal, int]]:
    """Each lot of pieces with the pad it lies under; none: every pad."""
    for thickness, count in entry.pieces:
        yield None, thickness, count
    pads = {pad.letter: pad for pad in stand.pads.all()}
    for letter, extra in entry.under.items():
        for thickness, count in extra:
            yield pads[letter], thickness, count


def _same_pack(known: FittedPack, stand: Stand, entry: PackEntry) -> FittedPack:
    kept = sorted(
        (piece.pad.letter if piece.pad else "", piece.thickness, piece.count) for piece in known.pieces.all()
    )
    asked = sorted(
        [("", thickness, count) for thickness, count in entry.pieces]
        + [(letter, thickness, count) for letter, extra in entry.under.items() for thickness, count in extra]
    )
    told = (known.stand_id, known.measured_text, known.old_scrapped)
    if told != (stand.pk, entry.measured.strip(), entry.old_scrapped) or kept != asked:
        raise EntryRefused(
            "pieces", "This pack's number is already used for another pack. Choose the pieces again."
        )
    return known
