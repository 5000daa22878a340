"""The bench's pages and answers."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Instrument, Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import CamCard, FittedPack, HeightGauge, Stand


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


@pytest.fixture
def url(scene: Scene) -> str:
    return reverse("bench-reading", args=[scene.left.pk])


def keyed(scene: Scene, **more: str) -> dict[str, str]:
    """What the tablet sends for one gap."""
    return {
        "client_id": str(uuid4()), "by": str(scene.person.pk), "position": "1E", "characteristic": "stand_gap",
        "value": "0.024", "unit": "in", "instrument": str(scene.gauge.instrument_id), "pack": "",
        "taken_at": timezone.now().isoformat(), "open": "L.stand1",
    } | more  # fmt: skip


def pack_url(scene: Scene) -> str:
    return reverse("bench-pack", args=[scene.left.pk, Stand.objects.get(head=scene.left, name="stand1").pk])


def test_it_opens_at_the_next_thing_to_do(scene, bench_client):
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert "Next: Read 1E" in page
    assert 'data-row="1E"' in page


def test_a_balloon_opens_its_stand(scene, bench_client):
    page = bench_client.get(reverse("bench-at", args=[scene.left.pk, "5I"])).content.decode()
    assert 'data-row="5I"' in page
    assert "<!doctype html>" in page


def test_htmx_gets_only_the_board(scene, bench_client):
    answer = bench_client.get(reverse("bench-at", args=[scene.left.pk, "5I"]), headers={"hx-request": "true"})
    assert "<!doctype html>" not in answer.content.decode()
    assert "HX-Request" in answer.headers["Vary"]


def test_an_address_that_is_not_there_opens_the_next_thing(scene, bench_client):
    assert bench_client.get(reverse("bench-at", args=[scene.left.pk, "99X"])).status_code == 200


@pytest.mark.parametrize("name", ["bench"])
def test_a_head_that_is_not_there_is_a_404(scene, bench_client, name):
    assert bench_client.get(reverse(name, args=[99999])).status_code == 404


def test_a_saved_gap_is_answered_with_what_it_comes_to(scene, bench_client, url):
    answer = bench_client.post(url, keyed(scene)).content.decode()
    assert "0.024 in low" in answer
    assert "Read the height at 1I" in answer


def test_the_last_gap_of_a_stand_is_answered_with_the_act(scene, bench_client, url):
    bench_client.post(url, keyed(scene))
    answer = bench_client.post(url, keyed(scene, position="1I", value="0.026")).content.decode()
    assert "Raise 0.025 in: add .015 + .010 under each pad" in answer


def test_the_answer_tells_the_plan_its_states(scene, bench_client, url):
    answer = bench_client.post(url, keyed(scene, value="0")).content.decode()
    assert "1E=is-done" in answer
    assert "L.stand1=is-todo" in answer


def test_the_answer_is_for_the_stand_that_is_open(scene, bench_client, url):
    answer = bench_client.post(url, keyed(scene, open="L.stand2")).content.decode()
    assert 'data-address="L.stand2"' in answer


def test_the_same_entry_sent_twice_is_written_once(scene, bench_client, url):
    entry = keyed(scene)
    first, second = bench_client.post(url, entry), bench_client.post(url, entry)
    assert (first.status_code, second.status_code) == (200, 200)
    assert Reading.objects.count() == 1


def test_the_same_number_for_another_value_is_refused(scene, bench_client, url):
    entry = keyed(scene)
    bench_client.post(url, entry)
    answer = bench_client.post(url, entry | {"value": "0.030"})
    assert answer.status_code == 422
    assert Reading.objects.get().text == "0.024"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"value": ""}, "Nothing was typed"),
        ({"value": "0.0.24"}, "has two dots"),
        ({"value": "-0.024"}, "below zero"),
        ({"value": "0.024 lbf"}, "is a force"),
        ({"value": "212"}, "212 in is unusual"),
        ({"position": "9E"}, "There is no valve “9E” on Left head"),
        ({"characteristic": "colour"}, "is not something the bench reads"),
        ({"instrument": ""}, "Say which height gauge was used"),
        ({"instrument": "99999"}, "not in the drawer any more"),
        ({"unit": "furlong"}, "is not a unit for lengths"),
        ({"client_id": "nonsense"}, "This page is too old"),
        ({"taken_at": "yesterday"}, "is not a time"),
        ({"taken_at": "2026-13-45T99:00:00Z"}, "is not a time"),
        ({"pack": "6b1f6a1e-0000-4000-8000-000000000000"}, "was never fitted under its stand"),
        ({"corrects": "6b1f6a1e-0000-4000-8000-000000000000", "reason": "typed wrong"}, "not in the book"),
        ({"by": "99999"}, "Somebody else keyed this in"),
    ],
)
def test_bad_input_gets_a_sentence_and_writes_nothing(scene, bench_client, url, changed, sentence):
    answer = bench_client.post(url, keyed(scene, **changed))
    assert answer.status_code == 422
    assert sentence in answer.json()["sentence"]
    assert not Reading.objects.exists()


def test_a_reading_from_the_future_is_refused(scene, bench_client, url):
    moment = (timezone.now() + timedelta(hours=2)).isoformat()
    assert "still to come" in bench_client.post(url, keyed(scene, taken_at=moment)).json()["sentence"]


def test_thousandths_typed_as_whole_numbers_are_offered_right(scene, bench_client, url):
    answer = bench_client.post(url, keyed(scene, value="212")).json()
    assert answer["question"]
    assert answer["offers"] == ["0.212 in"]


def test_another_way_of_reading_is_not_averaged_without_a_word(scene, bench_client, url):
    bench_client.post(url, keyed(scene, value="0.024"))
    answer = bench_client.post(url, keyed(scene, value="0.212", characteristic="top_of_shaft")).json()
    assert answer["question"]
    assert "was read as gap with this pack already (0.024)" in answer["sentence"]


def test_a_height_far_from_its_target_is_asked_about(scene, bench_client, url):
    answer = bench_client.post(url, keyed(scene, value="-0.47", characteristic="top_of_shaft")).json()
    # the right top is 0.235: −0.47 would put the shaft 0.705 low
    assert "this would put the shaft 0.705 in low" in answer["sentence"]


def test_a_repeat_far_from_the_reading_before_is_asked_about(scene, bench_client, url):
    bench_client.post(url, keyed(scene, value="0.024"))
    assert (
        "0.026 in from what was read before"
        in bench_client.post(url, keyed(scene, value="0.050")).json()["sentence"]
    )


def test_a_page_that_has_not_heard_of_the_newest_pack_is_asked(scene, bench_client, url):
    """Two tablets at one stand: a proof must not slip into the readings from before the pack."""
    scene.fit("L.stand1", "0.015")
    answer = bench_client.post(url, keyed(scene, pack="")).json()
    assert answer["question"]
    assert "another pack was fitted under its stand since this page was opened" in answer["sentence"]


def test_the_gauge_that_was_used_on_a_stand_is_offered_there_again(scene, bench_client):
    other = Instrument.objects.create(mark="AA-9", kind="height-gauge")
    HeightGauge.objects.create(instrument=other, step="0.280")
    scene.read_gap("1E", "0.024")
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert f'data-instrument="{scene.gauge.instrument_id}"' in page


def test_an_address_that_is_not_there_is_said(scene, bench_client):
    page = bench_client.get(reverse("bench-at", args=[scene.left.pk, "99X"])).content.decode()
    assert "There is no “99X” on this head" in page


def test_a_closed_bench_has_no_open_fields(scene, bench_client):
    scene.build.went_out_on = date(2026, 3, 1)
    scene.build.save()
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert "data-fit" not in page
    assert page.count(" disabled") >= 2


def test_what_is_missing_is_linked(scene, bench_client):
    CamCard.objects.all().delete()
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert reverse("cam-card", args=[scene.build.pk]) in page


def test_reasons_to_look_again_are_told_once_for_all_their_valves(scene, bench_client):
    scene.read_gap("1E", "0")
    scene.read_gap("1I", "0")
    HeightGauge.objects.update(step="0.236")
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert "1E, 1I: the gauge’s step was 0.2350 in when it was read, now 0.2360 in." in page


def test_an_unusual_value_goes_in_once_it_is_meant(scene, bench_client, url):
    assert bench_client.post(url, keyed(scene, value="0.4", sure="yes")).status_code == 200


def test_a_correction_names_the_old_reading_and_says_why(scene, bench_client, url):
    first = keyed(scene)
    bench_client.post(url, first)
    bench_client.post(
        url, keyed(scene, value="0.026", corrects=first["client_id"], reason="Typed wrong before")
    )
    old, new = Reading.objects.order_by("pk")
    assert (old.text, new.corrects, new.reason) == ("0.024", old, "Typed wrong before")


def test_a_correction_without_a_reason_is_refused(scene, bench_client, url):
    first = keyed(scene)
    bench_client.post(url, first)
    answer = bench_client.post(url, keyed(scene, value="0.026", corrects=first["client_id"]))
    assert "Say why" in answer.json()["sentence"]


def test_a_reading_taken_back_no_longer_counts(scene, bench_client, url):
    first = keyed(scene)
    bench_client.post(url, first)
    answer = bench_client.post(
        reverse("bench-strike", args=[scene.left.pk]),
        {
            "client_id": str(uuid4()),
            "corrects": first["client_id"],
            "reason": "Wrong valve",
            "open": "L.stand1",
        },
    )
    assert "Read the height at 1E and 1I" in answer.content.decode()
    assert Reading.objects.count() == 2


@pytest.mark.parametrize("corrects", ["", "nonsense", "6b1f6a1e-0000-4000-8000-000000000000"])
def test_taking_back_what_is_not_there_is_a_sentence(scene, bench_client, corrects):
    answer = bench_client.post(
        reverse("bench-strike", args=[scene.left.pk]),
        {"client_id": str(uuid4()), "corrects": corrects, "reason": "x"},
    )
    assert answer.status_code == 422
    assert "is not in the book" in answer.json()["sentence"]


def test_a_pack_is_fitted_and_must_be_proved(scene, bench_client):
    answer = bench_client.post(
        pack_url(scene), {"client_id": str(uuid4()), "pieces": "0.0150000000inx2", "unit": "in"}
    )
    assert "Prove it: read 1E and 1I again with .015 + .015 in place" in answer.content.decode()


def test_pieces_may_be_typed_as_they_are_called(scene, bench_client):
    bench_client.post(
        pack_url(scene), {"client_id": str(uuid4()), "pieces": ".015 + .010 .010", "unit": "in"}
    )
    assert str(FittedPack.objects.get().total().normalize()) == "0.035"


def test_a_measured_total_goes_in_with_the_pack_and_is_told_with_the_difference(scene, bench_client):
    sent = {"client_id": str(uuid4()), "pieces": ".015 .010", "unit": "in", "measured": ".0254"}
    answer = bench_client.post(pack_url(scene), sent).content.decode()
    assert ".015 + .010 = 0.0254 in by micrometer, 0.0004 in more than its pieces say" in answer


def test_a_measured_total_that_cannot_be_gets_a_sentence(scene, bench_client):
    sent = {"client_id": str(uuid4()), "pieces": ".015", "unit": "in", "measured": "0.15"}
    answer = bench_client.post(pack_url(scene), sent)
    assert (answer.status_code, answer.json()["field"]) == (422, "measured")
    assert not FittedPack.objects.exists()


def test_old_shims_may_be_said_to_be_scrap(scene, bench_client):
    scene.fit("L.stand1", "0.015")
    bench_client.post(pack_url(scene), {"client_id": str(uuid4()), "pieces": ".010", "scrapped": "yes"})
    assert FittedPack.objects.last().old_scrapped


def test_no_pieces_is_no_shims(scene, bench_client):
    bench_client.post(pack_url(scene), {"client_id": str(uuid4()), "pieces": "", "unit": "in"})
    assert FittedPack.objects.get().total() == 0


@pytest.mark.parametrize("pieces", ["abc", ".015x", ".015x0", "-0.010", ".001x13", "1..5"])
def test_what_is_no_pack_gets_a_sentence_and_writes_nothing(scene, bench_client, pieces):
    answer = bench_client.post(pack_url(scene), {"client_id": str(uuid4()), "pieces": pieces, "unit": "in"})
    assert answer.status_code == 422
    assert len(answer.json()["sentence"]) > 20
    assert not FittedPack.objects.exists()


def test_what_is_read_may_be_chosen_and_stays_chosen(scene, bench_client):
    bench_client.post(
        reverse("bench-way", args=[scene.left.pk]), {"way": "underside_of_shaft", "at": "L.stand1"}
    )
    page = bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert 'data-way="underside_of_shaft"' in page
    assert "data-sign-for" in page  # the underside may be below the tip: a ± key is there


def test_a_person_who_reads_millimetres_sees_millimetres(scene, bench_client, builder):
    builder.length_unit = "mm"
    builder.save()
    scene.read_gap("1E", "0.024")
    page = bench_client.get(reverse("bench-at", args=[scene.left.pk, "1E"])).content.decode()
    assert "0.610 mm low" in page


def test_a_closed_job_shows_its_log_and_takes_nothing(scene, bench_client, url):
    scene.build.went_out_on = date(2026, 3, 1)
    scene.build.save()
    assert "its log is closed" in bench_client.get(reverse("bench", args=[scene.left.pk])).content.decode()
    assert "log is closed" in bench_client.post(url, keyed(scene)).json()["sentence"]


def test_nobody_writes_without_a_log_in(scene, url):
    for target in (url, pack_url(scene), reverse("bench-strike", args=[scene.left.pk])):
        assert Client().post(target, keyed(scene)).status_code == 302
    assert not Reading.objects.exists()


def test_a_person_who_has_left_cannot_write(scene, bench_client, builder, url):
    builder.is_active = False
    builder.save()
    assert bench_client.post(url, keyed(scene)).status_code == 302
    assert not Reading.objects.exists()


def test_a_stand_of_another_head_is_a_404(scene, bench_client):
    other = Stand.objects.filter(head=scene.right).first()
    answer = bench_client.post(
        reverse("bench-pack", args=[scene.left.pk, other.pk]), {"client_id": str(uuid4())}
    )
    assert answer.status_code == 404


def test_saving_takes_as_many_queries_on_a_full_head_as_on_an_empty_one(
    scene, bench_client, url, django_assert_num_queries
):
    scene.fit("L.stand2", "0.015")
    bench_client.post(url, keyed(scene))  # the hardware is kept from here on
    with django_assert_num_queries(12):
        bench_client.post(url, keyed(scene, position="1I"))
    for address in ("3E", "3I", "5E", "5I", "7E", "7I"):
        scene.read_gap(address, "0.010")
    with django_assert_num_queries(12):
        bench_client.post(url, keyed(scene, position="1I"))


def test_hardware_changed_behind_the_books_back_is_seen_at_the_next_reading(scene, bench_client, url):
    """What is kept from save to save goes by a token that the database itself changes: `update()` sends no signal."""
    bench_client.post(url, keyed(scene, value="0"))
    type(scene.gauge).objects.update(step="0.236")
    answer = bench_client.post(url, keyed(scene, position="1I", value="0")).content.decode()
    assert "1E: the gauge’s step was 0.2350 in when it was read, now 0.2360 in." in answer
