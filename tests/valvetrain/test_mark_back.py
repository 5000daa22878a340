"""Taking back what was measured on a photo that turned out to be another valve's."""

from datetime import date

import pytest
from django.urls import reverse

from builds.models import Build, Reading
from tests.scenes import make_scene
from tests.tapped import file_at, photo_of, sent, taps_on, tip
from tests.valvetrain.marking import state_of

pytestmark = pytest.mark.django_db
TAKE_BACK = "Take it back: it stays in the book, struck out"


@pytest.fixture(scope="module")
def picture():
    return tip()


@pytest.fixture
def scene(builder, settings, tmp_path):
    settings.STORAGES = settings.STORAGES | {
        "photos": settings.STORAGES["photos"] | {"OPTIONS": {"location": str(tmp_path)}}
    }
    return make_scene(builder)


@pytest.fixture
def photo(bench_client, scene, picture):
    """A photo that was measured for 1E."""
    found = photo_of(picture, scene)
    bench_client.post(url("measure-mark-save", scene, found), sent(taps_on(picture)))
    assert standing(found) == 4
    return found


def url(name, scene, photo):
    return reverse(name, args=[scene.left.pk, "1E", photo.client_id])


def standing(photo) -> int:
    return Reading.objects.standing().filter(photo=photo, position="1E").count()


def test_what_was_measured_for_the_wrong_valve_is_struck_out_in_one_go_and_once(bench_client, scene, photo):
    file_at(photo, "3E", scene)
    mark_page = bench_client.get(reverse("valve-mark", args=[scene.left.pk, "1E"])).text
    assert f"It was measured on {photo.name}, which is filed at 3E now" in mark_page
    assert url("measure-mark", scene, photo) in mark_page
    assert TAKE_BACK in bench_client.get(url("measure-mark", scene, photo)).text
    for _ in range(2):
        answer = bench_client.post(url("measure-mark-save", scene, photo), {"take_back": "yes"})
        assert answer.url == reverse("valve-mark", args=[scene.left.pk, "1E"])
    assert standing(photo) == 0
    assert not state_of(scene).read
    struck = Reading.objects.filter(position="1E", corrects__photo=photo)
    assert [each.reason for each in struck] == ["its photo is filed at 3E now"] * 4
    assert TAKE_BACK not in bench_client.get(url("measure-mark", scene, photo)).text


def test_what_was_measured_on_a_photo_of_this_valve_is_not_taken_back_so(bench_client, scene, photo):
    answer = bench_client.post(url("measure-mark-save", scene, photo), {"take_back": "yes"})
    assert answer.status_code == 422
    assert "This photo is filed at 1E: measure the mark on it again" in answer.text
    assert standing(photo) == 4


def test_on_a_closed_job_it_stays_as_it_is(bench_client, scene, photo):
    file_at(photo, "3E", scene)
    Build.objects.update(went_out_on=date(2026, 2, 1))
    assert TAKE_BACK not in bench_client.get(url("measure-mark", scene, photo)).text
    answer = bench_client.post(url("measure-mark-save", scene, photo), {"take_back": "yes"})
    assert (answer.status_code, "its log is closed" in answer.text) == (422, True)
    assert standing(photo) == 4


def test_nobody_takes_back_without_a_log_in(stranger, scene, photo):
    file_at(photo, "3E", scene)
    assert stranger.post(url("measure-mark-save", scene, photo), {"take_back": "yes"}).status_code == 302
    assert standing(photo) == 4
