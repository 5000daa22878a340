"""The pages and answers of a job's set-up log."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.models import Build, Instrument, Limit, Person, Reading
from builds.recording import Entry, record

Queries = Callable[[Client, str], int]


@pytest.fixture
def url(job: Build) -> str:
    """Where the readings of the cylinders go."""
    return reverse("log-reading", args=[job.pk, "cylinders"])


@pytest.fixture
def gauge(db: None) -> Instrument:
    """A bore gauge of the drawer."""
    return Instrument.objects.create(mark="BG-1", kind="dial")


def page(job: Build, step: str = "cylinders") -> str:
    return reverse("log-step", args=[job.pk, step])


def keyed(person: Person, **more: str) -> dict[str, str]:
    """What the tablet sends for one reading."""
    return {
        "client_id": str(uuid4()), "by": str(person.pk), "position": "cyl1", "characteristic": "bore",
        "value": "4.0300", "unit": "in", "set": "0", "taken_at": timezone.now().isoformat(), **more,
    }  # fmt: skip


def test_every_step_is_in_the_overview_with_how_far_it_is(bench_client: Client, job: Build, builder: Person):
    shown = bench_client.get(reverse("log", args=[job.pk])).text
    assert "0 of 8 read" in shown
    assert shown.index("Lift") < shown.index("Springs") < shown.index("Lash") < shown.index("Main bearings")
    assert "<!doctype html>" in shown


def test_the_jobs_page_gets_the_overview_as_a_section(bench_client: Client, job: Build):
    answer = bench_client.get(reverse("log", args=[job.pk]), headers={"hx-request": "true"})
    assert "<!doctype html>" not in answer.text
    assert reverse("job-limits", args=[job.pk]) in answer.text
    assert reverse("log", args=[job.pk]) in bench_client.get(job.get_absolute_url()).text


def test_a_step_has_a_field_for_each_thing_at_each_address(bench_client: Client, job: Build):
    shown = bench_client.get(page(job)).text
    for number in range(1, 9):
        assert f'id="f-cyl{number}-bore"' in shown
        assert f'href="#at-cyl{number}"' in shown
    assert 'type="number"' not in shown


def test_a_step_says_how_it_is_read_and_what_it_is_judged_by(bench_client: Client, job: Build):
    Limit.objects.create(build=job, key="bore", name="bore", low="4.0295", source="maker's sheet")
    shown = bench_client.get(page(job)).text
    assert "Across the cylinder, with a bore gauge." in shown
    assert "at least 4.0295 in" in shown
    assert "maker&#x27;s sheet" in shown


def test_a_step_leads_to_the_one_before_and_the_one_after(bench_client: Client, job: Build):
    shown = bench_client.get(page(job, "mains")).text
    assert page(job, "cylinders") in shown
    assert page(job, "block") in shown


def test_a_step_without_addresses_says_why_it_is_empty(bench_client: Client, job: Build):
    assert "There is no valve on this job yet" in bench_client.get(page(job, "springs")).text


def test_an_unknown_step_is_not_found(bench_client: Client, job: Build, builder: Person):
    assert bench_client.get(page(job, "paint")).status_code == 404
    answer = bench_client.post(reverse("log-reading", args=[job.pk, "paint"]), keyed(builder))
    assert answer.status_code == 404


def test_a_reading_is_written_and_its_parts_come_back(bench_client: Client, builder: Person, url: str):
    answer = bench_client.post(url, keyed(builder))
    assert Reading.objects.get().text == "4.0300"
    for part in ('id="tally"', 'id="chips"', 'id="verdict-cyl1-bore"', 'id="figures-cyl1"'):
        assert part in answer.text
    assert "verdict-cyl2-bore" not in answer.text
    assert "data-value" not in answer.text, "a slow answer must never write into a field"


def test_the_same_delivery_twice_is_one_reading(bench_client: Client, builder: Person, url: str):
    sent = keyed(builder)
    first, second = (bench_client.post(url, sent).text for _ in range(2))
    assert Reading.objects.count() == 1
    assert "mean" not in second
    assert "kept" in first


def test_a_delivery_that_comes_again_after_its_correction_does_not_count_again(
    bench_client: Client, builder: Person, url: str
):
    first = keyed(builder, value="4.3000")
    bench_client.post(url, first)
    bench_client.post(url, keyed(builder, value="4.0300", corrects=first["client_id"], reason="typed wrong"))
    answer = bench_client.post(url, first)
    assert "mean" not in answer.text


def test_one_number_for_two_values_is_refused(bench_client: Client, builder: Person, url: str):
    sent = keyed(builder)
    bench_client.post(url, sent)
    answer = bench_client.post(url, {**sent, "value": "4.0310"})
    assert answer.status_code == 422
    assert "already used for cyl1 = 4.0300 in" in answer.json()["sentence"]


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"value": ""}, "value", "Nothing was typed."),
        ({"value": "4.0.3"}, "value", "has two dots"),
        ({"value": "4,030.0"}, "value", "a comma and a dot"),
        ({"value": "wide"}, "value", "is not a number"),
        ({"value": "-4.03"}, "value", "is below zero, and this can't be"),
        ({"value": "4 lbf"}, "value", "“lbf” is a force"),
        ({"value": "40.30"}, "value", "is unusual (expected 1.0000 in to 8.0000 in)"),
        ({"unit": "furlong"}, "value", "is not a unit that fits here"),
        ({"position": "cyl9"}, "position", "There is no “cyl9” on job 2026-001."),
        ({"position": "main1"}, "position", "main1 is a main, and bore is measured at a cylinder."),
        ({"characteristic": "net_lift"}, "characteristic", "is not measured in the step cylinders"),
        ({"characteristic": ""}, "characteristic", "is not measured in the step cylinders"),
        ({"client_id": "x"}, "client_id", "This page is too old to save from."),
        ({"set": "-1"}, "set", "This page is too old to save from."),
        ({"set": "99999"}, "set", "This page is too old to save from."),
        ({"set": "²"}, "set", "This page is too old to save from."),
        ({"taken_at": "yesterday"}, "taken_at", "is not a time"),
        ({"instrument": "99999"}, "instrument", "not in the drawer any more"),
        ({"corrects": str(uuid4()), "reason": "x"}, "corrects", "The reading to correct is not in the book."),
        ({"by": "0"}, "by", "Somebody else keyed this in."),
        ({"note": "n" * 201}, "note", "The note is longer than 200 characters."),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    bench_client: Client, builder: Person, url: str, changed: dict[str, str], field: str, sentence: str
):
    answer = bench_client.post(url, keyed(builder, **changed))
    assert answer.status_code == 422
    assert answer.json()["field"] == field
    assert sentence in answer.json()["sentence"]
    assert not Reading.objects.exists()


def test_a_reading_of_tomorrow_is_refused(bench_client: Client, builder: Person, url: str):
    tomorrow = (timezone.now() + timedelta(days=1)).isoformat()
    answer = bench_client.post(url, keyed(builder, taken_at=tomorrow))
    assert "which is still to come" in answer.json()["sentence"]


def test_an_unusual_value_goes_in_once_it_is_meant(bench_client: Client, builder: Person, url: str):
    asked = bench_client.post(url, keyed(builder, value="9.5"))
    assert asked.json()["question"] is True
    assert bench_client.post(url, keyed(builder, value="9.5", sure="yes")).status_code == 200
    assert Reading.objects.get().text == "9.5"


def test_a_reading_after_work_is_a_set_of_its_own(bench_client: Client, builder: Person, url: str):
    gap = {"characteristic": "ring_gap_top"}
    bench_client.post(url, keyed(builder, value="0.012", **gap))
    answer = bench_client.post(url, keyed(builder, value="0.018", set="1", **gap))
    assert "1 from before the work" in answer.text


def test_what_is_out_says_so_in_a_word_with_its_limit(
    bench_client: Client, builder: Person, job: Build, url: str
):
    Limit.objects.create(build=job, key="bore", name="bore", high="4.0295", source="maker's sheet")
    answer = bench_client.post(url, keyed(builder)).text
    assert "at most 4.0295 in" in answer
    assert "1 out of limit" in answer


def test_the_instrument_is_remembered_for_its_step_alone(
    bench_client: Client, builder: Person, job: Build, url: str, gauge: Instrument
):
    bench_client.post(url, keyed(builder, instrument=str(gauge.pk)))
    assert f'<option value="{gauge.pk}" selected>' in bench_client.get(page(job)).text
    assert "selected" not in bench_client.get(page(job, "mains")).text
    assert Reading.objects.get().instrument == gauge


def test_a_reading_is_taken_back_with_a_reason_and_stays_in_the_book(
    bench_client: Client, builder: Person, job: Build, url: str
):
    sent = keyed(builder)
    bench_client.post(url, sent)
    strike = {"client_id": str(uuid4()), "corrects": sent["client_id"], "reason": "wrong cylinder"}
    for _ in range(2):
        answer = bench_client.post(reverse("log-strike", args=[job.pk, "cylinders"]), strike)
        assert "to read" in answer.text
    assert Reading.objects.count() == 2


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"reason": ""}, "Say why the reading is corrected"),
        ({"corrects": ""}, "The reading to take back is not in the book."),
        ({"corrects": "x"}, "The reading to correct is not in the book."),
        ({"client_id": ""}, "This page is too old to save from."),
    ],
)
def test_a_taking_back_that_cannot_be_is_refused(
    bench_client: Client, builder: Person, job: Build, url: str, changed: dict[str, str], sentence: str
):
    sent = keyed(builder)
    bench_client.post(url, sent)
    strike = {"client_id": str(uuid4()), "corrects": sent["client_id"], "reason": "wrong cylinder", **changed}
    answer = bench_client.post(reverse("log-strike", args=[job.pk, "cylinders"]), strike)
    assert (answer.status_code, sentence in answer.json()["sentence"]) == (422, True)
    assert Reading.objects.count() == 1


def test_a_closed_log_takes_nothing_and_can_be_looked_at(
    bench_client: Client, builder: Person, closed_job: Build
):
    answer = bench_client.post(reverse("log-reading", args=[closed_job.pk, "cylinders"]), keyed(builder))
    assert (answer.status_code, "its log is closed" in answer.json()["sentence"]) == (422, True)
    shown = bench_client.get(page(closed_job)).text
    assert "its log is closed" in shown
    assert "data-more" not in shown
    assert '<input id="f-' not in shown  # every field of a closed log is read-only
    assert "<input disabled" in shown


def test_nothing_is_taken_back_in_a_closed_log(bench_client: Client, builder: Person, job: Build, url: str):
    sent = keyed(builder)
    bench_client.post(url, sent)
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())
    strike = {"client_id": str(uuid4()), "corrects": sent["client_id"], "reason": "wrong cylinder"}
    answer = bench_client.post(reverse("log-strike", args=[job.pk, "cylinders"]), strike)
    assert answer.status_code == 422
    assert Reading.objects.count() == 1


@pytest.mark.parametrize("name", ["log-reading", "log-strike"])
def test_nobody_writes_without_logging_in(stranger: Client, builder: Person, job: Build, name: str):
    answer = stranger.post(reverse(name, args=[job.pk, "cylinders"]), keyed(builder))
    assert answer.url.startswith(reverse("login"))
    assert not Reading.objects.exists()


@pytest.mark.parametrize("name", ["log-reading", "log-strike"])
def test_somebody_deactivated_writes_nothing(left_client: Client, builder: Person, job: Build, name: str):
    left_client.post(reverse(name, args=[job.pk, "cylinders"]), keyed(builder))
    assert not Reading.objects.exists()


@pytest.mark.parametrize("name", ["log-reading", "log-strike"])
def test_looking_at_where_readings_go_changes_nothing(bench_client: Client, job: Build, name: str):
    assert bench_client.get(reverse(name, args=[job.pk, "cylinders"])).status_code == 405


def fill(job: Build, person: Person, count: int) -> None:
    """Write so many readings of the cylinders."""
    keys = ("bore", "piston_diameter", "ring_gap_top", "ring_gap_second", "rod_clearance", "deck_clearance")
    texts = ("4.03", "4.0255", "0.018", "0.020", "0.0025", "0.005")
    for number in range(count):
        which, cylinder = number % 6, number // 6 % 8 + 1
        record(job, person, Entry(uuid4(), f"cyl{cylinder}", keys[which], texts[which], "in"))


@pytest.mark.parametrize("step", ["cylinders", "block", "mains"])
def test_a_step_asks_the_same_with_3_and_with_60_readings(
    bench_client: Client, builder: Person, job: Build, queries: Queries, step: str
):
    fill(job, builder, 3)
    few = queries(bench_client, page(job, step))
    fill(job, builder, 57)
    assert queries(bench_client, page(job, step)) == few


def test_the_overview_asks_the_same_with_3_and_with_60_readings(
    bench_client: Client, builder: Person, job: Build, queries: Queries
):
    fill(job, builder, 3)
    few = queries(bench_client, reverse("log", args=[job.pk]))
    fill(job, builder, 57)
    assert queries(bench_client, reverse("log", args=[job.pk])) == few


def test_a_saved_reading_costs_the_same_with_3_and_with_60_before_it(
    bench_client: Client, builder: Person, job: Build, url: str
):
    def cost() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench_client.post(url, keyed(builder)).status_code == 200
        return len(captured)

    fill(job, builder, 3)
    cost()  # what is kept in the log-in from the first reading on
    few = cost()
    fill(job, builder, 57)
    assert cost() == few
