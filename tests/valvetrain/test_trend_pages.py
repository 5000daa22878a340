"""The page of a job's trends, its picture, and the section on the job's page."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Person
from tests.scenes import Scene, make_scene
from tests.valvetrain.track import check, drifting, go_out, read, run

HTMX = {"hx-request": "true"}


@pytest.fixture
def scene(builder: Person) -> Scene:
    return drifting(builder)


def page_of(scene: Scene) -> str:
    return reverse("job-trends", args=[scene.build.pk])


def test_the_page_tells_every_valve_and_draws_the_first(bench_client: Client, scene: Scene) -> None:
    text = bench_client.get(page_of(scene)).text
    assert "leaves its limit at about 10 passes" in text
    assert text.index(">1I</a>") < text.index(">3E</a>")
    assert "1 more was read as built and not since" in text


def test_a_valve_is_chosen_by_its_address(bench_client: Client, scene: Scene) -> None:
    assert "3E: lash, cold" in bench_client.get(page_of(scene), {"valve": "3E"}).text
    text = bench_client.get(page_of(scene), {"valve": "9X<b>"}).text
    assert "9X&lt;b&gt; was not read again" in text


def test_htmx_gets_the_board_and_the_job_its_section(bench_client: Client, scene: Scene) -> None:
    board = bench_client.get(page_of(scene), headers={**HTMX, "hx-target": "trends"}).text
    section = bench_client.get(page_of(scene), headers=HTMX).text
    assert board.lstrip().startswith('<div id="trends">')
    assert "<html" not in section
    assert "No valve that was read again" not in section
    assert "1I, lash, cold: " in section


def test_the_section_stands_on_jobs_that_were_looked_at_again(
    bench_client: Client, scene: Scene, builder: Person
) -> None:
    other = make_scene(builder, job_number="26-050")
    go_out(other.build)
    assert page_of(scene) in bench_client.get(scene.build.get_absolute_url()).text
    assert page_of(other) not in bench_client.get(other.build.get_absolute_url()).text


def test_the_running_record_leads_there(bench_client: Client, scene: Scene) -> None:
    assert page_of(scene) in bench_client.get(reverse("job-running", args=[scene.build.pk])).text


def test_a_check_leads_to_the_job_that_it_looks_at(bench_client: Client, scene: Scene) -> None:
    look = scene.build.looks.first()
    assert look is not None
    answer = bench_client.get(reverse("job-trends", args=[look.pk]))
    assert answer.url == page_of(scene)


def test_a_job_without_a_look_says_what_to_do(bench_client: Client, builder: Person) -> None:
    scene = make_scene(builder)
    assert "Nothing was read again since this engine left" in bench_client.get(page_of(scene)).text


def test_the_picture_is_of_one_valve(bench_client: Client, scene: Scene) -> None:
    where = reverse("job-trend-chart", args=[scene.build.pk, "lash_cold", "1I"])
    answer = bench_client.get(where)
    assert answer["Content-Type"] == "image/svg+xml"
    assert "leaves its limit at about 10 passes" in answer.text
    assert "max-age" in bench_client.get(where, {"v": "x"})["Cache-Control"]


@pytest.mark.parametrize("where", [("lash_cold", "9X"), ("bore", "1I")])
def test_a_picture_of_nothing_is_not_there(
    bench_client: Client, scene: Scene, where: tuple[str, str]
) -> None:
    answer = bench_client.get(reverse("job-trend-chart", args=[scene.build.pk, *where]))
    assert answer.status_code == 404


def test_who_is_not_logged_in_sees_nothing(stranger: Client, scene: Scene) -> None:
    assert stranger.get(page_of(scene)).status_code == 302


def test_another_count_of_running_is_chosen(bench_client: Client, scene: Scene, builder: Person) -> None:
    run(scene.build, builder, 0, "2.5", unit="hours")
    text = bench_client.get(page_of(scene), {"count": "hours", "what": "lash_cold"}).text
    assert "after, hours" in text
    assert bench_client.get(page_of(scene), {"count": "parsecs", "what": "nothing"}).status_code == 200


def test_as_many_questions_for_five_checks_as_for_sixty(
    bench_client: Client, scene: Scene, builder: Person
) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.get(page_of(scene)).status_code == 200
        return len(captured)

    count()
    few = count()
    for number in range(55):
        check(scene.build, builder, 20 + number, {"1I": "0.0050", "3E": "0.0041"})
    assert count() == few


def test_seat_loads_have_their_own_page(bench_client: Client, builder: Person) -> None:
    scene = make_scene(builder)
    read(scene.build, builder, {"1I": "220"}, "seat_load")
    go_out(scene.build)
    run(scene.build, builder, 1, "50")
    check(scene.build, builder, 1, {"1I": "210"}, "seat_load")
    text = bench_client.get(page_of(scene)).text
    assert "1I: seat load" in text
    assert "no limit is set, so nothing is projected" in text
