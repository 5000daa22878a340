"""The screen on which a mark is measured on its picture, opened at a drawn tip whose mark is known."""

import pytest

from builds.models import Person
from tests.scenes import make_scene
from tests.tapped import photo_of, tip


@pytest.fixture(scope="module")
def picture():
    return tip(size=(1200, 900), pixels_across=700.0, tilt=25.0, tilt_toward=30.0, turn=3.0)


@pytest.fixture
def photo(bench_tablet, picture, settings, tmp_path):
    settings.STORAGES = settings.STORAGES | {
        "photos": settings.STORAGES["photos"] | {"OPTIONS": {"location": str(tmp_path)}}
    }
    return photo_of(picture, make_scene(Person.objects.get(username="nora")))


@pytest.fixture
def screen(bench_tablet, photo):
    head = photo.build.heads.get(code="L")
    bench_tablet.goto(f"/bench/{head.pk}/marks/1E/photos/{photo.client_id}/")
    bench_tablet.locator("[data-offer]").wait_for()
    return bench_tablet


@pytest.fixture
def by_hand(screen):
    screen.locator("[data-by-hand]").tap()
    return screen
