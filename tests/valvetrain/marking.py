"""Witness marks on the engine of the scenes, written as the shop writes them."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.utils import timezone

from builds.models import Instrument, InstrumentKind, Photo, Reading
from builds.recording import Entry
from tests.scenes import Scene
from valvetrain.gathering import gather
from valvetrain.mark_log import record_marks
from valvetrain.marks import MarkState, marks_of_head
from valvetrain.models import Head, Stand, StandMove

KEYS = {
    "inner": "mark_inner", "outer": "mark_outer", "closed": "mark_closed", "open_": "mark_open",
    "front": "mark_front_width", "rear": "mark_rear_width",
}  # fmt: skip


def caliper() -> Instrument:
    """A caliper whose ± .002 at k 2 is stated: u = .001 for each edge read with it."""
    found, _made = Instrument.objects.get_or_create(
        mark="CA-1", kind=InstrumentKind.CALIPER, defaults={"uncertainty": "0.002"}
    )
    return found


def gathered(scene: Scene, address: str = "1E") -> Any:
    """The records of a valve's head, read afresh."""
    fresh = Head.objects.select_related("build__engine__customer").get(pk=scene.head_of(address).pk)
    return gather([fresh], with_tools=True)[0]


def mark(scene: Scene, address: str, at: datetime | None = None, **typed: str) -> list[Reading]:
    """Read a mark with the caliper: inner and outer edge, and whatever else is named."""
    entries = [
        Entry(uuid4(), address, KEYS[name], text, "in", instrument=caliper(), taken_at=at)
        for name, text in typed.items()
    ]
    return [reading for reading, _new in record_marks(gathered(scene, address), scene.person, entries)]


def state_of(scene: Scene, address: str = "1E") -> MarkState:
    """A valve's mark as it stands now."""
    return next(each for each in marks_of_head(gathered(scene, address)) if each.address == address)


def right_height(scene: Scene, stand: str = "L.stand1") -> None:
    """Fit a pack and read every valve of a stand at its height."""
    scene.fit(stand, "0.020")
    for valve in scene.stand(stand).valves:
        scene.read_gap(valve.address, "0.000")


def slid(scene: Scene, stand: str = "L.stand1", slide: str = "-0.012") -> StandMove:
    """Say that a stand was slid a minute from now, after all that was read before."""
    found = next(each for each in Stand.objects.select_related("head__build") if each.address == stand)
    return StandMove.objects.create(
        stand=found, slide_text=slide.lstrip("-"), slide_unit="in", slide=slide, moved_by=scene.person,
        moved_at=timezone.now() + timedelta(minutes=1),
    )  # fmt: skip


def measured(scene: Scene, photo: Photo, covariance: list[list[float]], **typed: str) -> list[Reading]:
    """Readings from a photo, with the uncertainty that they bring along."""
    entries = [
        Entry(
            uuid4(), "1E", KEYS[name], text, "in", how="photo", photo=photo,
            context={"set": 0, "standard": "0.002", "mark": {"covariance": covariance}},
        )
        for name, text in typed.items()
    ]  # fmt: skip
    return [reading for reading, _new in record_marks(gathered(scene), scene.person, entries)]
