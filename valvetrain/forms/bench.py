"""What the bench sends: read into entries, with a sentence for whatever does not fit."""

from dataclasses import dataclass
from decimal import Decimal

from django.http import QueryDict

from builds.forms.entries import (
    read_client_id,
    read_corrected,
    read_instrument,
    read_time,
    require_same_person,
)
from builds.measures import MeasureError, parse
from builds.models import Person
from builds.recording import Entry, EntryRefused
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT
from valvetrain.gathering import HeadRecords
from valvetrain.logbook import PackEntry

READABLE = {NET_LIFT.key: NET_LIFT, **HEIGHT_WAYS}


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
        instrument=read_instrument(data, {pk: gauge.instrument for pk, gauge in records.gauges.items()}),
        how=HOW.get(characteristic, ""),
        taken_at=read_time(data),
        device=data.get("device", "")[:60],
        corrects=read_corrected(data, records.build.build),
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


def _unit(data: QueryDict) -> str:
    unit = data.get("unit", "in")
    if unit not in ("in", "mm"):
        raise EntryRefused(
            "unit", f"“{unit[:10]}” is not a unit for lengths here. Choose inch or millimetre."
        )
    return unit


def read_pack(data: QueryDict, person: Person) -> PackEntry:
    """Read a fitted pack from what the bench sent. Raises `EntryRefused`."""
    require_same_person(data, person)
    unit = _unit(data)
    return PackEntry(
        client_id=read_client_id(data),
        pieces=read_pieces(data.get("pieces", ""), unit),
        measured=data.get("measured", ""),
        unit=unit,
        old_scrapped=data.get("scrapped") == "yes",
        fitted_at=read_time(data),
    )


def read_pieces(text: str, unit: str) -> list[tuple[Decimal, int]]:
    """The pieces of a pack: exact from the offered act, or as a person typed them: `.015 .010 .010`."""
    typed = text.replace("+", " ").replace(";", " ").split()
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
