"""The running record's page: entries, corrections, checks, and who may write them."""

from collections.abc import Callable
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.looks import open_check, open_return
from builds.models import Build, Person, Reading, RunEntry
from builds.recording import Entry, EntryRefused, record
from builds.running import record_of
from builds.sealing.board import sheet_lines
from tests.scenes import Scene, make_scene

TODAY = timezone.localdate()
Count = Callable[[Client, str], int]


def day(days_ago: int) -> date:
    return TODAY - timedelta(days=days_ago)


@pytest.fixture
def scene(builder: Person) -> Scene:
    made = make_scene(builder)
    made.build.opened_on, made.build.went_out_on = day(60), day(30)
    made.build.save()
    return made


@pytest.fixture
def page(scene: Scene) -> str:
    return reverse("job-running", args=[scene.build.pk])


@pytest.fixture
def office_client(db: None) -> Client:
    person = Person.objects.create_user("odile", name="Odile Varga", password="ledger and tea", role="office")
    client = Client()
    client.force_login(person)
    return client


def sent(days_ago: int = 3, text: str = "6", **more: str) -> dict[str, str]:
    return {
        "client_id": str(uuid4()), "ran_on": day(days_ago).isoformat(), "text": text, "unit": "passes",
        "stated_as": "more", **more,
    }  # fmt: skip


def test_an_entry_is_written_once_and_shown_with_its_total(bench_client: Client, page: str) -> None:
    bench_client.post(page, sent(5, "36"))
    data = sent(3, "6", note="new slicks", told_by="the crew chief")
    for _ in range(2):
        assert bench_client.post(page, data).url == page
    bench_client.get(page)  # what was said of the writing is read
    text = bench_client.get(page).text
    assert RunEntry.objects.count() == 2
    assert "<strong>42 passes</strong>" in text
    assert text.index("new slicks") < text.index("36 passes")  # newest first
    assert 'value="passes" selected' in text


def test_of_an_engine_that_is_back_the_last_day_is_offered(
    bench_client: Client, page: str, scene: Scene
) -> None:
    Build.objects.filter(pk=scene.build.pk).update(came_back_on=scene.build.went_out_on)
    assert bench_client.get(page).context["form"].initial["ran_on"] == scene.build.went_out_on


def test_a_refusal_stands_beside_its_field_and_keeps_what_was_typed(bench_client: Client, page: str) -> None:
    answer = bench_client.post(page, sent(3, "6.5", note="<b>windy</b>"))
    assert (answer.status_code, "passes are counted whole" in answer.text) == (422, True)
    assert 'value="6.5"' in answer.text
    assert "&lt;b&gt;windy&lt;/b&gt;" in answer.text
    backwards = bench_client.post(page, sent(31))
    assert (backwards.status_code, "is before it left" in backwards.text) == (422, True)
    assert "is not a date" in bench_client.post(page, {**sent(), "ran_on": "yesterday"}).text
    assert RunEntry.objects.count() == 0


def test_an_entry_that_goes_backwards_names_the_one_before(bench_client: Client, page: str) -> None:
    bench_client.post(page, sent(9, "12"))
    answer = bench_client.post(page, sent(3, "10", stated_as="total"))
    assert f"the entry of {day(9):%d %b %Y} comes to 12 passes in all" in answer.text
    assert answer.status_code == 422


def test_a_correction_crosses_the_old_one_out(bench_client: Client, page: str, scene: Scene) -> None:
    bench_client.post(page, sent(3, "60"))
    old = RunEntry.objects.get()
    address = reverse("run-correct", args=[scene.build.pk, old.client_id])
    assert 'value="60"' in bench_client.get(address).text
    assert "Why: nothing is filled in" in bench_client.post(address, sent(3, "6")).text
    data = sent(3, "6", reason="a nought too many")
    assert bench_client.post(address, data).url == bench_client.post(address, data).url == page
    text = bench_client.get(page).text
    assert ("<del>60 passes</del>" in text, "a nought too many" in text) == (True, True)
    assert "<strong>6 passes</strong>" in text
    again = bench_client.post(address, sent(3, "7", reason="again"))
    assert (again.status_code, "has been corrected already" in again.text) == (422, True)


def test_an_entry_struck_out_stays_in_the_list(bench_client: Client, page: str, scene: Scene) -> None:
    bench_client.post(page, sent(3, "6"))
    address = reverse("run-strike", args=[scene.build.pk, RunEntry.objects.get().client_id])
    assert bench_client.post(address, {"client_id": str(uuid4()), "reason": "another engine"}).url == page
    text = bench_client.get(page).text
    assert ("<del>6 passes</del>" in text, "not run yet" in text, "another engine" in text) == (True,) * 3


def test_an_entry_of_another_job_is_not_found_here(bench_client: Client, page: str, scene: Scene) -> None:
    bench_client.post(page, sent(3, "6"))
    other = Build.objects.create(
        engine=scene.build.engine, job_number="x", opened_on=day(60), went_out_on=day(30)
    )
    entry = RunEntry.objects.get()
    for name in ("run-correct", "run-strike"):
        assert bench_client.get(reverse(name, args=[other.pk, entry.client_id])).status_code == 404


def test_a_job_on_the_bench_keeps_no_running(bench_client: Client, builder: Person) -> None:
    job = make_scene(builder).build
    page = reverse("job-running", args=[job.pk])
    assert "has not gone out yet" in bench_client.get(page).text
    answer = bench_client.post(page, sent(0))
    assert (answer.status_code, "has not gone out yet" in answer.text) == (422, True)
    assert page not in bench_client.get(job.get_absolute_url()).text


def test_the_office_writes_running_and_opens_no_check(office_client: Client, page: str, scene: Scene) -> None:
    assert office_client.post(page, sent()).status_code == 302
    check = reverse("check-open", args=[scene.build.pk])
    assert check not in office_client.get(page).text
    for method in ("get", "post"):
        assert getattr(office_client, method)(check).status_code == 403


def test_nobody_without_a_log_in_writes_running(stranger: Client, page: str) -> None:
    assert stranger.post(page, sent()).status_code == 302
    assert RunEntry.objects.count() == 0


def opened(client: Client, scene: Scene, **data: str) -> Build:
    form = {"read_on": day(2).isoformat(), "title": "", "form_token": str(uuid4()), **data}
    for _ in range(2):
        answer = client.post(reverse("check-open", args=[scene.build.pk]), form)
    assert answer.status_code == 302, answer.text
    return Build.objects.get(kind="check", opened_on=form["read_on"])


def test_a_check_is_opened_once_and_says_what_it_is(bench_client: Client, page: str, scene: Scene) -> None:
    bench_client.post(page, sent(5, "42"))
    check = opened(bench_client, scene)
    text = bench_client.get(check.get_absolute_url()).text
    assert "A check between rebuilds" in text
    assert "check of job" in text
    assert "42 passes" in text
    assert reverse("log-step", args=[check.pk, "lash"]) in text
    for name in ("job-sheets", "job-links", "build-sheet", "packet", "job-running"):
        assert reverse(name, args=[check.pk]) not in text
    assert check.job_number in bench_client.get(page).text
    assert sheet_lines(check) == []


@pytest.mark.parametrize(("days_ago", "sentence"), [(31, "is before it left"), (-1, "still to come")])
def test_a_check_on_a_wrong_day_is_refused(
    bench_client: Client, scene: Scene, days_ago: int, sentence: str
) -> None:
    data = {"read_on": day(days_ago).isoformat(), "title": "lash check"}
    answer = bench_client.post(reverse("check-open", args=[scene.build.pk]), data)
    assert (answer.status_code, sentence in answer.text, 'value="lash check"' in answer.text) == (
        422,
        True,
        True,
    )


def test_what_is_read_in_a_check_leaves_the_job_as_it_was(bench_client: Client, scene: Scene) -> None:
    check = opened(bench_client, scene)
    answer = bench_client.post(
        reverse("log-reading", args=[check.pk, "lash"]),
        {"client_id": str(uuid4()), "position": "5E", "characteristic": "lash_cold", "value": "0.005", "unit": "in"},
    )  # fmt: skip
    assert answer.status_code == 200, answer.text
    assert (Reading.objects.get().build, scene.build.readings.count()) == (check, 0)


def test_a_check_that_is_done_takes_no_more_readings(
    bench_client: Client, owner_client: Client, scene: Scene, builder: Person
) -> None:
    check = opened(bench_client, scene)
    bench_client.post(reverse("check-done", args=[check.pk]))
    assert bench_client.post(reverse("check-done", args=[check.pk])).status_code == 302
    check.refresh_from_db()
    assert check.went_out_on == TODAY
    with pytest.raises(EntryRefused, match=r"is done since .* an owner can open this one again"):
        record(check, builder, Entry(uuid4(), "5E", "lash_cold", "0.005", "in"))
    assert 'class="state out">done<' in bench_client.get(check.get_absolute_url()).text
    again = reverse("check-again", args=[check.pk])
    refused = bench_client.post(again)
    assert (refused.status_code, "Only an owner may open it again" in refused.text) == (403, True)
    assert owner_client.post(again).status_code == 302
    check.refresh_from_db()
    assert check.takes_readings


def test_a_job_is_no_check_to_be_done(bench_client: Client, scene: Scene) -> None:
    answer = bench_client.post(reverse("check-done", args=[scene.build.pk]))
    assert (answer.status_code, "is no check" in answer.text) == (403, True)


def test_a_check_leads_to_the_running_of_its_job(bench_client: Client, page: str, scene: Scene) -> None:
    check = opened(bench_client, scene)
    assert bench_client.get(reverse("job-running", args=[check.pk])).url == page
    answer = bench_client.post(reverse("job-running", args=[check.pk]), sent())
    assert (answer.status_code, "has no running of its own" in answer.text) == (422, True)


def test_a_check_has_no_days_out_and_no_links(
    bench_client: Client, owner_client: Client, scene: Scene
) -> None:
    check = opened(bench_client, scene)
    form = bench_client.get(reverse("job-edit", args=[check.pk])).text
    assert "went_out_on" not in form
    answer = owner_client.get(reverse("job-link-new", args=[check.pk]))
    assert (answer.status_code, "Make a link to that job instead" in answer.text) == (403, True)


def test_a_check_is_in_no_list_of_jobs(bench_client: Client, scene: Scene) -> None:
    check = opened(bench_client, scene)
    bench_client.get(check.get_absolute_url())  # what was said of the opening is read
    for address in (
        reverse("job-list"),
        reverse("job-list") + "?q=check",
        scene.build.engine.get_absolute_url(),
    ):
        assert check.job_number not in bench_client.get(address).text


def test_a_check_is_never_ready_to_sign(bench_client: Client, scene: Scene) -> None:
    check = opened(bench_client, scene)
    assert check.state_from(has_readings=True, ready=True).label == "on the bench"
    assert check.state_from(has_readings=True, ready=True, sealed=True).label == "on the bench"


def test_days_out_that_leave_the_running_out_are_refused(
    bench_client: Client, owner_client: Client, page: str, scene: Scene
) -> None:
    bench_client.post(page, sent(9, "12"))
    job = scene.build
    facts = {"job_number": job.job_number, "title": "", "note": "", "opened_on": job.opened_on.isoformat()}
    edit = reverse("job-edit", args=[job.pk])
    later = bench_client.post(edit, {**facts, "went_out_on": day(5).isoformat()})
    assert (later.status_code, f"by {day(9):%d %b %Y} already" in later.text) == (422, True)
    back = {"went_out_on": day(30).isoformat(), "came_back_on": day(10).isoformat()}
    early = bench_client.post(edit, {**facts, **back})
    assert (early.status_code, f"ran on {day(9):%d %b %Y}" in early.text) == (422, True)
    gone = owner_client.post(edit, {**facts, "went_out_on": ""})
    assert (gone.status_code, "so it did go out" in gone.text) == (422, True)


def test_the_panel_says_how_far_it_ran(bench_client: Client, page: str, scene: Scene) -> None:
    bench_client.post(page, sent(5, "42"))
    panel = bench_client.get(page, headers={"HX-Request": "true"})
    assert ("42 passes" in panel.text, "<html" in panel.text) == (True, False)
    assert page in bench_client.get(scene.build.get_absolute_url()).text


def test_a_return_shows_no_running_of_its_own(bench_client: Client, scene: Scene, builder: Person) -> None:
    came = open_return(scene.build, builder, came_back_on=TODAY, complaint="noise")
    text = bench_client.get(came.build.get_absolute_url()).text
    assert "as found, of job" in text
    assert reverse("job-running", args=[came.build.pk]) not in text


def test_a_record_in_many_pages_asks_as_often_as_one_of_three(
    bench_client: Client, page: str, scene: Scene, builder: Person, queries: Count
) -> None:
    def fill(count: int) -> None:
        RunEntry.objects.bulk_create(
            RunEntry(client_id=uuid4(), build=scene.build, ran_on=day(9), unit="laps", text="1", amount=1,
                     entered_by=builder)
            for _ in range(count)
        )  # fmt: skip

    fill(3)
    open_check(scene.build, builder, read_on=day(4))
    few = queries(bench_client, page)
    fill(60)
    for _ in range(7):
        open_check(scene.build, builder, read_on=day(3))
    assert queries(bench_client, page) == few
    assert "Page 1 of 3" in bench_client.get(page).text
    checks = reverse("job-checks", args=[scene.build.pk])
    assert bench_client.get(checks).text.count("check 8") >= 1
    assert record_of(scene.build).totals == {"laps": 63}


def test_the_list_of_checks_asks_the_same_for_few_and_for_many(
    bench_client: Client, scene: Scene, builder: Person, queries: Count
) -> None:
    address = reverse("job-checks", args=[scene.build.pk])
    for _ in range(2):
        open_check(scene.build, builder, read_on=day(4))
    few = queries(bench_client, address)
    for _ in range(9):
        open_check(scene.build, builder, read_on=day(3))
    assert queries(bench_client, address) == few


def test_a_long_job_number_still_gets_its_checks(scene: Scene, builder: Person) -> None:
    Build.objects.filter(pk=scene.build.pk).update(job_number="J" * 30)
    first, second = (open_check(scene.build, builder, read_on=day(4)) for _ in range(2))
    assert (first.job_number, second.job_number) == ("J" * 22 + " check 1", "J" * 22 + " check 2")
