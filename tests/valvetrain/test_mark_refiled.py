"""A mark whose photo was filed at another valve, or set aside, after it was measured."""

import pytest

from builds.models import Limit, MediaType, Photo, PhotoFiling
from builds.steps import get_step
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import measured, right_height, state_of
from valvetrain.marks import marks_of_build, read_again

pytestmark = pytest.mark.django_db

COVARIANCE = [[4e-6, 0.0], [0.0, 4e-6]]


@pytest.fixture
def scene(builder):
    Limit.add_defaults()
    return make_scene(builder)


def taken(scene: Scene, name: str) -> Photo:
    found = Photo.objects.create(
        build=scene.build, name=name, media_type=MediaType.JPEG, size=1, sha256="0" * 64, sent_sha256="0" * 64,
        width=800, height=600, path=f"a/{name}", taken_by=scene.person,
    )  # fmt: skip
    PhotoFiling.objects.create(photo=found, position="1E", kind="witness-mark", filed_by=scene.person)
    return found


def test_a_mark_measured_on_a_photo_that_was_filed_at_another_valve_is_no_proof(scene):
    right_height(scene)
    photo = taken(scene, "tip.jpg")
    measured(scene, photo, COVARIANCE, inner="-0.020", outer="0.020")
    assert state_of(scene).again == []
    filed = {"photo": photo, "kind": "witness-mark", "filed_by": scene.person}
    PhotoFiling.objects.create(position="1I", **filed)
    (told,) = state_of(scene).again
    assert told.startswith("It was measured on tip.jpg, which is filed at 1I now: strike those readings out")
    assert not state_of(scene).counts
    assert state_of(scene).drawn_as == "look"
    assert read_again(scene.build, get_step("marks")) == {"1E": told}
    PhotoFiling.objects.create(position="", **filed)
    assert "which is filed at no valve now" in state_of(scene).again[0]
    PhotoFiling.objects.create(position="1E", set_aside=True, reason="blurred", **filed)
    assert "which was set aside since" in state_of(scene).again[0]
    PhotoFiling.objects.create(position="1E", **filed)
    assert state_of(scene).counts


def test_marks_measured_on_many_photos_take_as_many_queries_as_one(scene, django_assert_max_num_queries):
    measured(scene, taken(scene, "tip.jpg"), COVARIANCE, inner="-0.020", outer="0.020")
    with django_assert_max_num_queries(18) as few:
        marks_of_build(scene.build)
    for number in range(3):
        measured(scene, taken(scene, f"{number}.jpg"), COVARIANCE, inner="-0.020", outer="0.020")
    with django_assert_max_num_queries(len(few)):
        marks_of_build(scene.build)
