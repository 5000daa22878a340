"""Writing witness marks: several edges in one go, with the pack that was in place when the tip was inked."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import transaction

from builds.found import set_number
from builds.models import Build, Person, Reading
from builds.recording import Entry, EntryRefused, record
from valvetrain.changes import inputs_of
from valvetrain.gathering import HeadRecords, gather
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.models import FittedPack, Head, StandMove, Valve

MEASURED_AGAIN = "measured again on the picture"


def record_marks(
    records: HeadRecords, person: Person, entries: Sequence[Entry]
) -> list[tuple[Reading, bool]]:
    """Write several readings of marks on one head, all or none. Gives each with whether it is new; safe to repeat.

    A photo that is measured again corrects what was measured on it before. Raises `EntryRefused` with a sentence, and
    then nothing is written.
    """
    build = records.head.job
    with transaction.atomic():
        Build.objects.select_for_update(of=("self",)).get(pk=build.pk)
        known = {
            reading.client_id: reading
            for reading in Reading.objects.filter(
                client_id__in=[entry.client_id for entry in entries]
            ).select_related("corrects")
        }
        standing = _standing(build, {entry.position for entry in entries})
        written = []
        for entry in entries:
            _check_mark(records, entry)
            if entry.client_id in known:
                ready = replace(entry, corrects=known[entry.client_id].corrects)
            else:
                ready = _ready(records, entry, standing)
            written.append(record(build, person, ready, records.positions))
        return written


def what_held(build: Build, entry: Entry) -> Mapping[str, Any]:
    """What a mark that is typed in the log keeps with it; nothing for what is no mark. For the log's registry."""
    if entry.characteristic not in MARK_KEYS:
        return {}
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    for records in gather(heads):
        valve = _valve(records, entry.position)
        if valve is not None:
            return _context(records, valve, entry, _standing(build, {entry.position}))
    return {}


def _standing(build: Build, positions: set[str]) -> list[Reading]:
    standing = Reading.objects.standing().filter(
        build=build, position__in=positions, characteristic__in=MARK_KEYS
    )
    return list(standing)


def _check_mark(records: HeadRecords, entry: Entry) -> None:
    if entry.characteristic not in MARK_KEYS:
        raise EntryRefused("characteristic", f"“{entry.characteristic[:40]}” is not read on a witness mark.")
    if _valve(records, entry.position) is None:
        raise EntryRefused(
            "position",
            f"There is no valve “{entry.position[:40]}” on {records.head}. Use an address from its plan.",
        )


def _valve(records: HeadRecords, address: str) -> Valve | None:
    on_head = (valve for valves in records.valves_on.values() for valve in valves)
    return next((valve for valve in on_head if valve.address == address), None)


def _ready(records: HeadRecords, entry: Entry, standing: Sequence[Reading]) -> Entry:
    """An entry as it is written: what it corrects, and what held when the mark was made."""
    valve = _valve(records, entry.position)
    assert valve is not None
    if entry.photo is not None and entry.corrects is None:
        before = next(
            (
                reading
                for reading in reversed(standing)
                if reading.photo_id == entry.photo.pk
                and (reading.position, reading.characteristic) == (entry.position, entry.characteristic)
            ),
            None,
        )
        if before is not None:
            entry = replace(entry, corrects=before, reason=entry.reason or MEASURED_AGAIN)
    return replace(entry, context={**entry.context, **_context(records, valve, entry, standing)})


def _context(records: HeadRecords, valve: Valve, entry: Entry, standing: Sequence[Reading]) -> dict[str, Any]:
    """Pack and slide that were in place, the inputs that held, and the set that the reading belongs to.

    A pack or a slide since the last reading begins a new set; a correction belongs to the set of what it corrects.
    """
    if entry.corrects is not None and "pack" in entry.corrects.context:
        kept = entry.corrects.context
        return {key: kept[key] for key in ("pack", "move", "held", "set") if key in kept}
    moment = entry.photo.taken_at if entry.photo is not None and entry.photo.taken_at else entry.taken_at
    packs, moves = records.packs.get(valve.stand_id, []), records.moves.get(valve.stand_id, [])
    pack, move = pack_at(packs, moment), move_at(moves, moment)
    asked = int(entry.context.get("set") or 0)
    mine = [
        reading
        for reading in standing
        if (reading.position, reading.characteristic) == (entry.position, entry.characteristic)
    ]
    same = [set_number(each) for each in mine if made_with(each, packs, moves) == (pack, move)]
    others = [set_number(each) for each in mine if made_with(each, packs, moves) != (pack, move)]
    number = max(asked, *same) if same else max(asked, *(each + 1 for each in others)) if others else asked
    return {
        "set": number,
        "pack": pack,
        "move": move,
        "held": inputs_of(records, valve).to_keep(None),
    }


def made_with(reading: Reading, packs: Sequence[FittedPack], moves: Sequence[StandMove]) -> tuple[str, str]:
    """Pack and slide in place when a mark was made: as it kept them, else by when it was taken."""
    kept = reading.context
    if "pack" in kept:
        return str(kept["pack"]), str(kept.get("move", ""))
    return pack_at(packs, reading.taken_at), move_at(moves, reading.taken_at)


def pack_at(packs: Sequence[FittedPack], moment: datetime | None) -> str:
    """Name of the pack that lay under a stand at a moment; the newest where no moment is told."""
    fitted = [pack for pack in packs if moment is None or pack.fitted_at <= moment]
    return str(fitted[-1].client_id) if fitted else ""


def move_at(moves: Sequence[StandMove], moment: datetime | None) -> str:
    """Name of the last slide of a stand at a moment; the newest where no moment is told."""
    made = [move for move in moves if moment is None or move.moved_at <= moment]
    return str(made[-1].client_id) if made else ""
