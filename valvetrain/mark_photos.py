"""Measuring a mark on its photo: what the screen shows, what a tapped picture comes to, and saving it."""

import json
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

from django.urls import reverse

from builds.found import set_number
from builds.measures import for_field
from builds.models import Person, Photo, PhotoKind, Reading
from builds.photos.renditions import LONG_SIDE
from builds.recording import Entry, EntryRefused
from valvetrain.gathering import HeadRecords
from valvetrain.mark_figures import Told, tell
from valvetrain.mark_log import record_marks
from valvetrain.mark_result import WorkedOut, drawn, to_keep, work_out
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.mark_taps import ENOUGH, GROUPS, STALE, read_taps
from valvetrain.models import Head, Valve
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState

HOW = "photo"
# What is written of a mark, and which of its figures that is.
READINGS = {
    "mark_inner": "inner",
    "mark_outer": "outer",
    "mark_front_width": "front_width",
    "mark_rear_width": "rear_width",
}
ARROWS = {"left": "←", "up": "↑", "down": "↓", "right": "→"}
# The size of the photo that is tapped: a larger one is tapped on a smaller copy of it.
TAPPED = "full"
WRITTEN_PLACES = 4
LONGEST_IDS = 1000


@dataclass(frozen=True)
class MarkPhoto:
    """One photo of a witness mark at one valve, with the records that judge it."""

    records: HeadRecords
    valve: Valve
    photo: Photo
    unit: str

    @property
    def head(self) -> Head:
        """The valve's head."""
        return self.records.head

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the upright picture [px]."""
        return self.photo.width, self.photo.height

    @property
    def pixel(self) -> float:
        """Size of a pixel of what is tapped [px of the upright picture]."""
        return max(1.0, max(self.size) / LONG_SIDE[TAPPED])

    @property
    def not_here(self) -> str:
        """Why the mark of this valve is not measured on this photo, as a sentence; nothing where it is."""
        filing = self.photo.filing
        if filing.set_aside:
            return f"This photo is set aside: {filing.reason}. File it again at {self.address}, then measure."
        if filing.position != self.address:
            where = f"filed at {filing.position}" if filing.position else "not filed at a valve"
            return f"This photo is {where}. File it at {self.address} first, then measure the mark on it."
        if filing.kind != PhotoKind.WITNESS_MARK:
            return f"This photo is filed as {filing.get_kind_display()}. File it as a witness mark first, then measure."
        return ""

    @property
    def closed(self) -> str:
        """Why nothing can be saved; nothing where it can."""
        return "" if self.head.job.takes_readings else self.head.job.closed_sentence

    # ---- the screen -------------------------------------------------------------------------------------------------

    @cached_property
    def standing(self) -> list[Reading]:
        """The inner edges of this valve's marks that stand in the log, oldest first."""
        found = Reading.objects.standing().filter(
            build=self.head.job, position=self.address, characteristic=MARK_KEYS[0]
        )
        return list(found)

    @property
    def before(self) -> Reading | None:
        """What was measured on this photo before."""
        mine = [each for each in self.standing if each.photo_id == self.photo.pk and each.context.get("mark")]
        return mine[-1] if mine else None

    @property
    def kept_json(self) -> str:
        """The taps that this photo was measured by before, for the page."""
        return json.dumps(self.before.context["mark"]["taps"]) if self.before else ""

    @property
    def correcting(self) -> str:
        """That saving again is a correction."""
        if self.before is None:
            return ""
        return "This photo was measured before. Saved again, it corrects that; both stay in the book."

    @property
    def other_mark(self) -> str:
        """What else stands of this valve's mark, where this photo is another one."""
        others = [each for each in self.standing if each.photo_id != self.photo.pk]
        if not others or self.before is not None:
            return ""
        return (
            f"{self.address} has a mark in the book already. Saved as it is, this counts as another reading of the same "
            "mark, and the mean is taken. A pack fitted or a stand slid in between begins a new one by itself."
        )

    @property
    def diameter(self) -> str:
        """The rim's diameter as the hardware has it, for the field."""
        return for_field(self.valve.tip_diameter, self.unit)

    @property
    def diameter_source(self) -> str:
        """Where that comes from, and what else may be typed."""
        return (
            f"Tip diameter of {self.address}, from its hardware. What counts is the rim that is tapped: where the tip is "
            "chamfered, type the diameter of its flat face; with a lash cap on, the cap’s."
        )

    @property
    def groups(self) -> list[dict[str, Any]]:
        """What is tapped."""
        return [
            {"key": key, "name": name.capitalize(), "enough": ENOUGH[key]} for key, name in GROUPS.items()
        ]

    @property
    def ways(self) -> list[dict[str, str]]:
        """The four ways in a picture."""
        return [{"key": key, "arrow": arrow} for key, arrow in ARROWS.items()]

    @property
    def reading_names(self) -> str:
        """The readings that need a number of their own."""
        return " ".join(READINGS)

    @property
    def draft_key(self) -> str:
        """What the taps are called in the browser until they are saved."""
        return f"standbook:taps:{self.photo.client_id}:{self.address}"

    @property
    def way_key(self) -> str:
        """What the way that the camera was held is called in the browser."""
        return f"standbook:mark-way:head{self.head.pk}"

    @property
    def picture(self) -> str:
        """The picture to tap on."""
        return reverse("photo-file", args=[self.photo.client_id, TAPPED])

    @property
    def back(self) -> str:
        """The valve's mark."""
        return reverse("valve-mark", args=[self.head.pk, self.address])

    @property
    def work_url(self) -> str:
        """Where taps are worked out."""
        return self._url("measure-mark-work")

    @property
    def guess_url(self) -> str:
        """Where a first guess is asked for."""
        return self._url("measure-mark-guess")

    @property
    def save_url(self) -> str:
        """Where the mark is saved."""
        return self._url("measure-mark-save")

    def _url(self, name: str) -> str:
        return reverse(name, args=[self.head.pk, self.address, self.photo.client_id])

    # ---- what taps come to ------------------------------------------------------------------------------------------

    def state(self) -> ValveState:
        """The valve as its records stand."""
        return next(valve for valve in head_state(self.records).valves if valve.address == self.address)

    def work_out(self, text: str) -> WorkedOut:
        """Read taps as the page sends them, and measure. Raises `EntryRefused`."""
        if self.not_here:
            raise EntryRefused("photo", self.not_here)
        return work_out(read_taps(text, size=self.size), pixel=self.pixel)

    def tell(self, worked: WorkedOut) -> Told | None:
        """The mark in words; nothing before it is measured."""
        if worked.mark is None:
            return None
        return tell(worked, self.state(), self.records.limits, self.unit, pixel=self.pixel)

    def drawn(self, worked: WorkedOut) -> dict[str, list[Any]]:
        """The lines over the picture."""
        return drawn(worked)


def measuring_acts(photo: Photo) -> list[tuple[str, str]]:
    """For a photo's page: that the mark on it can be measured, where it is filed as one at a valve."""
    filing = photo.filing
    if filing.set_aside or filing.kind != PhotoKind.WITNESS_MARK or not filing.position:
        return []
    valves = Valve.objects.filter(head__build=photo.build_id)
    return [
        ("Measure the mark", reverse("measure-mark", args=[valve.head_id, valve.address, photo.client_id]))
        for valve in valves
        if valve.address == filing.position
    ]


@dataclass(frozen=True)
class MarkSent:
    """A tapped picture as it is to be saved: the taps as sent, and what goes with them."""

    taps: str
    ids: dict[str, UUID]
    taken_at: datetime | None = None
    device: str = ""
    after_work: bool = False
    sure: bool = False


def read_ids(text: str) -> dict[str, UUID]:
    """The readings' numbers, made on the device: one for each."""
    try:
        sent = json.loads(text) if len(text) <= LONGEST_IDS else None
        found = {name: UUID(sent[name]) for name in READINGS} if isinstance(sent, dict) else {}
    except (ValueError, KeyError, AttributeError, TypeError, RecursionError):
        found = {}
    if len(set(found.values())) != len(READINGS):
        raise EntryRefused("client_id", STALE)
    return found


def save_mark(on: MarkPhoto, person: Person, sent: MarkSent) -> list[Reading]:
    """Write the readings of a mark measured on a photo, all or none; safe to send again.

    The same photo measured again corrects what it gave before. Raises `EntryRefused` with a sentence.
    """
    worked = on.work_out(sent.taps)
    if worked.mark is None:
        raise EntryRefused("taps", worked.problem or worked.missing)
    context = {"mark": to_keep(worked, on.size), "set": _set(on, sent)}
    entries = [
        Entry(
            client_id=sent.ids[key], position=on.address, characteristic=key,
            text=f"{getattr(worked.mark, figure):.{WRITTEN_PLACES}f}", unit="in", how=HOW, photo=on.photo,
            taken_at=sent.taken_at, device=sent.device, sure=sent.sure,
            context=context | {"standard": _standard(getattr(worked.mark, f"{figure}_standard"))},
        )
        for key, figure in READINGS.items()
    ]  # fmt: skip
    return [reading for reading, _new in record_marks(on.records, person, entries)]


def _set(on: MarkPhoto, sent: MarkSent) -> int:
    """The set that the mark belongs to; one made after work begins a new one."""
    if not sent.after_work:
        return max(map(set_number, on.standing), default=0)
    others = [each for each in on.standing if each.client_id != sent.ids["mark_inner"]]
    return max(map(set_number, others), default=-1) + 1


def _standard(standard: float) -> str:
    """A standard uncertainty [in] as it is kept."""
    return f"{Decimal(repr(standard)).quantize(Decimal('1e-7')):f}"
