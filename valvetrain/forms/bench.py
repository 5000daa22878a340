"""What the bench sends: read into entries, with a sentence for whatever does not fit."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from builds.measures import MeasureError, parse
from builds.models import Build, Instrument, Person, Reading
from builds.recording import Entry, EntryRefused
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT
from valvetrain.gathering import HeadRecords

READABLE = {NET_LIFT.key: NET_LIFT, **HEIGHT_WAYS}
STALE_PAGE = (
    "This page is too old to save from. Copy the value down, load the bench again, and type it there."
)


@dataclass(frozen=True)
class BenchEntry:
    """One reading as the bench sends it."""

    entry: Entry
    pack: str
    foot_feeler: str


def read_entry(data: QueryDict, records: HeadRecords, person: Person) -> BenchEntry:
    """Read one reading from what the bench sent. Raises `EntryRefused`."""
    require_same_person(data, person)
    characteristic = data.get("characteristic", "")
    if characteristic not in READABLE:
        raise EntryRefused("characteristic", f"“{characteristic}” is not something the bench reads here.")
    entry = Entry(
        client_id=read_client_id(data),
        position=data.get("position", "").strip(),
        characteristic=characteristic,
        text=data.get("value", ""),
        unit=_unit(data),
        instrument=_instrument(data, records),
        how=HOW.get(characteristic, ""),
        taken_at=read_time(data),
        device=data.get("device", "")[:60],
        corrects=_corrected(data, records.build.build),
        reason=data.get("reason", "")[:200],
        sure=data.get("sure") == "yes",
    )
    return BenchEntry(entry, data.get("pack", ""), data.get("foot_feeler", ""))


HOW = {
    "stand_gap": "height gauge and feeler",
    "top_of_shaft": "depth micrometer to the top",
    "underside_of_shaft": "depth micrometer to the underside",
    "net_lift": "dial indicator",
}


def require_same_person(data: QueryDict, person: Person) -> None:
    """A reading that waited on the tablet belongs to the one who keyed it in, not to who logs in later."""
    keyed_by = data.get("by", "")
    if keyed_by and keyed_by != str(person.pk):
        raise EntryRefused(
            "by", "Somebody else keyed this in. It goes into the book when they are logged in on this tablet."
        )


def read_client_id(data: QueryDict) -> UUID:
    """The id that the device made."""
    try:
        return UUID(data.get("client_id", ""))
    except ValueError:
        raise EntryRefused("client_id", STALE_PAGE) from None


def read_time(data: QueryDict) -> datetime | None:
    """The moment at which the device says this was taken; nothing said is now."""
    text = data.get("taken_at", "")
    if not text:
        return None
    try:
        moment = parse_datetime(text)
    except ValueError:
        moment = None
    if moment is None:
        raise EntryRefused(
            "taken_at", f"“{text[:40]}” is not a time. Set the tablet's clock and load the page again."
        )
    return moment if timezone.is_aware(moment) else timezone.make_aware(moment)


def _unit(data: QueryDict) -> str:
    unit = data.get("unit", "in")
    if unit not in ("in", "mm"):
        raise EntryRefused(
            "unit", f"“{unit[:10]}” is not a unit for lengths here. Choose inch or millimetre."
        )
    return unit


def _instrument(data: QueryDict, records: HeadRecords) -> Instrument | None:
    pk = data.get("instrument", "")
    if not pk:
        return None
    if pk.isdigit() and int(pk) in records.gauges:
        return records.gauges[int(pk)].instrument
    found = Instrument.objects.filter(pk=pk).first() if pk.isdigit() else None
    if found is None:
        raise EntryRefused("instrument", "This instrument is not in the drawer any more. Choose another one.")
    return found


def _corrected(data: QueryDict, build: Build) -> Reading | None:
    client_id = data.get("corrects", "")
    if not client_id:
        return None
    try:
        found = (
            Reading.objects.filter(build=build, client_id=UUID(client_id))
            .select_related("corrected_by")
            .first()
        )
    except ValueError:
        found = None
    if found is None:
        raise EntryRefused(
            "corrects", "The reading to correct is not in the book. Load the bench again and look."
        )
    return found


def read_pieces(data: QueryDict, unit: str) -> list[tuple[Decimal, int]]:
    """The pieces of a pack: exact from the offered act, or as a person typed them: `.015 .010 .010`."""
    typed = data.get("pieces", "").replace("+", " ").replace(";", " ").split()
    counts: dict[Decimal, int] = {}
    for word in typed:
        text, times, count = word.partition("x")
        try:
            thickness = parse(text, unit=unit).base.quantize(Decimal("1e-10"))
            counts[thickness] = counts.get(thickness, 0) + (int(count) if times else 1)
        except (MeasureError, ValueError) as error:
            sentence = error.sentence if isinstance(error, MeasureError) else f"“{word}” is not a shim."
            raise EntryRefused(
                "pieces", f"Pack: {sentence} Type the thicknesses with spaces: .015 .010"
            ) from None
    return sorted(counts.items(), reverse=True)
