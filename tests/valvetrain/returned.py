"""An engine that came back, with more or less of everything on it. Invented."""

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.utils import timezone

from builds.looks import open_return
from builds.models import (
    Build,
    Evidence,
    Finding,
    FindingPhoto,
    PartFitted,
    PartTakenOut,
    Photo,
    PromptLook,
    Reading,
    Recall,
    RecallLine,
    Return,
    RunEntry,
)
from builds.positions import positions_of
from builds.recording import Entry, record
from tests.scenes import Scene
from tests.valvetrain.test_photo_log import take
from valvetrain.models import Head

LEFT = ("1E", "1I", "3E", "3I", "5E", "5I", "7E", "7I")


def keyed(scene: Scene, build: Build, address: str, key: str, text: str, unit: str = "in") -> Reading:
    """A reading in the log of a job."""
    entry = Entry(uuid4(), address, key, text, unit, instrument=scene.gauge.instrument, sure=True)
    return record(build, scene.person, entry, positions_of(build))[0]


def went_out(scene: Scene, days_ago: int = 60) -> Build:
    """The scene's job, gone out."""
    job = scene.build
    job.opened_on = timezone.localdate() - timedelta(days=days_ago + 20)
    job.went_out_on = timezone.localdate() - timedelta(days=days_ago)
    job.save()
    return job


def ran(scene: Scene, job: Build, amount: str, days_ago: int, **more: Any) -> RunEntry:
    """An entry of its running record."""
    return RunEntry.objects.create(
        build=job, ran_on=timezone.localdate() - timedelta(days=days_ago), unit="passes", text=amount,
        amount=Decimal(amount), entered_by=scene.person, **more,
    )  # fmt: skip


def came_back(scene: Scene, **more: Any) -> Return:
    """The engine, back today."""
    told = {
        "complaint": "Noise on the left bank, then it stopped",
        "how_it_ran": "Well for forty passes.\nThen rough.",
    }
    return open_return(scene.build, scene.person, came_back_on=timezone.localdate(), **{**told, **more})


def found(scene: Scene, came: Return) -> Scene:
    """The same bench over the job that reads it as found."""
    heads = {head.code: head for head in Head.objects.filter(build=came.build)}
    return Scene(came.build, heads["L"], heads["R"], scene.gauge, scene.person)


def a_finding(scene: Scene, came: Return, **more: Any) -> Finding:
    """A finding that says all it has to."""
    told = {
        "what": "exhaust rocker arm broken", "position": "5E", "condition": "broken", "detail": "Broken at the cup.",
        "cause": "stand bolts were loose", "confidence": "likely", "action": "renew the arm, look at all stands",
    }  # fmt: skip
    return Finding.objects.create(build=came.build, found_by=scene.person, **{**told, **more})


def with_all(scene: Scene) -> tuple[Return, Scene]:
    """An engine with something of everything on its report; gone out, run, back, read, and two findings."""
    for address in LEFT:
        scene.read_gap(address, "0.001")
    keyed(scene, scene.build, "5E", "lash_cold", "0.004")
    keyed(scene, scene.build, "5E", "installed_height", "1.900")
    keyed(scene, scene.build, "5E", "seat_load", "240", "lbf")
    keyed(scene, scene.build, "1E", "lash_cold", "0.004")
    take(scene, "5E", seed=3, note="as it left")
    arm = PartFitted.objects.create(
        build=scene.build, role="rocker arm", position="5E", maker="Fjord", maker_number="RA-16", lot="L-0417",
        serial="S5",
    )  # fmt: skip
    PartFitted.objects.create(build=scene.build, role="valve spring", position="all", quantity=16, lot="VS-9")
    job = went_out(scene)
    ran(scene, job, "12", 40, note="first meeting", told_by="Ada, the driver")
    ran(scene, job, "9", 20)
    came = came_back(scene)
    bench = found(scene, came)
    bench.read_gap("5E", "0.031", sure=True)
    bench.read_gap("1E", "0.001")
    lash = keyed(scene, came.build, "5E", "lash_cold", "0.034")
    keyed(scene, came.build, "5E", "installed_height", "1.906")
    keyed(scene, came.build, "5E", "seat_load", "214", "lbf")
    finding = a_finding(scene, came)
    photo = take(bench, "5E", seed=4, note="the arm in two")
    damage = take(bench, "5E", kind="damage", seed=5, note="broken face")
    FindingPhoto.objects.create(finding=finding, photo=photo)
    evidence: list[tuple[str, str, dict[str, Reading | Photo | PartFitted]]] = [
        ("for", "lash opened up by thirty thousandths", {"reading": lash}),
        ("for", "bright rub at the foot of the stand", {"photo": damage}),
        ("against", "the torque was still there on stand 2", {}),
        ("for", "the arm is of the lot that others had trouble with", {"part": arm}),
    ]
    for side, text, on in evidence:
        Evidence.objects.create(finding=finding, side=side, text=text, noted_by=scene.person, **on)
    PromptLook.objects.create(
        finding=finding,
        text="Stand bolts by torque",
        answer="seen",
        note="two of four",
        looked_by=scene.person,
    )
    a_finding(
        scene, came, what="intake tip worn", position="3I", condition="worn", cause="", confidence="", detail="",
        action="grind the tip",
    )  # fmt: skip
    PartTakenOut.objects.create(
        part=arm, position="5E", why="failed", in_job=came.build, note="in two pieces", noted_by=scene.person
    )
    recall = Recall.objects.create(
        by="lot", value="L-0417", reason="soft at the cup", advice="Do not start it.", opened_by=scene.person
    )
    RecallLine.objects.create(recall=recall, part=arm)
    return came, bench
