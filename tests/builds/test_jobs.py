"""Jobs: the list, the file, a new one, and its days."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds import panels
from builds.models import Build, Engine, Person, Reading
from builds.panels import Panel

Queries = Callable[[Client, str], int]
TODAY = timezone.localdate()


def open_jobs(engine: Engine, first: int, count: int) -> None:
    """Open jobs in a row, each with a reading."""
    person = Person.objects.get(username="nora")
    for number in range(first, first + count):
        job = Build.objects.create(engine=engine, job_number=f"J-{number}")
        read(job, person, "cyl1", "4.125")


def read(job: Build, person: Person, place: str, text: str, **fields: object) -> Reading:
    """A reading straight into the book."""
    value = None if text == "" else Decimal(text)
    return Reading.objects.create(
        client_id=uuid4(), build=job, position=place, characteristic="cylinder_bore", text=text, unit="in",
        value=value, taken_by=person, **fields,
    )  # fmt: skip


def new_job(**changed: str) -> dict[str, str]:
    """What the form of a new job sends."""
    return {"job_number": "2026-009", "title": "new cam", "opened_on": "2026-01-05", **changed}


def test_the_front_page_lists_jobs_with_their_state(bench_client: Client, job: Build) -> None:
    answer = bench_client.get("/")
    assert "2026-001" in answer.text
    assert '<span class="state open">open</span>' in answer.text


def test_a_job_with_a_reading_is_on_the_bench(bench_client: Client, job: Build, builder: Person) -> None:
    read(job, builder, "cyl1", "4.125")
    assert '<span class="state on-the-bench">on the bench</span>' in bench_client.get("/").text


def test_an_empty_book_says_how_to_begin(bench_client: Client) -> None:
    assert "No jobs yet" in bench_client.get("/").text


def test_the_list_of_jobs_asks_the_same_for_3_and_for_60(
    bench_client: Client, engine: Engine, queries: Queries
) -> None:
    open_jobs(engine, 1, 3)
    few = queries(bench_client, "/")
    open_jobs(engine, 4, 57)
    assert queries(bench_client, "/") == few


@pytest.mark.parametrize(
    ("asked", "shown"), [("1", 1), ("2", 2), ("999", 2), ("abc", 1), ("-4", 1), ("0", 1)]
)
def test_a_page_that_is_not_there_shows_the_nearest(
    bench_client: Client, engine: Engine, asked: str, shown: int
) -> None:
    open_jobs(engine, 1, 30)
    assert f"Page {shown} of 2" in bench_client.get("/", {"page": asked}).text


def test_a_new_job_has_the_next_number_of_the_year_filled_in(bench_client: Client, engine: Engine) -> None:
    Build.objects.create(engine=engine, job_number=f"{TODAY.year}-041")
    page = bench_client.get(reverse("job-open", args=[engine.pk]))
    assert f'value="{TODAY.year}-042"' in page.text


def test_the_next_number_passes_over_numbers_of_the_shops_own(engine: Engine) -> None:
    for number in ("2026-007", "2026-boat", "2025-090", "17"):
        Build.objects.create(engine=engine, job_number=number)
    assert Build.next_number(date(2026, 5, 1)) == "2026-008"


def test_a_new_job_names_who_opened_it(bench_client: Client, engine: Engine, builder: Person) -> None:
    answer = bench_client.post(reverse("job-open", args=[engine.pk]), new_job())
    job = Build.objects.get()
    assert answer.url == job.get_absolute_url()
    assert (job.engine, job.opened_by) == (engine, builder)


def test_a_job_form_sent_twice_opens_one_job(bench_client: Client, engine: Engine) -> None:
    sent = new_job(form_token=str(uuid4()))
    answers = [bench_client.post(reverse("job-open", args=[engine.pk]), sent) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert Build.objects.count() == 1


@pytest.mark.parametrize("number", ["2026-001", " 2026-001 "])
def test_a_number_that_is_taken_is_refused_with_the_next_free_one(
    bench_client: Client, job: Build, number: str
) -> None:
    answer = bench_client.post(reverse("job-open", args=[job.engine_id]), new_job(job_number=number))
    assert answer.status_code == 422
    assert f"is in the book already. The next free number is {Build.next_number()}" in answer.text
    assert 'value="new cam"' in answer.text  # what was typed stays


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"job_number": ""}, "Job number: nothing is filled in."),
        ({"job_number": "9" * 31}, "Job number: this has 31 characters, and there is room for 30."),
        ({"opened_on": "tomorrow"}, "Opened: that is not a date. Pick one, or type it like 2026-11-25."),
        ({"opened_on": "0202-01-05"}, "Opened: the year 202 is too long ago."),
        (
            {"promised_on": "2026-01-04"},
            "Promised for delivery on 04 Jan 2026 is before it was opened, 05 Jan 2026.",
        ),
        ({"note": "x" * 4001}, "Note: this has 4001 characters, and there is room for 4000."),
        ({"title": "a\x00b"}, "there is a sign in it that cannot be kept"),
    ],
)
def test_a_job_that_cannot_be_is_refused_with_a_sentence(
    bench_client: Client, engine: Engine, changed: dict[str, str], sentence: str
) -> None:
    answer = bench_client.post(reverse("job-open", args=[engine.pk]), new_job(**changed))
    assert answer.status_code == 422
    assert sentence in answer.text
    assert not Build.objects.exists()


def test_a_very_long_page_of_text_is_refused_in_words(bench_client: Client, engine: Engine) -> None:
    answer = bench_client.post(reverse("job-open", args=[engine.pk]), new_job(note="x" * 1_100_000))
    assert answer.status_code == 400
    assert "More was sent than a page of this book holds" in answer.text


@pytest.mark.parametrize(
    ("days", "field", "sentence"),
    [
        ({"went_out_on": date(2026, 1, 4)}, "went_out_on", "before it was opened"),
        ({"came_back_on": date(2026, 1, 6)}, "came_back_on", "only come back after it went out"),
        (
            {"went_out_on": date(2026, 1, 8), "came_back_on": date(2026, 1, 7)},
            "came_back_on",
            "Coming back on 07 Jan 2026 is before it went out, 08 Jan 2026",
        ),
        ({"went_out_on": TODAY + timedelta(1)}, "went_out_on", "still to come"),
        (
            {"went_out_on": date(2026, 1, 8), "came_back_on": TODAY + timedelta(1)},
            "came_back_on",
            "still to come",
        ),
    ],
)
def test_days_that_cannot_follow_one_another_are_refused(
    days: dict[str, date], field: str, sentence: str
) -> None:
    job = Build(job_number="1", opened_on=date(2026, 1, 5), **days)
    with pytest.raises(ValidationError, match=sentence) as refused:
        job.clean()
    assert list(refused.value.message_dict) == [field]


def test_out_and_back_on_one_day_is_possible() -> None:
    Build(opened_on=TODAY, promised_on=TODAY, went_out_on=TODAY, came_back_on=TODAY).clean()


def edit(**changed: str) -> dict[str, str]:
    """What the form of an existing job sends."""
    return {"job_number": "2026-001", "opened_on": "2026-01-05", **changed}


def test_going_out_closes_the_log(bench_client: Client, job: Build) -> None:
    bench_client.post(reverse("job-edit", args=[job.pk]), edit(went_out_on="2026-02-01"))
    job.refresh_from_db()
    assert not job.takes_readings
    page = bench_client.get(job.get_absolute_url()).text
    assert "its log is closed" in page
    assert "Add a part" not in page


def test_a_refused_day_stands_on_the_page_as_it_was_typed(bench_client: Client, job: Build) -> None:
    answer = bench_client.post(reverse("job-edit", args=[job.pk]), edit(came_back_on="2026-02-01"))
    assert 'value="2026-02-01"' in answer.text
    assert "only come back after it went out" in answer.text


def test_a_builder_does_not_open_a_closed_log_again(bench_client: Client, closed_job: Build) -> None:
    sent = edit(job_number=closed_job.job_number)
    answer = bench_client.post(reverse("job-edit", args=[closed_job.pk]), sent)
    assert "Only an owner may take that date away" in answer.text
    closed_job.refresh_from_db()
    assert not closed_job.takes_readings


def test_an_owner_opens_a_closed_log_again(owner_client: Client, closed_job: Build) -> None:
    sent = edit(job_number=closed_job.job_number)
    assert owner_client.post(reverse("job-edit", args=[closed_job.pk]), sent).status_code == 302
    closed_job.refresh_from_db()
    assert closed_job.takes_readings


def test_saving_writes_only_what_changed(bench_client: Client, job: Build) -> None:
    page = reverse("job-edit", args=[job.pk])
    bench_client.get(page)
    Build.objects.filter(pk=job.pk).update(note="written meanwhile")
    bench_client.post(page, edit(title="other words", note="written meanwhile"))
    job.refresh_from_db()
    assert (job.title, job.note) == ("other words", "written meanwhile")


def test_html_in_a_note_is_shown_as_it_was_typed(bench_client: Client, job: Build) -> None:
    Build.objects.filter(pk=job.pk).update(note="<script>alert(1)</script> ünïcode ½ 😀")
    page = bench_client.get(job.get_absolute_url()).text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; ünïcode ½ 😀" in page


def test_the_job_page_asks_the_same_for_few_and_for_many_records(
    bench_client: Client, job: Build, builder: Person, queries: Queries
) -> None:
    def add(count: int) -> None:
        for _ in range(count):
            job.parts.create(role="pushrod")
            read(job, builder, "cyl1", "4.125")

    add(3)
    few = queries(bench_client, job.get_absolute_url())
    add(57)
    assert queries(bench_client, job.get_absolute_url()) == few


def test_the_log_asks_the_same_for_3_and_for_60_readings(
    bench_client: Client, job: Build, builder: Person, queries: Queries
) -> None:
    page = reverse("job-readings", args=[job.pk])
    for _ in range(3):
        read(job, builder, "cyl1", "4.125")
    few = queries(bench_client, page)
    for _ in range(57):
        old = read(job, builder, "cyl2", "4.215")
        read(job, builder, "cyl2", "4.125", corrects=old, reason="swapped")
    assert queries(bench_client, page) == few


def test_a_corrected_reading_is_struck_through_with_the_reason(
    bench_client: Client, job: Build, builder: Person
) -> None:
    old = read(job, builder, "cyl2", "4.215")
    read(job, builder, "cyl2", "4.125", corrects=old, reason="two figures swapped")
    page = bench_client.get(reverse("job-readings", args=[job.pk])).text
    assert "<del>4.215 in</del>" in page
    assert "Corrected: two figures swapped" in page
    assert "Stands for 4.215 in" in page


def test_a_reading_struck_out_says_so(bench_client: Client, job: Build, builder: Person) -> None:
    read(job, builder, "cyl2", "", corrects=read(job, builder, "cyl2", "4.215"), reason="wrong engine")
    page = bench_client.get(reverse("job-readings", args=[job.pk])).text
    assert "Struck out: wrong engine" in page
    assert "Strikes out 4.215 in: wrong engine" in page


def test_a_reading_says_what_belongs_to_its_tool(bench_client: Client, job: Build, builder: Person) -> None:
    kept = {"tool_end": {"text": ".14", "unit": "in", "value": "0.14"}}
    read(job, builder, "cyl1", "4.125", context={"corrections": kept})
    page = bench_client.get(reverse("job-readings", args=[job.pk])).text
    assert "With tool end 0.1400 in" in page


def test_a_reading_is_shown_as_typed_and_in_the_persons_unit(
    bench_client: Client, job: Build, builder: Person
) -> None:
    read(job, builder, "cyl1", "4.1250")
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    page = bench_client.get(reverse("job-readings", args=[job.pk])).text
    assert "4.1250 in" in page
    assert "104.775 mm" in page


def test_another_floor_fills_a_section_of_the_job_page(
    bench_client: Client, job: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builds.panels.job_panels", [Panel("Log", "job-readings")])
    page = bench_client.get(job.get_absolute_url()).text
    address = reverse("job-readings", args=[job.pk])
    assert f'hx-get="{address}" hx-trigger="load"' in page
    assert f'href="{address}">Open log</a>' in page


def test_every_registered_section_answers_the_page_that_asks_for_it(bench_client: Client, job: Build) -> None:
    addresses = [reverse(panel.url_name, args=[job.pk]) for panel in panels.panels_of(job)]
    addresses += [reverse(panel.url_name) for panel in panels.drawer_panels]
    for address in addresses:
        assert bench_client.get(address, headers={"HX-Request": "true"}).status_code == 200


def test_a_job_that_does_not_exist_is_answered_in_words(bench_client: Client) -> None:
    answer = bench_client.get(reverse("job-detail", args=[999]))
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.text
