"""Writing down that a stand was slid: one transaction, safe to repeat, with a question where the height is not right."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from builds.measures import Measure, MeasureError, parse, show
from builds.models import Build, Person
from builds.recording import CLOCK_SLACK, EntryQuestioned, EntryRefused
from valvetrain.centringwords import how_it_stands
from valvetrain.models import StandMove
from valvetrain.standstate import StandState
from valvetrain.status import Status

# A stand that slid further than this [in] was typed wrong.
FURTHEST = Decimal("0.25")
FAR = Decimal("0.060")
LONGEST_NOTE = 200


@dataclass(frozen=True)
class SlideEntry:
    """What a person says of a slide before it is checked: lengths as typed, in `unit`."""

    client_id: UUID
    slide: str
    toward_valve: bool
    relieved: str = ""
    unit: str = "in"
    note: str = ""
    moved_at: datetime | None = None
    sure: bool = False


def record_slide(stand: StandState, person: Person, entry: SlideEntry) -> tuple[StandMove, bool]:
    """Write that a stand was slid along its pads. Returns the slide and whether it is new.

    Raises `EntryRefused` (or `EntryQuestioned`, which `sure` answers) with a sentence.
    """
    slide, relieved = _check(stand, entry)
    signed = slide.base if entry.toward_valve else -slide.base
    move = StandMove(
        client_id=entry.client_id,
        stand=stand.stand,
        slide_text=slide.text,
        slide_unit=slide.unit,
        slide=signed,
        relieved_text=relieved.text if relieved else "",
        relieved=relieved.base if relieved else Decimal(0),
        moved_by=person,
        moved_at=entry.moved_at or timezone.now(),
        note=entry.note.strip(),
    )
    known = StandMove.objects.filter(client_id=entry.client_id).first()
    if known is not None:
        return _same_again(known, move), False
    if not entry.sure:
        _question(stand, slide)
    try:
        with transaction.atomic():
            _check_open(stand)
            move.save()
    except IntegrityError:
        known = StandMove.objects.filter(client_id=entry.client_id).first()
        if known is None:
            raise
        return _same_again(known, move), False
    return move, True


def _check(stand: StandState, entry: SlideEntry) -> tuple[Measure, Measure | None]:
    slide = _measure(stand, entry, "slide", entry.slide)
    if slide is None:
        raise EntryRefused("slide", f"{stand.address}: type how far the stand was slid, such as 0.012.")
    if not slide.base:
        raise EntryRefused(
            "slide",
            f"{stand.address}: a slide of nothing is none. Type how far it was slid, or leave the page.",
        )
    if slide.base > FURTHEST:
        most = show(FURTHEST, slide.unit, with_unit=True)
        raise EntryRefused(
            "slide",
            f"{stand.address}: no stand slides {slide.text} {slide.unit} in its holes. Type up to {most}.",
        )
    if len(entry.note.strip()) > LONGEST_NOTE:
        raise EntryRefused("note", f"The note is longer than {LONGEST_NOTE} characters. Say it shorter.")
    if entry.moved_at is not None and entry.moved_at > timezone.now() + CLOCK_SLACK:
        raise EntryRefused(
            "moved_at", "This slide says it is still to come. Set the tablet's clock right and save again."
        )
    relieved = _measure(stand, entry, "relieved", entry.relieved)
    if relieved is not None and relieved.base > FURTHEST:
        most = show(FURTHEST, relieved.unit, with_unit=True)
        raise EntryRefused(
            "relieved",
            f"{stand.address}: {relieved.text} {relieved.unit} off a bolt hole is more than any stand bears. Type up to "
            f"{most}.",
        )
    return slide, relieved


def _measure(stand: StandState, entry: SlideEntry, name: str, typed: str) -> Measure | None:
    if not typed.strip():
        return None
    try:
        return parse(typed, unit=entry.unit or None)
    except MeasureError as error:
        raise EntryRefused(name, f"{stand.address}, {name}: {error.sentence}", error.offers) from None


def _question(stand: StandState, slide: Measure) -> None:
    """Ask about a slide that a person can hardly mean."""
    if stand.status != Status.DONE:
        raise EntryQuestioned(
            "slide",
            f"Height comes before centring, and may put the mark elsewhere: {how_it_stands(stand)}. Was the "
            "stand slid all the same?",
        )
    if slide.base > FAR:
        raise EntryQuestioned(
            "slide",
            f"{stand.address}: a slide of {slide.text} {slide.unit} is far for a stand. Is it meant?",
        )


def _check_open(stand: StandState) -> None:
    """Hold the job, and look whether its log is open."""
    build = stand.stand.head.job
    build.went_out_on = (
        Build.objects.select_for_update().values_list("went_out_on", flat=True).get(pk=build.pk)
    )
    if not build.takes_readings:
        raise EntryRefused("stand", build.closed_sentence)


def _same_again(known: StandMove, asked: StandMove) -> StandMove:
    told = (known.stand_id, known.slide, known.slide_unit, known.relieved, known.note)
    if told != (asked.stand_id, asked.slide, asked.slide_unit, asked.relieved, asked.note):
        raise EntryRefused(
            "slide",
            "This slide's number is already used for another one. Load the page again and type it there.",
        )
    return known
