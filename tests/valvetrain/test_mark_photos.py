"""Measuring a mark on its photo: the page, what the taps come to, and saving them once, whole, or not at all."""

import json
from datetime import date

import numpy as np
import pytest
from django.urls import reverse

from builds.models import Build, PhotoKind, Reading
from builds.photos.acts import acts_of
from tests.scenes import make_scene
from tests.tapped import DIAMETER, file_at, photo_of, sent, taps_on, tip
from valvetrain.mark_photos import READINGS, read_ids

pytestmark = pytest.mark.django_db


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
def photo(scene, picture):
    return photo_of(picture, scene)


def address(name, scene, photo, valve="1E"):
    return reverse(name, args=[scene.left.pk, valve, photo.client_id])


@pytest.fixture
def work(bench_client, scene, photo):
    def post(taps):
        text = taps if isinstance(taps, str) else json.dumps(taps)
        return bench_client.post(address("measure-mark-work", scene, photo), {"taps": text})

    return post


@pytest.fixture
def save(bench_client, scene, photo):
    return lambda data: bench_client.post(address("measure-mark-save", scene, photo), data)


def moved(points, right: float):
    """Points that far to the right [px]."""
    return [[x + right, y] for x, y in points.tolist()]


def kept(photo) -> dict[str, Reading]:
    return {each.characteristic: each for each in Reading.objects.standing().filter(photo=photo)}


# ---- the page -----------------------------------------------------------------------------------------------------


def test_the_page_brings_the_picture_the_keys_and_the_tips_diameter(bench_client, scene, photo):
    page = bench_client.get(address("measure-mark", scene, photo)).content.decode()
    assert reverse("photo-file", args=[photo.client_id, "full"]) in page
    assert f'value="{DIAMETER}"' in page
    assert "Tip diameter of 1E, from its hardware." in page
    assert "at least 5" in page
    assert "the edge of the flat face, not the outer edge of its chamfer" in page


@pytest.mark.parametrize(
    ("filing", "sentence"),
    [
        ({"position": "3E"}, "This photo is filed at 3E. File it at 1E first"),
        ({"position": ""}, "This photo is not filed at a valve. File it at 1E first"),
        ({"position": "1E", "kind": PhotoKind.DAMAGE}, "This photo is filed as damage."),
        ({"position": "1E", "set_aside": True, "reason": "blurred"}, "This photo is set aside: blurred."),
    ],
)
def test_a_photo_that_is_filed_otherwise_says_where_and_is_not_measured(
    bench_client, scene, photo, picture, filing, sentence
):
    file_at(photo, filing.pop("position"), scene, **filing)
    page = bench_client.get(address("measure-mark", scene, photo)).content.decode()
    assert sentence in page
    assert "data-taps" not in page
    answer = bench_client.post(address("measure-mark-save", scene, photo), sent(taps_on(picture)))
    assert (answer.status_code, sentence in answer.json()["sentence"]) == (422, True)


def test_a_photo_of_another_job_is_not_found(bench_client, scene, photo, builder):
    other = make_scene(builder, job_number="26-020")
    assert bench_client.get(address("measure-mark", other, photo)).status_code == 404


def test_a_valve_that_is_not_on_the_head_is_not_found(bench_client, scene, photo):
    assert bench_client.get(address("measure-mark", scene, photo, "2E")).status_code == 404


def test_nobody_measures_without_a_log_in(stranger, scene, photo):
    for name in ("measure-mark", "measure-mark-work", "measure-mark-guess", "measure-mark-save"):
        answer = stranger.post(address(name, scene, photo))
        assert answer.status_code == 302
    assert not Reading.objects.filter(photo=photo).exists()


def test_the_photos_own_page_offers_to_measure_it(scene, photo):
    assert acts_of(photo)[-1] == ("Measure the mark", address("measure-mark", scene, photo))


def test_a_photo_that_is_no_mark_at_a_valve_offers_nothing(scene, photo):
    file_at(photo, "L.stand1", scene)
    photo = type(photo).objects.get(pk=photo.pk)
    assert "Measure the mark" not in dict(acts_of(photo))


# ---- what taps come to --------------------------------------------------------------------------------------------


def test_taps_at_the_very_places_come_to_the_mark_that_was_drawn(work, picture):
    told = work(taps_on(picture)).json()
    assert told["ready"] is True
    # Independent method: the picture's own camera knows where the mark lies.
    assert f"{picture.width:.3f}" in told["html"]
    assert [len(told["drawn"][name]) for name in ("rim", "axes", "edges")] == [72, 2, 2]


def test_the_figures_stand_with_their_doubt_and_beside_the_limits(work, picture):
    html = work(taps_on(picture)).json()["html"]
    assert "± 0.00" in html
    # Hand-worked: L − √(L² − (S/2)²) with L 1.650, S .700 gives .0375.
    assert "expected 0.0375 at the right height" in html
    assert html.count('<span class="word"><span class="sign"></span>in</span>') >= 3


def test_the_tip_is_drawn_to_scale_with_the_mark_as_tapped(work, picture):
    told = work(taps_on(picture)).json()["tip"]
    assert "1E: the tip with its mark" in told
    assert "mark 0.07" in told


def test_a_rim_alone_is_drawn_and_the_rest_is_asked_for(work, picture):
    told = work(taps_on(picture, inner=[], outer=[[10, 10]])).json()
    assert told["ready"] is False
    assert set(told["drawn"]) == {"rim"}
    assert "Tap 2 more on the inner edge and 1 more on the outer edge." in told["html"]


def test_taps_that_cannot_be_are_answered_in_place(work, picture):
    told = work(
        taps_on(picture, inner=picture.outer_points(3).tolist(), outer=picture.inner_points(3).tolist())
    ).json()
    assert told["ready"] is False
    assert "The inner edge lies further from the shaft than the outer edge" in told["html"]


def test_a_flat_view_is_told_that_a_flatter_one_would_be_better(bench_client, scene):
    flat = tip(tilt=50.0, tilt_toward=90.0)
    photo = photo_of(flat, scene)
    told = bench_client.post(
        address("measure-mark-work", scene, photo), {"taps": json.dumps(taps_on(flat))}
    ).json()
    assert "a picture taken from more above the tip would be better" in told["html"]


def test_few_taps_are_told_what_more_would_bring(work, picture):
    few = taps_on(
        picture,
        rim=picture.rim_points(5).tolist(),
        inner=picture.inner_points(2).tolist(),
        outer=picture.outer_points(2).tolist(),
    )
    html = work(few).json()["html"]
    assert "12 taps round the rim and 5 along each edge would tighten the width to about ± 0.00" in html
    assert "Five taps fit any rim" in html


def test_a_camera_that_leaned_is_asked_for_the_side_of_the_stem(bench_client, scene):
    leaned = tip(tilt=30.0, tilt_toward=0.0)
    address_of = address("measure-mark-work", scene, photo_of(leaned, scene))
    unasked, told = (
        bench_client.post(address_of, {"taps": json.dumps(taps_on(leaned, stem_at=side))}).json()["html"]
        for side in ("", "right")
    )
    assert "say on which side the stem shows, and the centre is known to ± 0.00" in unasked
    assert "on which side the stem shows" not in told


@pytest.mark.parametrize("text", ["", "[]", '{"rim": [[1]]}', "nonsense", '{"rim": [[NaN, 1]]}'])
def test_what_no_page_sends_is_refused_with_a_sentence(work, text):
    answer = work(text)
    assert answer.status_code == 422
    assert answer.json()["sentence"].endswith(".")


def test_working_out_costs_the_same_whatever_else_is_in_the_log(
    work, picture, scene, django_assert_max_num_queries
):
    scene.read_gap("1E", "0.020")
    work(taps_on(picture))
    for valve in scene.left.valves.all():
        scene.read_gap(valve.address, "0.012")
    with django_assert_max_num_queries(12):
        work(taps_on(picture))


# ---- the first guess ----------------------------------------------------------------------------------------------


def test_a_guess_comes_in_the_pictures_own_pixels(bench_client, scene, photo, picture):
    told = bench_client.post(address("measure-mark-guess", scene, photo), {"toward_shaft": "left"}).json()
    (x, y), _major, _minor, _turn = picture.rim[0], *picture.rim[1:]
    middle = [sum(values) / len(told["rim"]) for values in zip(*told["rim"], strict=True)]
    assert middle == pytest.approx([x, y], abs=6)
    assert len(told["inner"]) >= 2
    assert len(told["outer"]) >= 2


def test_a_picture_without_a_tip_is_told_and_the_hand_goes_on(bench_client, scene, picture):
    bare = tip()
    bare.pixels[:] = 128
    answer = bench_client.post(address("measure-mark-guess", scene, photo_of(bare, scene)))
    assert answer.status_code == 422
    assert answer.json()["sentence"].endswith(".")


# ---- saving -------------------------------------------------------------------------------------------------------


def test_saving_writes_four_readings_with_the_photo_as_their_instrument(save, photo, picture):
    answer = save(sent(taps_on(picture)))
    assert answer.status_code == 200
    readings = kept(photo)
    assert set(readings) == set(READINGS)
    assert {(each.how, each.unit, each.instrument) for each in readings.values()} == {("photo", "in", None)}
    # Independent method: the picture's own camera.
    assert float(readings["mark_inner"].value) == pytest.approx(picture.scene.inner, abs=0.003)
    assert float(readings["mark_outer"].value) == pytest.approx(picture.scene.outer, abs=0.003)
    assert float(readings["mark_front_width"].value) == pytest.approx(picture.front_width, abs=0.003)


def test_what_is_kept_is_enough_to_draw_it_again(save, photo, picture):
    taps = taps_on(picture)
    save(sent(taps))
    context = kept(photo)["mark_inner"].context
    assert context["mark"]["taps"]["toward_shaft"] == "left"
    assert len(context["mark"]["taps"]["rim"]) == 8
    assert 0 < float(context["standard"]) < 0.005
    assert context["mark"]["results"]["width"] == pytest.approx(picture.width, abs=0.003)
    assert len(context["mark"]["covariance"]) == 2


def test_the_side_of_the_stem_is_kept_with_what_it_changed(bench_client, save, scene, photo, picture):
    save(sent(taps_on(picture, stem_at="right")))
    mark = kept(photo)["mark_inner"].context["mark"]
    assert mark["taps"]["stem_at"] == "right"
    assert mark["frame"]["origin"] != mark["rim"]["centre"]
    # Independent method: where the picture's own camera sees the middle of the tip.
    middle = picture.scene.camera.to_picture(np.zeros((1, 2)))[0]
    assert mark["frame"]["origin"] == pytest.approx(middle.tolist(), abs=0.5)
    page = bench_client.get(address("measure-mark", scene, photo)).content.decode()
    assert "&quot;stem_at&quot;: &quot;right&quot;" in page


def test_the_same_sent_twice_is_written_once(save, photo, picture):
    data = sent(taps_on(picture))
    assert [save(data).status_code, save(data).status_code] == [200, 200]
    assert Reading.objects.filter(photo=photo).count() == 4


def test_other_taps_under_the_same_numbers_are_refused(save, photo, picture):
    data = sent(taps_on(picture))
    save(data)
    other = taps_on(picture, inner=moved(picture.inner_points(3), 4.0))
    assert save(data | {"taps": json.dumps(other)}).status_code == 422
    assert Reading.objects.filter(photo=photo).count() == 4


def test_measured_again_it_corrects_what_was_measured_before(save, photo, picture):
    save(sent(taps_on(picture)))
    first = kept(photo)["mark_inner"]
    save(sent(taps_on(picture, inner=moved(picture.inner_points(3), 4.0))))
    second = kept(photo)["mark_inner"]
    assert second.corrects == first
    assert second.value > first.value
    assert second.reason


def test_the_page_starts_from_what_was_measured_before(bench_client, scene, save, photo, picture):
    save(sent(taps_on(picture)))
    page = bench_client.get(address("measure-mark", scene, photo)).content.decode()
    assert "This photo was measured before." in page
    assert "&quot;toward_shaft&quot;: &quot;left&quot;" in page


def test_another_photo_made_after_work_begins_a_new_set(bench_client, save, scene, photo, picture):
    save(sent(taps_on(picture)))
    second = photo_of(picture, scene)
    page = bench_client.get(address("measure-mark", scene, second)).content.decode()
    assert "1E has a mark in the book already." in page
    data = sent(taps_on(picture), after_work="yes")
    assert bench_client.post(address("measure-mark-save", scene, second), data).status_code == 200
    assert [kept(each)["mark_inner"].context["set"] for each in (photo, second)] == [0, 1]


def test_incomplete_taps_are_not_saved(save, photo, picture):
    answer = save(sent(taps_on(picture, rim=picture.rim_points(8)[:4].tolist())))
    assert (answer.status_code, answer.json()["sentence"]) == (422, "Tap 1 more on the rim.")
    assert not kept(photo)


def test_a_closed_job_says_so_and_writes_nothing(bench_client, save, scene, photo, picture):
    Build.objects.filter(pk=scene.build.pk).update(went_out_on=date(2026, 1, 5))
    answer = save(sent(taps_on(picture)))
    assert answer.status_code == 422
    assert "went out" in answer.json()["sentence"]
    assert not kept(photo)
    page = bench_client.get(address("measure-mark", scene, photo)).content.decode()
    assert "data-save " not in page


def test_what_somebody_else_tapped_waits_for_them(save, photo, picture, second):
    answer = save(sent(taps_on(picture), by=str(second.pk)))
    assert (answer.status_code, "Somebody else keyed this in" in answer.json()["sentence"]) == (422, True)
    assert not kept(photo)


@pytest.mark.parametrize("ids", ["", "[]", "{}", "null", '{"mark_inner": 7}', "[" * 900, "x" * 5000])
def test_numbers_that_no_page_makes_are_refused(save, photo, picture, ids):
    answer = save(sent(taps_on(picture)) | {"ids": ids})
    assert answer.status_code == 422
    assert not kept(photo)


def test_every_reading_has_a_number_of_its_own():
    same = dict.fromkeys(READINGS, "6f1d5f0e-6a0b-4a55-9a71-0f1b7fd7a9aa")
    with pytest.raises(ValueError, match="Load the page again"):
        read_ids(json.dumps(same))
