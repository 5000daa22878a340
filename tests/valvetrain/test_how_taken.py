"""The log's lists: how each height was read, and every pack that was fitted."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Person, Reading
from builds.reading_notes import with_notes
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def notes(unit: str = "in") -> list[list[str]]:
    return [reading.how_taken for reading in with_notes(Reading.objects.order_by("pk"), unit)]


def test_a_height_says_the_blade_under_the_foot_and_the_pack_in_place(scene: Scene):
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", ".004", foot_feeler=".020")

    assert notes() == [["with 0.020 in under the foot, pack .015 + .010"]]
    assert notes("mm") == [["with 0.508 mm under the foot, pack 0.381 + 0.254"]]


def test_a_height_without_blade_or_pack_says_that_no_shims_were_in(scene: Scene):
    scene.read_gap("1E", ".024")
    scene.fit("L.stand1")
    scene.read_gap("1I", ".024")

    assert notes() == [["no shims in place"], ["no shims in place"]]


def test_a_lift_says_nothing_of_packs(scene: Scene):
    scene.read_lift("1E", ".700")

    assert notes() == [[]]


def test_a_height_keeps_the_pack_that_was_in_place_when_another_is_fitted(scene: Scene):
    scene.fit("L.stand1", "0.015")
    scene.read_gap("1E", ".004")
    scene.fit("L.stand1", "0.020")

    assert notes() == [["pack .015"]]


@pytest.mark.parametrize("name", ["job-readings", "job-detail"])
def test_the_lists_of_readings_show_it(bench_client: Client, scene: Scene, name: str):
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", ".004", foot_feeler=".020")

    page = bench_client.get(reverse(name, args=[scene.build.pk])).text

    assert "With 0.020 in under the foot, pack .015 + .010" in page


def count(client: Client, address: str) -> int:
    client.get(address)
    with CaptureQueriesContext(connection) as captured:
        client.get(address)
    return len(captured)


@pytest.mark.parametrize("name", ["job-readings", "fitted-packs", "valvetrain-panel"])
def test_the_lists_ask_the_same_for_few_and_for_many(bench_client: Client, scene: Scene, name: str):
    address = reverse(name, args=[scene.build.pk])

    def work(times: int) -> None:
        for _ in range(times):
            for stand, valve in (("L.stand1", "1E"), ("L.stand2", "3E"), ("R.stand1", "2E")):
                scene.fit(stand, "0.015")
                scene.read_gap(valve, ".004")

    work(1)
    few = count(bench_client, address)
    work(9)

    assert count(bench_client, address) == few


def test_every_fitted_pack_is_listed_with_who_and_what(bench_client: Client, scene: Scene):
    scene.fit("L.stand1", "0.015", "0.010")
    scene.fit("L.stand1")
    address = reverse("fitted-packs", args=[scene.build.pk])

    page = bench_client.get(address).text

    for words in (".015 + .010", "0.0250 in", "no shims", "L.stand1", scene.person.name):
        assert words in page
    assert address in bench_client.get(reverse("valvetrain-panel", args=[scene.build.pk])).text


def test_the_list_of_packs_comes_in_pages(bench_client: Client, scene: Scene):
    for _ in range(27):
        scene.fit("L.stand1", "0.015")

    page = bench_client.get(reverse("fitted-packs", args=[scene.build.pk]), {"page": "2"})

    assert "Page 2 of 2" in page.text
    assert len(page.context["fitted"]) == 2
    assert FittedPack.objects.count() == 27


def test_a_job_without_packs_says_so_and_a_stranger_logs_in_first(
    bench_client: Client, stranger: Client, scene: Scene
):
    address = reverse("fitted-packs", args=[scene.build.pk])

    assert "Nothing is fitted under a stand yet" in bench_client.get(address).text
    assert stranger.get(address).url.startswith(reverse("login"))
