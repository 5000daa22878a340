"""When a job with heads is sealed: when every head is, or the whole engine in one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.looks import open_return
from builds.models import Build, Person, SealedSheet, Signing, with_states
from tests.scenes import Scene, make_scene
from valvetrain.sheets.all_sealed import sealed_builds


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def seal(scene: Scene, kind: str, subject: str) -> SealedSheet:
    """A sealed sheet as a row alone: what is looked at here is that there is one."""
    number = SealedSheet.objects.count() + 1
    now = timezone.now()
    signing = Signing.objects.create(
        build=scene.build, kind=kind, subject=subject, schema=1, snapshot=b"{}", digest="0" * 64, readings=0,
        readings_head="", unit="in", paper="A4", begun_by=scene.person, begun_at=now,
    )  # fmt: skip
    return SealedSheet.objects.create(
        signing=signing, number=number, entry=b"{}", digest=f"{number:064x}", pdf=b"%PDF-", pdf_sha256=f"{number:064x}",
        sealed_at=now,
    )  # fmt: skip


def state(scene: Scene) -> str:
    return str(with_states(Build.objects.for_list().filter(pk=scene.build.pk))[0].state)


def test_one_head_of_two_is_not_the_job(scene: Scene) -> None:
    seal(scene, "setup", str(scene.left.pk))
    assert state(scene) == "open"
    seal(scene, "setup", str(scene.right.pk))
    assert state(scene) == "sealed"


def test_the_whole_engine_in_one_sheet_is_the_job(scene: Scene) -> None:
    seal(scene, "build", "")
    assert state(scene) == "sealed"


def test_photos_alone_are_not(scene: Scene) -> None:
    seal(scene, "photo-log", "")
    assert state(scene) == "open"


def test_a_job_without_heads_lacks_none(scene: Scene) -> None:
    bare = Build.objects.create(engine=scene.build.engine, job_number="26-099")
    assert sealed_builds([bare.pk, scene.build.pk]) == {bare.pk}


def test_a_return_is_sealed_by_its_report_alone(scene: Scene) -> None:
    scene.build.went_out_on = timezone.localdate()
    scene.build.save()
    came = open_return(scene.build, scene.person, came_back_on=timezone.localdate(), complaint="noise")
    scene.build = came.build
    seal(scene, "photo-log", "")
    assert sealed_builds([came.build_id]) == set()
    seal(scene, "return", "")
    assert sealed_builds([came.build_id]) == {came.build_id}
    assert state(scene) == "sealed"


def test_an_engine_that_went_out_is_out(scene: Scene) -> None:
    seal(scene, "build", "")
    Build.objects.filter(pk=scene.build.pk).update(went_out_on="2026-03-01")
    assert state(scene) == "out"


def test_what_is_read_after_the_seal_opens_it_again(scene: Scene) -> None:
    seal(scene, "build", "")
    scene.read_gap("1E", "0.010")
    assert state(scene) == "on-the-bench"


def test_the_list_of_jobs_asks_no_more_for_many_sealed_ones(scene: Scene, bench_client: Client) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.get("/").status_code == 200
        return len(captured)

    seal(scene, "build", "")
    asked()
    few = asked()
    for number in range(4):
        other = make_scene(scene.person, job_number=f"26-1{number}")
        seal(other, "build", "")
    assert asked() == few
