"""An engine of the scenes that went out and came back: what was read before it left, and what was read as found."""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from django.utils import timezone

from builds.looks import open_return
from builds.models import Build, Person
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene
from valvetrain.logbook import fit_pack
from valvetrain.models import Head, SpringSheet, Stand, StandMove

DAYS_OUT = 60


@dataclass
class CameBack:
    """The scene's engine as it left, and the same engine as found, on the job that its return opened."""

    left: Scene
    found: Scene

    @property
    def job(self) -> Build:
        """The return's job, read afresh."""
        return Build.objects.select_related("follows", "engine__customer").get(pk=self.found.build.pk)


def log(scene: Scene, address: str, unit: str = "in", **typed: str) -> None:
    """Write readings in the log, by their keys."""
    for key, text in typed.items():
        kind = "lbf" if key.endswith("_load") else unit
        record(scene.build, scene.person, Entry(uuid4(), address, key, text, kind))


def send_out(scene: Scene, days_ago: int = DAYS_OUT) -> None:
    """The scene's engine goes out."""
    scene.build.opened_on = timezone.localdate() - timedelta(days=days_ago + 20)
    scene.build.went_out_on = timezone.localdate() - timedelta(days=days_ago)
    scene.build.save()


def comes_back(scene: Scene, complaint: str = "noise on the left") -> CameBack:
    """The scene's engine comes back today."""
    send_out(scene)
    came = open_return(scene.build, scene.person, came_back_on=timezone.localdate(), complaint=complaint)
    heads = {head.code: head for head in Head.objects.filter(build=came.build)}
    return CameBack(scene, Scene(came.build, heads["L"], heads["R"], scene.gauge, scene.person))


def sheet_on(scene: Scene) -> SpringSheet:
    """The springs' own sheet: 1.950 installed at 240 lbf, 630 open at 1.250, solid at 1.150: 557.1 lbf/in."""
    return SpringSheet.objects.create(
        build=scene.build, installed_height="1.950", seat_load="240", open_height="1.250", open_load="630",
        solid_height="1.150",
    )  # fmt: skip


def built(person: Person, **how: str) -> Scene:
    """The scene with a spring sheet and a pack under every stand of the left head, each valve read at its height."""
    scene = make_scene(person, **how)
    sheet_on(scene)
    for stand in scene.state().stands:
        scene.fit(stand.address, "0.020")
        for valve in stand.valves:
            scene.read_gap(valve.address, "0.000")
    return scene


def stand_of(scene: Scene, address: str) -> Stand:
    """A stand of the scene's own job."""
    stands = Stand.objects.filter(head__build=scene.build).select_related("head__build")
    return next(each for each in stands if each.address == address)


def fit(scene: Scene, stand: str, *thicknesses: str) -> None:
    """Fit a pack on the scene's own job."""
    counts = sorted({Decimal(text): thicknesses.count(text) for text in thicknesses}.items())
    fit_pack(stand_of(scene, stand), scene.person, client_id=uuid4(), pieces=counts)


def slide(scene: Scene, stand: str, *, minutes: float = 1) -> StandMove:
    """Say that a stand of the scene's own job was slid, minutes from now."""
    return StandMove.objects.create(
        stand=stand_of(scene, stand), slide_text="0.012", slide_unit="in", slide="-0.012", moved_by=scene.person,
        moved_at=timezone.now() + timedelta(minutes=minutes),
    )  # fmt: skip
