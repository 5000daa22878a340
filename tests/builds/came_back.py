"""An engine that came back: built, read, gone out, and read again as found. Invented."""

from datetime import timedelta
from typing import Any

from django.utils import timezone

from builds.looks import open_return
from builds.models import Build, Person, Return
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene


def went_out(scene: Scene, days_ago: int = 30) -> Build:
    """The scene's job, gone out so many days ago."""
    build = scene.build
    build.opened_on = timezone.localdate() - timedelta(days=days_ago + 20)
    build.went_out_on = timezone.localdate() - timedelta(days=days_ago)
    build.save()
    return build


def came_back(job: Build, person: Person, complaint: str = "noise on the left") -> Return:
    """Its return, today."""
    return open_return(job, person, came_back_on=timezone.localdate(), complaint=complaint)


def read(scene: Scene, build: Build, position: str, key: str, text: str, **more: Any) -> None:
    """A reading on a job, with no instrument named."""
    entry: Entry = scene.entry(position, text, key, sure=True, **more)
    build = Build.objects.select_related("engine").get(pk=build.pk)
    record(build, scene.person, Entry(**{**entry.__dict__, "instrument": None}))


def loose_five(person: Person) -> tuple[Scene, Return]:
    """Lash of 5E and 5I read when it left and as found: 5E went from 0.004 to 0.027 in."""
    scene = make_scene(person)
    for position, text in (("5E", "0.004"), ("5I", "0.004"), ("3E", "0.004")):
        read(scene, scene.build, position, "lash_cold", text)
    came = came_back(went_out(scene), person)
    for position, text in (("5E", "0.027"), ("5I", "0.005"), ("1E", "0.004")):
        read(scene, came.build, position, "lash_cold", text)
    return scene, came
