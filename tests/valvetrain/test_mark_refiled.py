"""A mark whose photo was filed elsewhere after it was measured, and one made after work without a pack or a slide."""

from uuid import uuid4

import pytest

from builds.models import Limit, MediaType, Photo, PhotoFiling, UsualUncertainty
from builds.recording import Entry
from builds.steps import get_step
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import caliper, gathered, mark, measured, right_height, state_of
from valvetrain.mark_log import record_marks
from valvetrain.marks import marks_of_build, read_again
from valvetrain.markwords import height_lines

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
    assert told.startswith("It was measured on tip.jpg, which is filed at 1I now: take those readings back")
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


def test_the_ends_of_a_mark_from_before_other_work_say_nothing_of_the_new_one(scene):
    right_height(scene)
    closed, *_others = mark(scene, "1E", closed="0.020", open_="-0.020", inner="-0.030", outer="0.030")
    assert state_of(scene).closed == 0.020
    after = [
        Entry(uuid4(), "1E", key, text, "in", instrument=caliper(), context={"set": 1})
        for key, text in (("mark_inner", "-0.020"), ("mark_outer", "0.020"))
    ]
    record_marks(gathered(scene), scene.person, after)
    made_after = state_of(scene)
    assert (made_after.inner, made_after.outer) == (-0.020, 0.020)
    assert (made_after.closed, made_after.open) == (None, None)
    # Typed in its field anew, after the new edges: it is of the new mark.
    anew = Entry(
        uuid4(), "1E", "mark_closed", "0.005", "in", caliper(), corrects=closed, reason="inked again"
    )
    record_marks(gathered(scene), scene.person, [anew])
    assert (state_of(scene).closed, state_of(scene).open) == (0.005, None)


def test_ends_whose_doubt_is_not_known_put_the_shaft_at_no_height_for_sure(scene):
    UsualUncertainty.objects.all().delete()
    entries = [
        Entry(uuid4(), "1E", key, text, "in")
        for key, text in (
            ("mark_inner", "-0.021"), ("mark_outer", "0.021"), ("mark_closed", "-0.0210"), ("mark_open", "-0.0123"),
        )
    ]  # fmt: skip
    record_marks(gathered(scene), scene.person, entries)
    told = next(line for line in height_lines(state_of(scene), "in") if line.startswith("Closed"))
    assert "the shaft stands 0.020 in low, but how well the two ends are known is not told" in told
    assert "at its height" not in told
