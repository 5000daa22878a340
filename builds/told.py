"""Figures told from the track: written down as told, and no readings of the shop until somebody takes them over.

Which steps of the log may be told is a registry that other floors fill.
"""

from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from builds.characteristics import Characteristic
from builds.guests import why_takes_no_more
from builds.looks import open_check
from builds.models import Build, GuestLink, Person, Reading, ToldAnswer, ToldReading
from builds.positions import positions_of
from builds.recording import Entry, EntryRefused, read_value, record
from builds.run_entries import refuse_day, refuse_job
from builds.steps import get_step, order_providers, with_what_held

# Keys of steps whose readings a crew can take at the track.
told_steps: list[str] = []
LONGEST_NOTE, LONGEST_NAME, LONGEST_HOW = 200, 80, 40
FROM_THE_TRACK = "told from the track"
# The reading that is made of a told figure has an id that follows from the figure's own: it is made once.
_AS_READING = UUID("6f1f0c62-5a0b-4a39-9a7a-0d8f3a3f7c11")


def tellable() -> list[Characteristic]:
    """What may be told from the track."""
    found = [step for key in told_steps if (step := get_step(key)) is not None]
    return [characteristic for step in found for characteristic in step.measured]


def places_to_tell(job: Build) -> list[str]:
    """The addresses at which something may be told, in the order of the work where there is one."""
    kinds = {characteristic.applies_to for characteristic in tellable()}
    found = [position for position, kind in positions_of(job).items() if kind in kinds]
    told = [step for key in told_steps if (step := get_step(key)) is not None]
    ordered = (provider(job, step) for step in told for provider in order_providers)
    order = next((each for each in ordered if each is not None), found)
    return sorted(found, key=lambda place: order.index(place) if place in order else len(order))


@dataclass(frozen=True)
class Told:
    """A figure as it was told, before it is checked."""

    client_id: UUID
    position: str
    characteristic: str
    text: str
    unit: str
    read_on: date
    note: str = ""
    told_by: str = ""
    sure: bool = False


def tell(
    build: Build, told: Told, *, person: Person | None = None, via: GuestLink | None = None
) -> tuple[ToldReading, bool]:
    """Write a told figure down, in one transaction; safe to repeat. Returns it and whether it is new.

    Raises `EntryRefused`, or `EntryQuestioned` where `sure` answers, with a sentence.
    """
    with transaction.atomic():
        job: Build = Build.objects.select_for_update(of=("self",)).select_related("engine").get(pk=build.pk)
        known = ToldReading.objects.filter(client_id=told.client_id).first()
        if known is not None:
            return _same_again(known, job, told, via), False
        if told.characteristic not in {each.key for each in tellable()}:
            raise EntryRefused(
                "characteristic", "That is not read at the track. Choose what was read from the list."
            )
        _check_words(told)
        refuse_job(job)
        refuse_day(job, told.read_on, "read_on", "read")
        if via is not None and (sentence := why_takes_no_more(via, job)):
            raise EntryRefused("", sentence)
        entry = Entry(
            told.client_id, told.position, told.characteristic, told.text, told.unit, sure=told.sure
        )
        _characteristic, measure = read_value(job, entry)
        found = ToldReading(
            client_id=told.client_id, build=job, position=told.position, characteristic=told.characteristic,
            text=measure.text, unit=measure.unit, value=measure.base, read_on=told.read_on, note=told.note.strip(),
            told_by=told.told_by.strip(), entered_by=person, via=via,
        )  # fmt: skip
        try:
            with transaction.atomic():
                found.save()
        except IntegrityError:
            return _same_again(ToldReading.objects.get(client_id=told.client_id), job, told, via), False
        return found, True


def _check_words(told: Told) -> None:
    for name, what, longest in (
        ("note", "The note", LONGEST_NOTE), ("told_by", "The name", LONGEST_NAME),
    ):  # fmt: skip
        text = getattr(told, name).strip()
        if len(text) > longest:
            raise EntryRefused(name, f"{what} is longer than {longest} characters. Say it shorter.")
        if "\0" in text:
            raise EntryRefused(name, f"{what} has a sign in it that cannot be kept. Type it again.")


def _same_again(known: ToldReading, job: Build, told: Told, via: GuestLink | None) -> ToldReading:
    """Answer a repeated delivery, or refuse an id that is used for something else."""
    what = (known.build_id, known.position, known.characteristic, known.text, known.read_on, known.via_id)
    if what != (
        job.pk, told.position, told.characteristic, told.text.strip(), told.read_on, via and via.pk,
    ):  # fmt: skip
        raise EntryRefused(
            "",
            "This page has sent another figure already. Load it again, look at the list, and type this one anew.",
        )
    return known


def waiting_of(job: Build) -> QuerySet[ToldReading]:
    """The told figures of a job that nobody answered yet, the oldest first."""
    return all_of(job).filter(answer__isnull=True).order_by("read_on", "pk")


def all_of(job: Build) -> QuerySet[ToldReading]:
    """All told figures of a job with what became of them, the newest first."""
    told = ToldReading.objects.filter(build=job).select_related("via", "entered_by")
    return told.select_related("answer__reading__build", "answer__by").order_by("-read_on", "-pk")


@transaction.atomic
def take_over(told: ToldReading, person: Person, check: Build | None) -> Reading:
    """Make a told figure a reading of a check, of a new one where none is given; done twice, it is done once.

    Raises `EntryRefused`, or `LookRefused` where no check can be opened.
    """
    job: Build = Build.objects.select_for_update(of=("self",)).get(pk=told.build_id)
    earlier = ToldAnswer.objects.select_related("reading__build").filter(told=told).first()
    if earlier is not None:
        if earlier.reading is None:
            raise EntryRefused("", "This figure was turned down already, with a reason. Load the page again.")
        return earlier.reading
    if check is None:
        check = open_check(job, person, read_on=told.read_on, title="Lash told from the track")
    elif check.follows_id != job.pk or not check.is_check:
        raise EntryRefused("check", f"{check} is no check of job {job}. Choose one from the list.")
    entry = Entry(
        uuid5(_AS_READING, str(told.client_id)), told.position, told.characteristic, told.text, told.unit,
        how=_how(told), taken_at=_moment(told), note=_note(told), sure=True, context={"set": 0},
    )  # fmt: skip
    reading, _new = record(check, person, with_what_held(check, entry), positions_of(check))
    ToldAnswer.objects.create(told=told, reading=reading, by=person)
    return reading


@transaction.atomic
def leave(told: ToldReading, person: Person, reason: str) -> ToldAnswer:
    """Turn a told figure down, with a reason; done twice, it is done once. Raises `EntryRefused`."""
    Build.objects.select_for_update(of=("self",)).get(pk=told.build_id)
    earlier: ToldAnswer | None = ToldAnswer.objects.filter(told=told).first()
    if earlier is not None:
        if earlier.reading_id is not None:
            raise EntryRefused(
                "", "This figure was taken over already. Strike the reading out in its check instead."
            )
        return earlier
    if not reason.strip():
        raise EntryRefused(
            "reason", "Say why it is turned down: read warm instead of cold, another valve, misheard …"
        )
    if len(reason.strip()) > LONGEST_NOTE:
        raise EntryRefused("reason", f"The reason is longer than {LONGEST_NOTE} characters. Say it shorter.")
    answer: ToldAnswer = ToldAnswer.objects.create(told=told, reason=reason.strip(), by=person)
    return answer


def _how(told: ToldReading) -> str:
    whole = f"{FROM_THE_TRACK} by {told.teller}"
    return whole if len(whole) <= LONGEST_HOW else FROM_THE_TRACK


def _note(told: ToldReading) -> str:
    """The note as it was told; with the teller's name where that is too long to stand with how it was taken."""
    parts = [f"told by {told.teller}" if _how(told) == FROM_THE_TRACK else "", told.note]
    return "; ".join(part for part in parts if part)[:LONGEST_NOTE]


def _moment(told: ToldReading) -> datetime:
    """Noon of the day on which it was read, or now where that is still to come."""
    noon = timezone.make_aware(datetime.combine(told.read_on, time(12)))
    return min(noon, timezone.now())
