"""The pages of the witness marks: every tip of a head, one valve's mark, its fields, and the stand that was slid."""

from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.models import Limit, MediaType, Photo, PhotoFiling, Reading
from tests.scenes import make_scene
from tests.valvetrain.marking import mark, right_height
from valvetrain.models import StandMove

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(builder):
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def pages(scene):
    """The two pages, and where a slide is sent."""
    return {
        "head": reverse("head-marks", args=[scene.left.pk]),
        "valve": reverse("valve-mark", args=[scene.left.pk, "1E"]),
        "slide": reverse("valve-slide", args=[scene.left.pk, "1E"]),
    }


def slide(**more) -> dict[str, str]:
    return {"client_id": str(uuid4()), "slide": "0.012", "way": "away", "relieved": "", "note": "", **more}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


# ---- every tip of a head --------------------------------------------------------------------------------------------


def test_every_tip_stands_with_its_state_in_a_word(bench_client, scene, pages):
    right_height(scene)
    mark(scene, "1E", inner="-0.019", outer="0.019")
    mark(scene, "1I", inner="0.020", outer="0.060")
    shown = plain(bench_client.get(pages["head"]).text)
    assert shown.count("<svg") == 8
    assert "2 of 8 read, 1 out of limit" in shown
    assert 'class="mark-card is-done"' in shown
    assert 'class="mark-card is-out"' in shown
    assert "0.038 in wide, 0.038 in expected" in shown
    assert "Move L.stand1" in shown


def test_a_drawing_says_in_words_what_it_shows(bench_client, scene, pages):
    mark(scene, "1E", inner="-0.019", outer="0.021")
    assert "1E: mark 0.040 wide, its middle 0.001 outboard" in bench_client.get(pages["head"]).text


def test_no_drawing_brings_a_style_of_its_own(bench_client, scene, pages):
    mark(scene, "1E", inner="-0.019", outer="0.021", front="0.045", rear="0.030", closed="0.01", open_="0.02")
    for name in ("head", "valve"):
        shown = bench_client.get(pages[name]).text
        assert " style=" not in shown
        assert "<style" not in shown


def test_a_head_without_rockers_is_drawn_without_what_to_expect(bench_client, scene, pages):
    scene.build.rocker_sets.all().delete()
    mark(scene, "1E", inner="-0.019", outer="0.021")
    assert bench_client.get(pages["head"]).status_code == 200
    assert "Enter the rocker set first" in bench_client.get(pages["valve"]).text


def test_the_page_of_a_head_asks_the_same_with_1_and_with_8_marks(bench_client, scene, pages):
    def cost() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.get(pages["head"]).status_code == 200
        return len(captured)

    mark(scene, "1E", inner="-0.019", outer="0.019")
    cost(), cost()  # the hardware is kept from one look to the next
    few = cost()
    for address in ("1I", "3I", "3E", "5E", "5I", "7I", "7E"):
        mark(
            scene,
            address,
            inner="-0.019",
            outer="0.019",
            closed="0.01",
            open_="0.01",
            front="0.04",
            rear="0.04",
        )
    cost()
    assert cost() == few


# ---- one valve ------------------------------------------------------------------------------------------------------


def test_one_mark_says_what_follows_from_it(bench_client, scene, pages):
    right_height(scene)
    mark(scene, "1E", inner="-0.019", outer="0.019")
    shown = plain(bench_client.get(pages["valve"]).text)
    for words in (
        "The mark is 0.038 in wide, ± 0.0029 in; to expect: 0.038 in at the right height",
        "of height: the mark proves, the gauge decides.",
        "the mark agrees, within what both are known to.",
        "within the limit of 0.030 in, acceptable as it is. Height outranks centring.",
        "Before centring L.stand1: read the mark of 1I.",
        "Turn the engine by hand, plugs out, fingers clear.",
    ):
        assert words in shown


def test_a_stale_mark_says_why(bench_client, scene, pages):
    mark(scene, "1E", inner="-0.019", outer="0.019")
    scene.fit("L.stand1", "0.020")
    for name in ("head", "valve"):
        assert (
            "A pack was fitted since this mark: ink it and read again." in bench_client.get(pages[name]).text
        )


def test_its_fields_save_through_the_log(bench_client, scene, pages):
    shown = bench_client.get(pages["valve"]).text
    save = reverse("log-reading", args=[scene.build.pk, "marks"])
    assert f'data-save="{save}"' in shown
    assert shown.count('data-characteristic="mark_') == 6
    scene.fit("L.stand1", "0.020")
    answer = bench_client.post(
        save,
        {
            "client_id": str(uuid4()),
            "position": "1E",
            "characteristic": "mark_inner",
            "value": "-0.018",
            "unit": "in",
        },
    )
    assert answer.status_code == 200
    kept = Reading.objects.get(characteristic="mark_inner")
    pack = scene.stand("L.stand1").pack
    assert (kept.context["pack"], kept.context["held"]["lift"]) == (str(pack.client_id), "0.7000000000000001")


def test_its_photos_lead_to_the_measuring(bench_client, scene, pages):
    photo = Photo.objects.create(
        build=scene.build, name="tip.jpg", media_type=MediaType.JPEG, size=1, sha256="0" * 64, sent_sha256="0" * 64,
        width=800, height=600, path="a/tip.jpg", taken_by=scene.person,
    )  # fmt: skip
    PhotoFiling.objects.create(photo=photo, position="1E", kind="witness-mark", filed_by=scene.person)
    other = reverse("valve-mark", args=[scene.left.pk, "1I"])
    measure = reverse("measure-mark", args=[scene.left.pk, "1E", photo.client_id])
    assert measure in bench_client.get(pages["valve"]).text
    assert measure not in bench_client.get(other).text
    assert "not measured" in bench_client.get(pages["valve"]).text


def test_what_was_read_is_listed_with_its_corrections(bench_client, scene, pages):
    (first,) = mark(scene, "1E", inner="-0.019")
    answer = bench_client.post(
        reverse("log-reading", args=[scene.build.pk, "marks"]),
        {
            "client_id": str(uuid4()), "position": "1E", "characteristic": "mark_inner", "value": "-0.021", "unit": "in",
            "corrects": str(first.client_id), "reason": "Typed wrong before",
        },
    )  # fmt: skip
    assert answer.status_code == 200
    assert "Corrected: Typed wrong before" in bench_client.get(pages["valve"]).text


def test_the_page_of_a_valve_asks_the_same_with_2_and_with_60_readings(bench_client, scene, pages):
    def cost() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.get(pages["valve"]).status_code == 200
        return len(captured)

    mark(scene, "1E", inner="-0.019", outer="0.019")
    cost(), cost()  # the hardware is kept from one look to the next
    few = cost()
    for _time in range(29):
        mark(scene, "1E", inner="-0.018", outer="0.018")
    cost()
    assert cost() == few


@pytest.mark.parametrize("name", ["valve-mark", "valve-slide"])
def test_a_valve_of_another_head_is_not_here(bench_client, scene, name):
    address = reverse(name, args=[scene.left.pk, "2E"])
    answer = bench_client.post(address, slide()) if name == "valve-slide" else bench_client.get(address)
    assert answer.status_code == 404


# ---- the stand that was slid ----------------------------------------------------------------------------------------


def test_a_slide_is_written_and_asks_for_the_height_again(bench_client, scene, pages):
    right_height(scene)
    answer = bench_client.post(pages["slide"], slide(note="deburred"), follow=True)
    assert "Read the height again, then ink the tips" in answer.text
    move = StandMove.objects.get()
    assert (str(move.slide.normalize()), move.moved_by) == ("-0.012", scene.person)
    assert "slid 0.0120 in away from the valve: deburred" in plain(answer.text)
    bench = bench_client.get(reverse("bench-at", args=[scene.left.pk, "1E"])).text
    assert "the stand was slid 0.0120 in away from the valve since it was read" in bench


def test_the_form_offers_the_way_that_centring_asks(bench_client, scene, pages):
    right_height(scene)
    assert '<option value="" selected>say which way</option>' in bench_client.get(pages["valve"]).text
    for address in ("1E", "1I"):
        mark(scene, address, inner="0.020", outer="0.060")
    assert (
        '<option value="away" selected>away from the valve</option>' in bench_client.get(pages["valve"]).text
    )


def test_a_slide_sent_twice_is_written_once(bench_client, scene, pages):
    right_height(scene)
    sent = slide()
    for _time in range(2):
        assert bench_client.post(pages["slide"], sent).status_code == 302
    assert StandMove.objects.count() == 1


def test_a_slide_before_the_height_is_right_asks_and_keeps_what_was_typed(bench_client, scene, pages):
    answer = bench_client.post(pages["slide"], slide())
    assert answer.status_code == 422
    assert "Height comes before centring" in answer.text
    assert 'value="0.012"' in answer.text
    assert 'name="sure"' in answer.text
    assert bench_client.post(pages["slide"], slide(sure="on")).status_code == 302


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"slide": "far"}, "“far” is not a number"),
        ({"slide": "12"}, "no stand slides 12 in"),
        ({"way": ""}, "say toward the valve, or away from it"),
        ({"client_id": "x"}, "This page is too old to save from."),
    ],
)
def test_what_cannot_be_is_answered_in_words(bench_client, scene, pages, typed, sentence):
    right_height(scene)
    answer = bench_client.post(pages["slide"], slide(**typed))
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert not StandMove.objects.exists()


def test_a_closed_job_shows_its_marks_and_takes_no_slide(bench_client, scene, pages):
    right_height(scene)
    scene.build.went_out_on = timezone.localdate()
    scene.build.save(update_fields=["went_out_on"])
    assert "Write down that the stand was slid" not in bench_client.get(pages["valve"]).text
    answer = bench_client.post(pages["slide"], slide())
    assert (answer.status_code, "log is closed" in answer.text) == (422, True)
    assert not StandMove.objects.exists()


@pytest.mark.parametrize("name", ["head", "valve", "slide"])
def test_a_stranger_is_sent_to_the_log_in_page(stranger, pages, name):
    answer = stranger.post(pages[name], slide()) if name == "slide" else stranger.get(pages[name])
    assert answer.url.startswith(reverse("login"))
    assert not StandMove.objects.exists()


def test_pages_are_not_written_to(bench_client, pages):
    assert [bench_client.post(pages[name]).status_code for name in ("head", "valve")] == [405, 405]
    assert bench_client.get(pages["slide"]).status_code == 405


def test_the_bench_and_the_log_lead_to_the_marks(bench_client, scene, pages):
    assert pages["valve"] in bench_client.get(reverse("bench-at", args=[scene.left.pk, "1E"])).text
    assert pages["head"] in bench_client.get(reverse("log-step", args=[scene.build.pk, "marks"])).text
