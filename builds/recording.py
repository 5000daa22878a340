"""Writing a reading: the one way in. Checks, asks, and is safe to repeat.

The device makes each reading's id. The same id with the same value, sent again because the network went away,
is answered with the reading that is already on disk; with another value it is refused, because one of the two
would be lost.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import IntegrityError, models, transaction
from django.utils import timezone

from builds import characteristics, measures
from builds.characteristics import Characteristic
from builds.measures import Measure, MeasureError, bare_number, parse, show
from builds.models import Build, Instrument, Person, Photo, Reading
from builds.plausible import likely
from builds.positions import positions_of
from builds.refusals import Refused

CLOCK_SLACK = timedelta(minutes=5)
FIRST_DAY = datetime(2000, 1, 1, tzinfo=timezone.get_default_timezone())


class EntryRefused(Refused):
    """An entry that cannot be written."""


class EntryQuestioned(EntryRefused):
    """An entry that can be written once the person says that it is meant."""


@dataclass(frozen=True)
class Entry:
    """What a person keyed in, before it is checked."""

    client_id: UUID
    position: str
    characteristic: str
    text: str
    unit: str
    instrument: Instrument | None = None
    how: str = ""
    taken_at: datetime | None = None
    device: str = ""
    corrects: Reading | None = None
    reason: str = ""
    note: str = ""
    sure: bool = False
    expected: Decimal | None = None
    photo: Photo | None = None
    context: dict[str, Any] = field(default_factory=dict)


def record(
    build: Build, person: Person, entry: Entry, positions: Mapping[str, str] | None = None
) -> tuple[Reading, bool]:
    """Write a reading, in one transaction. Returns it and whether it is new.

    `positions` are the addresses of the build, where the caller has them at hand. Raises `EntryRefused` (or
    `EntryQuestioned`, which `sure` answers) with a sentence for the person.
    """
    with transaction.atomic():
        known = _lock(build, entry.client_id)
        if known is not None:
            return _same_again(known, build, entry), False
        characteristic, measure = check(build, entry, positions)
        reading = Reading(
            client_id=entry.client_id,
            build=build,
            position=entry.position,
            characteristic=characteristic.key,
            text=measure.text,
            unit=measure.unit,
            value=measure.base,
            instrument=entry.instrument,
            how=entry.how.strip(),
            taken_by=person,
            taken_at=entry.taken_at or timezone.now(),
            device=entry.device[:60],
            corrects=entry.corrects,
            reason=entry.reason.strip(),
            note=entry.note.strip(),
            photo=entry.photo,
            context=entry.context,
        )
        return _write(reading, entry)


def strike_out(
    build: Build, person: Person, *, client_id: UUID, reading: Reading, reason: str
) -> tuple[Reading, bool]:
    """Take a reading back: a new record that names it and says why. The old one stays on the sheet."""
    entry = Entry(
        client_id, reading.position, reading.characteristic, "", "", corrects=reading, reason=reason
    )
    with transaction.atomic():
        known = _lock(build, client_id)
        if known is not None:
            return _same_again(known, build, entry), False
        _check_open(build)
        _check_lengths(entry)
        _check_correction(build, entry)
        if reading.struck_out:
            raise EntryRefused("value", f"{reading.position}: this entry is a striking-out already.")
        return _write(
            Reading(
                client_id=client_id, build=build, position=reading.position, characteristic=reading.characteristic,
                taken_by=person, corrects=reading, reason=reason.strip(), context=reading.context,
            ),
            entry,
        )  # fmt: skip


def _lock(build: Build, client_id: UUID) -> Reading | None:
    """Hold the job while a reading goes in, look again whether its log is open, and whether this reading is in already.

    One question for both, since both are asked at every saved reading.
    """
    written = Reading.objects.filter(client_id=client_id).values("pk")[:1]
    build.went_out_on, known = (
        Build.objects.select_for_update(of=("self",))
        .annotate(known=models.Subquery(written))
        .values_list("went_out_on", "known")
        .get(pk=build.pk)
    )
    return None if known is None else Reading.objects.get(pk=known)


def _write(reading: Reading, entry: Entry) -> tuple[Reading, bool]:
    try:
        with transaction.atomic():
            reading.save()
    except IntegrityError:
        # Another tablet was a moment earlier: with this very reading, or with another correction of the same one.
        known = Reading.objects.filter(client_id=reading.client_id).first()
        if known is not None:
            return _same_again(known, reading.build, entry), False
        raise EntryRefused("value", _corrected_meanwhile(reading.corrects)) from None
    return reading, True


def _same_again(known: Reading, build: Build, entry: Entry) -> Reading:
    """Answer a repeated delivery, or refuse an id that is used for something else."""
    told = (
        known.build_id, known.position, known.characteristic, known.text, known.corrects_id, known.photo_id,
    )  # fmt: skip
    asked = (
        build.pk, entry.position, entry.characteristic, entry.text.strip(), entry.corrects and entry.corrects.pk,
        entry.photo and entry.photo.pk,
    )  # fmt: skip
    if told != asked or not _same_unit(known, entry):
        raise EntryRefused(
            "value",
            f"This entry's number is already used for {known.position} = {known.as_typed or 'a striking-out'}. Clear "
            "the field and type the value again.",
        )
    return known


def _same_unit(known: Reading, entry: Entry) -> bool:
    """Whether the same text was also meant in the same unit."""
    return measures.has_unit(known.text) or entry.unit in ("", known.unit)


def check(
    build: Build, entry: Entry, positions: Mapping[str, str] | None = None
) -> tuple[Characteristic, Measure]:
    """Check an entry against the build, its log and the registry, and read its value."""
    _check_open(build)
    return read_value(build, entry, positions)


def read_value(
    build: Build, entry: Entry, positions: Mapping[str, str] | None = None
) -> tuple[Characteristic, Measure]:
    """Check an entry against the addresses of a build and the registry, and read its value; open log or not."""
    try:
        characteristic = characteristics.get(entry.characteristic)
    except characteristics.UnknownCharacteristic:
        raise EntryRefused(
            "characteristic", f"“{entry.characteristic}” is not something this book measures."
        ) from None
    known = positions_of(build) if positions is None else positions
    _check_position(build, entry.position, characteristic, known)
    _check_time(entry.taken_at)
    _check_lengths(entry)
    if entry.corrects is not None:
        _check_correction(build, entry)
    if entry.photo is not None:
        _check_photo(build, entry.photo)
    try:
        measure = parse(
            entry.text, kind=characteristic.unit_kind, unit=entry.unit or None, signed=characteristic.signed
        )
    except MeasureError as error:
        raise EntryRefused(
            "value", f"{entry.position}, {characteristic.name}: {error.sentence}", error.offers
        ) from None
    if not entry.sure:
        _question(entry, characteristic, measure)
    return characteristic, measure


def _check_open(build: Build) -> None:
    if not build.takes_readings:
        raise EntryRefused(
            "build",
            build.closed_sentence,
        )


def _check_position(
    build: Build, position: str, characteristic: Characteristic, positions: Mapping[str, str]
) -> None:
    kind = positions.get(position)
    if kind is None:
        raise EntryRefused(
            "position",
            f"There is no “{position}” on job {build.job_number}. Use an address from its heads, such as 3E or "
            "L.stand2.",
        )
    if kind != characteristic.applies_to:
        raise EntryRefused(
            "position",
            f"{position} is a {kind}, and {characteristic.name} is measured at a {characteristic.applies_to}.",
        )


def _check_photo(build: Build, photo: Photo) -> None:
    if photo.build_id != build.pk:
        raise EntryRefused(
            "photo",
            f"The photo {photo.name} belongs to another job than {build.job_number}. Measure on a photo of this job.",
        )
    if photo.set_aside:
        raise EntryRefused(
            "photo",
            f"The photo {photo.name} is set aside: {photo.filing.reason}. File it again first, or measure on another.",
        )


def _check_lengths(entry: Entry) -> None:
    texts = (
        (Reading.how.field, "How it was taken"),
        (Reading.reason.field, "The reason"),
        (Reading.note.field, "The note"),
    )
    for column, what in texts:
        longest = column.max_length
        if longest is not None and len(getattr(entry, column.name).strip()) > longest:
            raise EntryRefused(column.name, f"{what} is longer than {longest} characters. Say it shorter.")


def _check_time(taken_at: datetime | None) -> None:
    if taken_at is None:
        return
    if timezone.is_naive(taken_at):
        raise EntryRefused(
            "taken_at", "This reading's time has no time zone. Load the page again and save once more."
        )
    if taken_at > timezone.now() + CLOCK_SLACK:
        raise EntryRefused(
            "taken_at",
            f"This reading says {timezone.localtime(taken_at):%d %b %Y %H:%M}, which is still to come. Set the "
            "tablet's clock right and save again.",
        )
    if taken_at < FIRST_DAY:
        raise EntryRefused(
            "taken_at",
            f"This reading says it is from {taken_at:%Y}. Set the tablet's clock right and save again.",
        )


def _check_correction(build: Build, entry: Entry) -> None:
    old = entry.corrects
    assert old is not None
    if old.build_id != build.pk or (old.position, old.characteristic) != (
        entry.position,
        entry.characteristic,
    ):
        raise EntryRefused(
            "corrects", "A correction stands at the same address, for the same thing, as what it corrects."
        )
    if not entry.reason.strip():
        raise EntryRefused(
            "reason", "Say why the reading is corrected: typed wrong, wrong valve, gauge not seated …"
        )
    if hasattr(old, "corrected_by"):
        raise EntryRefused("value", _corrected_meanwhile(old))


def _corrected_meanwhile(old: Reading | None) -> str:
    where = f"{old.position} = {old.as_typed}" if old is not None and not old.struck_out else "This reading"
    return f"{where} has been corrected already. Look at the newest value and correct that one."


# A value that differs by more than this part from what is known otherwise is asked about.
FAR_FROM_KNOWN = Decimal("0.2")


def _question(entry: Entry, characteristic: Characteristic, measure: Measure) -> None:
    """Ask about a value that a person can hardly have meant, with what may have been meant."""
    low, high = characteristic.low, characteristic.high
    offers = likely(measure, low, high) if characteristic.unit_kind == "length" else ()
    if not characteristic.is_plausible(measure.base):
        raise EntryQuestioned(
            "value",
            f"{entry.position}, {characteristic.name}: {measure.text} {measure.unit} is unusual "
            f"(expected {show(low, measure.unit, with_unit=True)} to {show(high, measure.unit, with_unit=True)}). "
            "Is it meant?",
            offers,
        )
    if (
        entry.expected is not None
        and characteristic.unit_kind == "length"
        and measure.base * entry.expected != 0
    ):
        ratio = abs(measure.base / entry.expected)
        if Decimal(24) <= ratio <= Decimal(27) or Decimal(24) <= 1 / ratio <= Decimal(27):
            other = "mm" if measure.unit != "mm" else "in"
            raise EntryQuestioned(
                "value",
                f"{entry.position}: {measure.text} is about 25 times off what is expected. Inch or millimetre?",
                (f"{bare_number(measure.text)} {other}",),
            )
        if abs(ratio - 1) > FAR_FROM_KNOWN:
            known = show(entry.expected, measure.unit, with_unit=True)
            raise EntryQuestioned(
                "value",
                f"{entry.position}, {characteristic.name}: {measure.text} {measure.unit} is far from the {known} that is "
                "known of it otherwise. Is it meant?",
            )
