"""What of a return's readings was found: what was there to see before the first work at its address."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.found import Found
from builds.models import Build, Person, Photo, Reading
from tests.builds.came_back import came_back, went_out
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack, Stand

NOW = timezone.now()
EARLIER, LATER = NOW - timedelta(hours=1), NOW + timedelta(minutes=1)


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


@pytest.fixture
def job(scene: Scene) -> Build:
    """A return on which the stand of cylinder 5 got another pack."""
    came = came_back(went_out(scene), scene.person)
    stand = Stand.objects.get(head__build=came.build, valves__cylinder=5, valves__kind="E")
    FittedPack.objects.create(stand=stand, fitted_by=scene.person, fitted_at=NOW)
    return came.build


def reading(job: Build, person: Person, taken_at: datetime, position: str = "5E", **more: Any) -> Reading:
    told = {"characteristic": "lash_cold", "text": "0.004", "unit": "in", "value": "0.004", **more}
    return Reading.objects.create(build=job, position=position, taken_by=person, taken_at=taken_at, **told)


def test_what_was_read_before_the_pack_was_found_and_what_was_read_after_was_not(
    job: Build, builder: Person
) -> None:
    found = Found([job.pk])
    assert found.was_found(reading(job, builder, EARLIER))
    assert not found.was_found(reading(job, builder, NOW))
    assert not found.was_found(reading(job, builder, LATER, "5I"))  # on the same stand
    assert found.was_found(reading(job, builder, LATER, "7E"))  # on another


def test_a_new_set_was_begun_by_work(job: Build, builder: Person) -> None:
    assert not Found([job.pk]).was_found(reading(job, builder, EARLIER, "7E", context={"set": 1}))


def test_a_photo_taken_before_the_work_and_measured_after_it_shows_what_was_found(
    job: Build, builder: Person
) -> None:
    photo = Photo.objects.create(
        build=job, name="tip.jpg", media_type="image/jpeg", size=1, sha256="a" * 64, sent_sha256="b" * 64, width=40,
        height=30, path="tip.jpg", taken_by=builder, taken_at=EARLIER,
    )  # fmt: skip
    measured = reading(job, builder, LATER, photo=photo)
    assert Found([job.pk]).was_found(measured)


def test_a_correction_of_a_correction_is_of_the_first_ones_moment(job: Build, builder: Person) -> None:
    first = reading(job, builder, EARLIER)
    second = reading(job, builder, LATER, corrects=first, reason="typed wrong")
    third = reading(job, builder, LATER, corrects=second, reason="typed wrong again")
    assert Found([job.pk]).was_found(third)


def test_as_many_questions_for_many_readings_as_for_one(job: Build, builder: Person) -> None:
    def asked() -> int:
        rows = list(Reading.objects.filter(build=job))
        with CaptureQueriesContext(connection) as captured:
            found = Found([job.pk])
            assert all(found.was_found(each) for each in rows)
        return len(captured)

    reading(job, builder, EARLIER)
    few = asked()
    for position in ("5I", "7E", "7I", "1E"):
        reading(job, builder, EARLIER, position)
    assert asked() == few
