"""The pages of what an engine really had: the list, one valve, photos of then and now."""

import re
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import Limit, Person, PhotoKind
from tests.scenes import shelf
from tests.tapped import file_at, photo_of, sent, taps_on, tip
from tests.valvetrain.came_back import CameBack, built, comes_back, fit, log
from tests.valvetrain.marking import mark
from valvetrain.models import Head
from valvetrain.photo_pairs import Chosen, pair_at

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


@pytest.fixture
def came(builder: Person, photo_folder) -> CameBack:
    Limit.add_defaults()
    scene = built(builder)
    log(scene, "5E", installed_height="1.950", seat_load="250", open_load="640", lash_cold="0.004")
    mark(scene, "5E", inner="-0.019", outer="0.019")
    came = comes_back(scene)
    came.found.read_gap("5E", "0.012")
    log(came.found, "5E", lash_cold="0.008", seat_load="230")
    mark(came.found, "5E", inner="-0.020", outer="0.022")
    return came


def page(client, name: str, *args: object, **asked: str) -> str:
    answer = client.get(reverse(name, args=args), asked)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", unescape(answer.content.decode()))


def test_the_list_has_every_valve_and_what_changed_most_first(bench_client, came):
    shown = page(bench_client, "return-geometry", came.job.pk)
    assert re.findall(r'class="button" href="[^"]*/really-had/(\w+)/"', shown)[0] == "5E"
    assert '0.0140 in low<p class="why">was at its height' in shown  # .012, and half of .004 less lift
    assert "height −0.0120 in, 2.4 × its limit, ± 0.0050 in" in shown
    assert (
        '1 of 16 valves read at both times; <strong class="sign-out">1 changed by more than its limit'
        in shown
    )


def test_what_is_from_then_is_not_shown_as_found(bench_client, came):
    came.found.read_gap("1E", "0.001")
    shown = page(bench_client, "return-geometry", came.job.pk)
    assert '<span class="lent">0.7000 in</span><p class="why">from then, not read</p>' in shown


def test_a_section_of_the_returns_page_tells_the_worst(bench_client, came):
    shown = bench_client.get(reverse("return-geometry", args=[came.job.pk]), headers=HTMX).content.decode()
    assert "<html" not in shown
    assert "5E stood 0.0140 in low" in unescape(shown)
    assert reverse("return-geometry", args=[came.job.pk]) in page(bench_client, "job-detail", came.job.pk)
    assert "really-had" not in page(bench_client, "job-detail", came.left.build.pk)


def test_a_valves_page_has_words_figures_and_drawings(bench_client, came):
    shown = page(bench_client, "return-valve", came.job.pk, "5E")
    assert "5E stood 0.0140 in low" in shown
    assert "When it left 5E stood at its height" in shown
    assert "0.038 when it left" in shown
    assert "0.042 as found" in shown
    assert "shaft as found 0.0140 low" in shown
    assert shown.count("<svg") == 3
    assert "style=" not in shown


def test_a_reader_of_millimetres_gets_millimetres(bench_client, came, builder):
    builder.length_unit = "mm"
    builder.save()
    shown = page(bench_client, "return-valve", came.job.pk, "5E")
    assert "5E stood 0.356 mm low" in shown
    assert "1.07 as found" in shown
    assert "N instead of" in shown


def test_a_valve_with_nothing_read_says_so_and_draws_what_it_left_with(bench_client, came):
    shown = page(bench_client, "return-valve", came.job.pk, "2E")
    assert "2E: no height was read as found" in shown
    assert "No mark was read and no height either" in shown


@pytest.mark.parametrize("address", ["99E", "5E'); --", "<script>", "5e"])
def test_a_valve_that_is_not_there_is_not_found(bench_client, came, address):
    answer = bench_client.get(reverse("return-valve", args=[came.job.pk, address]))
    assert answer.status_code == 404


def test_a_job_that_looks_at_no_other_has_no_such_page(bench_client, came):
    for name, args in (("return-geometry", ()), ("return-valve", ("5E",)), ("return-photos", ())):
        answer = bench_client.get(reverse(name, args=[came.left.build.pk, *args]))
        assert answer.status_code == 404


def test_nobody_without_a_log_in(stranger, came):
    assert stranger.get(reverse("return-geometry", args=[came.job.pk])).status_code == 302


def measured(client, photo, scene, picture) -> None:
    """Measure the mark on a photo, as the page sends it."""

    answer = client.post(
        reverse("measure-mark-save", args=[scene.head_of("5E").pk, "5E", photo.client_id]),
        sent(taps_on(picture)),
    )
    assert answer.status_code in (200, 302), answer.content


@pytest.fixture
def pictures():
    """A tip as it left, and as found: smaller in its picture, and the camera turned."""
    return tip(tilt=0.0), tip(tilt=0.0, inner=-0.05, outer=0.06, pixels_across=300.0, turn=20.0)


def test_photos_lie_rim_over_rim_where_the_mark_was_measured_on_both(bench_client, came, pictures):
    came.left.build.went_out_on, day = None, came.left.build.went_out_on
    came.left.build.save()
    photos = [
        photo_of(picture, scene, "5E")
        for picture, scene in zip(pictures, (came.left, came.found), strict=True)
    ]
    for photo, picture, scene in zip(photos, pictures, (came.left, came.found), strict=True):
        measured(bench_client, photo, scene, picture)
    came.left.build.went_out_on = day
    came.left.build.save()
    for number in range(2):  # newer, and not measured
        photo_of(pictures[number], (came.left, came.found)[number], "5E")
    board = pair_at(came.job, Chosen("5E", PhotoKind.WITNESS_MARK.value))
    assert (board.pair.then, board.pair.now) == tuple(photos)
    assert "so that the rims lie over one another, and turned" in board.pair.note
    # Independent: the drawing's own rim, carried over by the matrix, must lie on the other drawing's.
    a, b, c, d, e, f = board.pair.matrix
    over = pictures[1].rim_points(12) @ np.array([[a, b], [c, d]]) + np.array([e, f])
    there = pictures[0].rim_points(12)
    centre, radius = there.mean(axis=0), np.hypot(*(there - there.mean(axis=0)).T).mean()
    assert np.hypot(*(over - centre).T) == pytest.approx(np.full(12, radius), abs=1.5)
    # What lies on the inner edge of one lies along the inner edge of the other: both run the same way.
    along = np.diff(pictures[1].inner_points(2) @ np.array([[a, b], [c, d]]), axis=0)[0]
    beside = np.diff(pictures[0].inner_points(2), axis=0)[0]
    assert abs(along[0] * beside[1] - along[1] * beside[0]) / np.hypot(*along) / np.hypot(*beside) < 0.02


def test_photos_that_were_not_measured_lie_edge_to_edge_and_say_so(bench_client, came, pictures):
    photo_of(pictures[0], came.left, "5E")
    photo_of(pictures[1], came.found, "5E")
    shown = page(bench_client, "return-valve", came.job.pk, "5E")
    assert "The mark was measured on neither photo, so they lie edge to edge, not rim over rim." in shown
    assert shown.count("data-beside") == 1
    assert "style=" not in shown


def test_another_pair_is_chosen(bench_client, came, pictures):
    thens = [photo_of(pictures[0], came.left, "5E") for _each in range(2)]
    now = photo_of(pictures[1], came.found, "5E")
    shown = page(
        bench_client, "return-valve", came.job.pk, "5E", then=str(thens[0].client_id), now="nonsense"
    )
    assert f'value="{thens[0].client_id}" selected' in shown
    assert f'value="{now.client_id}" selected' in shown


def test_a_photo_taken_after_work_is_not_shown_as_found_unless_it_is_asked_for(came, pictures):
    photo_of(pictures[0], came.left, "5E")
    was_found = photo_of(pictures[1], came.found, "5E")
    fit(came.found, "L.stand3", "0.030")
    later = photo_of(pictures[0], came.found, "5E")
    place = Chosen("5E", PhotoKind.WITNESS_MARK.value)
    assert pair_at(came.job, place).pair.now == was_found
    assert pair_at(came.job, place, now=str(later.client_id)).pair.now == later


def test_a_photo_of_one_time_alone_says_which_is_missing(bench_client, came, pictures):
    photo_of(pictures[0], came.left, "5E")
    shown = page(bench_client, "return-valve", came.job.pk, "5E")
    assert "No photo as found is filed at 5E, witness mark: there is nothing to lay over the other." in shown


def test_every_place_with_photos_of_both_times_is_offered_and_no_other(bench_client, came, pictures):
    for scene, position, kind in (
        (came.left, "5E", "witness-mark"), (came.found, "5E", "witness-mark"), (came.left, "L.stand1", "damage"),
        (came.found, "L.stand1", "damage"), (came.left, "1E", "witness-mark"), (came.found, "3E", "part"),
    ):  # fmt: skip
        photo_of(pictures[0], scene, position, kind)
    photo_of(pictures[0], came.left, "7E")
    file_at(photo_of(pictures[0], came.found, "7E"), "7E", came.found, set_aside=True, reason="blurred")
    shown = page(bench_client, "return-photos", came.job.pk)
    assert re.findall(r"\?at=([^&]*)&kind=([a-z-]*)", shown) == [
        ("5E", "witness-mark"),
        ("L.stand1", "damage"),
    ]
    other = page(bench_client, "return-photos", came.job.pk, at="L.stand1", kind="damage")
    assert "They show no tip, so they lie edge to edge." in other


def test_without_photos_it_says_what_to_do(bench_client, came):
    assert "No place has photos of both times yet." in page(bench_client, "return-photos", came.job.pk)


@pytest.mark.parametrize(
    "asked", [{"at": "<b>\0", "kind": "x" * 300}, {"then": "' OR 1=1", "now": "\0"}, {"page": "-3"}]
)
def test_hostile_choices_are_plain_text(bench_client, came, pictures, asked):
    for scene in (came.left, came.found):
        photo_of(pictures[0], scene, "5E")
    answer = bench_client.get(reverse("return-photos", args=[came.job.pk]), asked)
    assert answer.status_code == 200
    assert b"<b>" not in answer.content


def test_a_page_asks_as_much_for_32_valves_as_for_8(bench_client, came, pictures):
    def asked(name: str, *args: object) -> int:
        bench_client.get(reverse(name, args=[came.job.pk, *args]))
        with CaptureQueriesContext(connection) as captured:
            page(bench_client, name, came.job.pk, *args)
        return len(captured)

    for job in (came.left.build, came.found.build):
        Head.objects.get(build=job, code="R").delete()
    for scene in (came.left, came.found):
        photo_of(pictures[0], scene, "5E")
    pages = (("return-geometry",), ("return-valve", "5E"), ("return-photos",))
    few = [asked(*each) for each in pages]
    for job in (came.left.build, came.found.build):
        for code, first in (("A", 2), ("B", 9), ("C", 10)):
            cylinders = {place: first + 2 * (place - 1) for place in range(1, 5)}
            shelf()["V8 head, paired stands"].copy_to(job, code=code, name=code, cylinders=cylinders)
    for number, valve in enumerate(came.found.state().valves):
        log(came.found, valve.address, installed_height="1.955", solid_height="1.150")
        for scene in (came.left, came.found):
            photo_of(pictures[0], scene, valve.address, "damage" if number % 2 else "witness-mark")
    assert [asked(*each) for each in pages] == few
