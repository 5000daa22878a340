"""What the pages of the witness marks show: every tip of a head, and one valve's mark with what follows from it."""

import re
from dataclasses import dataclass, field, replace
from functools import cached_property

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from builds.logcells import Row
from builds.models import Build, Photo, PhotoKind
from builds.steps import get_step
from builds.worklog import WorkLog
from valvetrain.centring import Centring, centring_of
from valvetrain.centringwords import CentringTold, centring_words
from valvetrain.changes import slide_words
from valvetrain.charts.measured_tip import MeasuredTip, measured_tip, small_tip
from valvetrain.gathering import HeadRecords
from valvetrain.mark_heights import too_narrow
from valvetrain.mark_steps import STEP_KEY
from valvetrain.marks import MarkState, marks_of_head
from valvetrain.markwords import (
    as_read,
    centre_words,
    height_lines,
    place_words,
    room_words,
    shape_words,
    width_words,
)
from valvetrain.measured_photos import MeasuredPhoto, measured_photos, strays
from valvetrain.models import Head, StandMove
from valvetrain.packwords import amount
from valvetrain.states import HeadState
from valvetrain.targets import head_state

NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:in|mm)\b)|(?<=±) ")


def together(words: str) -> str:
    """A sentence whose numbers stay on one line with their units and their plus-minus."""
    return NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", words)


def tip_of(mark: MarkState, unit: str) -> MeasuredTip:
    """A valve's tip with its mark, as the drawings take it."""
    return MeasuredTip(
        tip_diameter=float(mark.valve.valve.tip_diameter),
        inner=mark.inner,
        outer=mark.outer,
        expected=mark.expected,
        taper=mark.taper,
        closed=mark.closed,
        open=mark.open,
        unit=unit,
        address=mark.address,
    )


def on_screen(centring: Centring, unit: str) -> CentringTold:
    """What centring a stand asks, its numbers kept with their units."""
    told = centring_words(centring, unit)
    return replace(told, headline=together(told.headline), lines=[together(line) for line in told.lines])


@dataclass(frozen=True)
class MarkCard:
    """One valve's mark on the page of all: its tip, and how it stands."""

    mark: MarkState
    unit: str
    url: str

    @property
    def drawing(self) -> SafeString:
        """The tip, small, as an SVG of our own making."""
        return mark_safe(small_tip(tip_of(self.mark, self.unit), lettered=True).svg)

    @property
    def width(self) -> str:
        """The width against what is expected."""
        mark = self.mark
        asked = "" if mark.expected is None else f"{as_read(mark.expected, self.unit)} expected"
        if mark.width is None:
            return asked
        if not mark.possible:
            return "its edges cannot be: read both again"
        return together(", ".join(filter(None, [f"{as_read(mark.width, self.unit)} wide", asked])))

    @property
    def lines(self) -> list[str]:
        """Where it lies and how even it is, or what is wrong with it."""
        mark = self.mark
        if mark.centre is None or not mark.possible:
            return list(mark.again)
        told = [f"middle {place_words(mark.centre, self.unit)}"]
        if mark.shape and mark.shape != "even":
            told.append(mark.shape)
        if too_narrow(mark) is not None:
            told.append("narrower than the lift can make")
        return [together(", ".join(told)), *mark.again]


@dataclass(frozen=True)
class StandCards:
    """The marks on one stand, and what centring asks there."""

    centring: Centring
    cards: list[MarkCard]
    unit: str

    @cached_property
    def told(self) -> CentringTold:
        """What centring asks of this stand."""
        return on_screen(self.centring, self.unit)


@dataclass(frozen=True)
class HeadMarks:
    """Every mark of a head."""

    records: HeadRecords
    unit: str

    @property
    def head(self) -> Head:
        """The head."""
        return self.records.head

    @property
    def job(self) -> Build:
        """Its job."""
        return self.records.head.job

    @cached_property
    def state(self) -> HeadState:
        """How the head stands."""
        return head_state(self.records)

    @cached_property
    def marks(self) -> list[MarkState]:
        """Every valve's mark, in order along the head."""
        return marks_of_head(self.records, self.state)

    @cached_property
    def stands(self) -> list[StandCards]:
        """The marks stand by stand."""
        found = []
        for stand in self.state.stands:
            centring = centring_of(stand, self.marks)
            cards = [MarkCard(mark, self.unit, self.url(mark.address)) for mark in centring.marks]
            if cards:
                found.append(StandCards(centring, cards, self.unit))
        return found

    @property
    def tally(self) -> str:
        """How many marks are read, and how many have something against them."""
        read = sum(mark.read for mark in self.marks)
        out = sum(mark.drawn_as == "out" for mark in self.marks)
        look = sum(mark.drawn_as == "look" for mark in self.marks)
        told = f"{read} of {len(self.marks)} read" + (f", {out} out of limit" if out else "")
        return told + (f", {look} to look at again" if look else "")

    def url(self, address: str) -> str:
        """The page of one valve's mark."""
        return reverse("valve-mark", args=[self.head.pk, address])

    @property
    def log_url(self) -> str:
        """The marks' step of the log."""
        return reverse("log-step", args=[self.job.pk, STEP_KEY])


@dataclass(frozen=True)
class ValveMark:
    """One valve's mark: the tip large, what was read, and what follows."""

    whole: HeadMarks
    mark: MarkState
    photos: list[Photo] = field(default_factory=list)

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.mark.address

    @property
    def unit(self) -> str:
        """The reader's unit of length."""
        return self.whole.unit

    @property
    def head(self) -> Head:
        """The valve's head."""
        return self.whole.head

    @property
    def job(self) -> Build:
        """Its job."""
        return self.whole.job

    @property
    def drawing(self) -> SafeString:
        """The tip, large, as an SVG of our own making."""
        return mark_safe(measured_tip(tip_of(self.mark, self.unit), lettered=True).svg)

    @property
    def words(self) -> str:
        """The drawing in a sentence."""
        return tip_of(self.mark, self.unit).words

    @property
    def of_height(self) -> list[str]:
        """What the mark says of the height."""
        return [
            line for line in (width_words(self.mark, self.unit), *height_lines(self.mark, self.unit)) if line
        ]

    @property
    def of_place(self) -> list[str]:
        """Where it lies, how near the rim, and its shape."""
        tell = (centre_words, room_words, shape_words)
        return [together(line) for words in tell if (line := words(self.mark, self.unit))]

    @cached_property
    def centring(self) -> Centring:
        """Its stand with the marks on it."""
        return centring_of(self.mark.stand, self.whole.marks)

    @cached_property
    def told(self) -> CentringTold:
        """What centring asks of its stand."""
        return on_screen(self.centring, self.unit)

    @property
    def way(self) -> str:
        """The way that the offered slide goes, for its form; empty where none is offered."""
        if not self.told.offered:
            return ""
        return "toward" if self.centring.move > 0 else "away"

    @property
    def moves(self) -> list[StandMove]:
        """The slides of its stand, newest first."""
        return list(reversed(self.whole.records.moves.get(self.mark.stand.stand.pk, [])))

    @property
    def move_lines(self) -> list[tuple[StandMove, str]]:
        """Each slide in words."""
        return [(move, self._slide_line(move)) for move in self.moves]

    def _slide_line(self, move: StandMove) -> str:
        relieved = f", holes relieved by {amount(move.relieved, self.unit)}" if move.relieved else ""
        return f"slid {slide_words(move, self.unit)}{relieved}"

    @cached_property
    def log(self) -> WorkLog:
        """The job's log, for the fields."""
        return WorkLog(self.job, self.unit)

    @cached_property
    def row(self) -> Row | None:
        """The valve's fields in the marks' step."""
        step = get_step(STEP_KEY)
        assert step is not None
        return self.log.state(step).row(self.address)

    @property
    def measured(self) -> set[int]:
        """Keys of the photos that a standing reading of this mark was measured on."""
        read = (reading for each in self.mark.reads.values() for reading in each.readings)
        return {reading.photo_id for reading in read if reading.photo_id is not None}

    @property
    def measured_before(self) -> frozenset[int]:
        """Keys of the photos that a mark was measured on which no longer counts."""
        return self.mark.measured_on - self.measured

    @cached_property
    def pictured(self) -> list[MeasuredPhoto]:
        """The photos that the mark was measured on, with the lines over them."""
        read = self.mark.reads.get("mark_inner")
        return measured_photos(self.photos, read.readings if read else (), self.unit)

    @property
    def strays(self) -> list[tuple[Photo, str]]:
        """Photos that it was measured on and that are another valve's now, each with where that is taken back."""
        readings = [reading for each in self.mark.reads.values() for reading in each.readings]
        place = self.head.pk, self.address
        return [
            (photo, reverse("measure-mark", args=[*place, photo.client_id]))
            for photo in strays(readings, self.address)
        ]

    @property
    def neighbours(self) -> tuple[str, str]:
        """The valves before and after it along the head; empty at an end."""
        row = [mark.address for mark in self.whole.marks]
        place = row.index(self.address)
        return (row[place - 1] if place else ""), (row[place + 1] if place + 1 < len(row) else "")


def head_marks(records: HeadRecords, unit: str) -> HeadMarks:
    """Every mark of a head, for its page."""
    return HeadMarks(records, unit)


def valve_mark(records: HeadRecords, address: str, unit: str) -> ValveMark | None:
    """One valve's mark, for its page; None where there is no such valve on the head."""
    whole = HeadMarks(records, unit)
    mark = next((each for each in whole.marks if each.address == address), None)
    if mark is None:
        return None
    photos = Photo.objects.of(whole.job, position=address, kind=PhotoKind.WITNESS_MARK)
    return ValveMark(whole, mark, list(reversed(list(photos))))
