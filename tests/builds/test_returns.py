"""An engine came back: the list, opening its return, what stands on the jobs' pages, and as found beside as built."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.looks import open_check, open_return
from builds.models import Build, Customer, Engine, Finding, Person, Return, RunEntry
from tests.builds.came_back import came_back, loose_five, read, went_out
from tests.scenes import Scene, make_scene

HTMX = {"hx-request": "true"}
HOSTILE = '<script>alert("x")</script> 5′′ „loose“ \\ %00'


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def today(days: int = 0) -> str:
    return (timezone.localdate() + timedelta(days=days)).isoformat()


def sent(client: Client, job: Build, **more: str) -> Any:
    """The form as a browser sends it."""
    data = {
        "came_back_on": today(),
        "complaint": "noise on the left",
        "how_it_ran": "",
        "job_number": "",
        **more,
    }
    return client.post(reverse("return-open", args=[job.pk]), data)


def test_an_engine_that_is_out_is_chosen_and_its_return_opened(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    for text in ("V8 puller", "HPT-3", "Halvorsen", "26-014"):
        assert (
            reverse("return-open", args=[job.pk])
            in bench_client.get(reverse("return-choose"), {"q": text}).text
        )
    page = bench_client.get(reverse("return-open", args=[job.pk])).text
    assert f'value="{Build.next_number()}"' in page
    answer = sent(bench_client, job, job_number="27-001")
    came = Return.objects.get()
    assert answer.url == reverse("job-detail", args=[came.build_id])
    assert (came.build.job_number, came.build.follows) == ("27-001", job)


def test_nothing_sealed_is_said(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    assert (
        "Nothing was sealed on this job when it left"
        in bench_client.get(reverse("return-open", args=[job.pk])).text
    )
    came = came_back(job, scene.person)
    page = bench_client.get(reverse("return-facts", args=[came.build_id]))
    assert "Nothing was sealed on this job when it left" in page.text


def test_the_same_form_sent_twice_opens_one_return(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    token = "3f0e6a1e-68b7-4b8f-8f0c-2b3f3d2a9b11"
    first, again = (sent(bench_client, job, form_token=token) for _ in range(2))
    assert first.url == again.url
    assert Return.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"came_back_on": today(-31)}, "is before it left: job 26-014 went out on"),
        ({"came_back_on": today(1)}, "is still to come, so the engine cannot have come back then"),
        ({"came_back_on": "yesterday"}, "that is not a date"),
        ({"job_number": "26-014"}, "Job 26-014 is in the book already. The next free number is"),
        ({"job_number": "x" * 31}, "30"),
        ({"complaint": ""}, "what happened"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_stays_typed(
    bench_client: Client, scene: Scene, typed: dict[str, str], told: str
) -> None:
    answer = sent(bench_client, went_out(scene), how_it_ran="three passes, then a knock", **typed)
    assert answer.status_code == 422
    (name,) = typed
    assert told.lower() in str(answer.context["form"].errors[name][0]).lower()
    assert "three passes, then a knock" in answer.text
    assert not Return.objects.exists()


def test_no_form_is_filled_in_for_a_return_that_cannot_be_opened(bench_client: Client, scene: Scene) -> None:
    page = bench_client.get(reverse("return-open", args=[scene.build.pk]), follow=True)
    assert page.redirect_chain[-1][0] == scene.build.get_absolute_url()
    assert "has not gone out yet, so nothing came back" in page.text
    came = came_back(went_out(scene), scene.person)
    page = bench_client.get(reverse("return-open", args=[scene.build.pk]), follow=True)
    assert f"came back already: job {came.build} reads it as found" in page.text
    page = bench_client.get(reverse("return-open", args=[came.build_id]), follow=True)
    assert "Start from that job" in page.text


def test_it_does_not_come_back_before_it_last_ran_or_was_checked(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    RunEntry.objects.create(
        build=job, ran_on=today(-9), unit="passes", text="4", amount=4, entered_by=scene.person
    )
    told = sent(bench_client, job, came_back_on=today(-10)).context["form"].errors["came_back_on"][0]
    assert "Its running record says that it ran on" in told
    open_check(job, scene.person, read_on=timezone.localdate() - timedelta(days=5))
    told = sent(bench_client, job, came_back_on=today(-6)).context["form"].errors["came_back_on"][0]
    assert "26-014 check 1 was read on" in told
    assert sent(bench_client, job, came_back_on=today(-5)).status_code == 302


@pytest.mark.parametrize("day", ["", today(-1)])
def test_the_day_of_a_return_is_not_changed_on_the_job_it_left_with(
    bench_client: Client, scene: Scene, day: str
) -> None:
    job = went_out(scene)
    came = came_back(job, scene.person)
    job.refresh_from_db()
    facts = {"job_number": job.job_number, "opened_on": job.opened_on.isoformat(), "title": "", "note": ""}
    answer = bench_client.post(
        reverse("job-edit", args=[job.pk]),
        {**facts, "went_out_on": str(job.went_out_on), "came_back_on": day},
    )
    assert (answer.status_code, f"Job {came.build} reads it as found" in answer.text) == (422, True)
    job.refresh_from_db()
    assert job.came_back_on == timezone.localdate()


def test_what_never_went_out_does_not_come_back(bench_client: Client, scene: Scene) -> None:
    answer = sent(bench_client, scene.build)
    assert (answer.status_code, "has not gone out yet" in answer.text) == (422, True)
    assert (
        "What has “26-014” has not gone out"
        in bench_client.get(reverse("return-choose"), {"q": "26-014"}).text
    )


def test_what_came_back_already_is_said(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    came = came_back(job, scene.person)
    answer = sent(bench_client, job)
    assert (answer.status_code, f"job {came.build} reads it as found" in answer.text) == (422, True)


def test_the_return_of_a_return_is_refused(bench_client: Client, scene: Scene) -> None:
    came = came_back(went_out(scene), scene.person)
    assert "Start from that job" in sent(bench_client, came.build).text


def test_who_is_not_logged_in_opens_nothing(stranger: Client, scene: Scene) -> None:
    assert sent(stranger, went_out(scene)).url.startswith(reverse("login"))
    came = came_back(scene.build, scene.person)
    answer = stranger.post(reverse("return-edit", args=[came.build_id]), {"complaint": "x"})
    assert answer.url.startswith(reverse("login"))
    assert Return.objects.get().complaint == "noise on the left"


def test_the_list_says_what_it_ran_what_it_left_with_and_what_was_found(
    bench_client: Client, scene: Scene
) -> None:
    job = went_out(scene)
    RunEntry.objects.create(
        build=job, ran_on=timezone.localdate() - timedelta(days=9), unit="passes", text="14", amount=14,
        entered_by=scene.person,
    )  # fmt: skip
    came = came_back(job, scene.person, complaint=HOSTILE)
    for withdrawn in ("", "another valve"):
        Finding.objects.create(
            build=came.build, what="tip worn", condition="worn", found_by=scene.person, withdrawn=withdrawn
        )
    page = bench_client.get(reverse("return-list"))
    assert "Ran since: 14 passes" in page.text
    assert "nothing sealed" in page.text
    assert [found.finding_count for found in page.context["page_obj"]] == [1]
    assert "<script>alert" not in page.text


def test_an_engine_noted_as_back_is_offered_until_its_return_is_open(
    bench_client: Client, scene: Scene
) -> None:
    job = went_out(scene)
    assert "Noted as back" not in bench_client.get(reverse("return-list")).text
    job.came_back_on = timezone.localdate()
    job.save()
    assert reverse("return-open", args=[job.pk]) in bench_client.get(reverse("return-list")).text
    came_back(job, scene.person)
    assert "Noted as back" not in bench_client.get(reverse("return-list")).text


def test_an_engine_that_is_back_and_built_anew_is_offered_no_more(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    job.came_back_on = timezone.localdate()
    job.save()
    assert bench_client.get(reverse("return-list")).context["offered"] == [job]
    Build.objects.create(engine=job.engine, job_number="27-002")
    assert bench_client.get(reverse("return-list")).context["offered"] == []


def test_the_list_is_searched(bench_client: Client, scene: Scene) -> None:
    came_back(went_out(scene), scene.person, complaint="pushrod through the cover")
    for text, count in (("cover", 1), ("26-014", 1), ("HPT-3", 1), ("Halvorsen", 1), ("camshaft", 0)):
        page = bench_client.get(reverse("return-list"), {"q": text})
        assert len(page.context["page_obj"]) == count, text


def test_what_is_said_of_a_return_is_said_on_its_job_too_until_somebody_says_it_otherwise(
    bench_client: Client, owner_client: Client, scene: Scene
) -> None:
    came = came_back(went_out(scene), scene.person)
    address = reverse("return-edit", args=[came.build_id])
    seen = str(bench_client.get(address).context["form"]["seen"].value())
    said = {"came_back_on": f"{came.came_back_on}", "complaint": "noise on the right", "how_it_ran": ""}
    assert owner_client.post(address, said | {"seen": seen}).status_code == 302
    assert Build.objects.get(pk=came.build_id).title == "As found: noise on the right"
    # The other tablet had the page open all the while.
    answer = bench_client.post(address, said | {"complaint": "noise in front", "seen": seen})
    assert answer.status_code == 422
    assert "wrote “noise on the right” here after you had opened this page" in answer.text
    Build.objects.filter(pk=came.build_id).update(title="Look at 5E first")
    assert bench_client.post(address, said | {"complaint": "noise in front"}).status_code == 302
    assert Build.objects.get(pk=came.build_id).title == "Look at 5E first"


def test_the_jobs_and_the_engine_lead_to_the_return(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    panel = reverse("job-came-back", args=[job.pk])
    assert panel in bench_client.get(job.get_absolute_url()).text
    assert reverse("return-open", args=[job.pk]) in bench_client.get(panel, headers=HTMX).text
    came = came_back(job, scene.person)
    assert came.build.get_absolute_url() in bench_client.get(panel, headers=HTMX).text
    page = bench_client.get(came.build.get_absolute_url()).text
    assert panel not in page
    assert reverse("return-facts", args=[came.build_id]) in page
    assert reverse("return-facts", args=[came.build_id]) not in bench_client.get(job.get_absolute_url()).text
    assert came.complaint in bench_client.get(job.engine.get_absolute_url()).text


def test_the_facts_lead_to_the_bench_the_log_and_the_job_it_left_with(
    bench_client: Client, scene: Scene
) -> None:
    came = came_back(went_out(scene), scene.person)
    page = bench_client.get(reverse("return-facts", args=[came.build_id])).text
    for head in came.build.heads.all():
        assert reverse("bench", args=[head.pk]) in page
    assert scene.build.get_absolute_url() in page
    assert reverse("return-compare", args=[came.build_id]) in page


@pytest.mark.parametrize("name", ["return-facts", "return-edit", "return-compare"])
def test_a_job_that_reads_nothing_as_found_has_no_such_page(
    bench_client: Client, scene: Scene, name: str
) -> None:
    assert bench_client.get(reverse(name, args=[scene.build.pk])).status_code == 404


def test_the_day_is_changed_on_both_jobs(bench_client: Client, scene: Scene) -> None:
    job = went_out(scene)
    for days, text in ((20, "4"), (12, "6")):
        RunEntry.objects.create(
            build=job, ran_on=timezone.localdate() - timedelta(days=days), unit="passes", text=text, amount=text,
            entered_by=scene.person,
        )  # fmt: skip
    came = came_back(job, scene.person)
    where = reverse("return-edit", args=[came.build_id])
    typed = {"came_back_on": today(-10), "complaint": "stopped on the line", "how_it_ran": "well"}
    assert bench_client.post(where, typed).status_code == 302
    came.refresh_from_db()
    job.refresh_from_db()
    assert (came.complaint, job.came_back_on, came.build.opened_on) == (
        "stopped on the line", came.came_back_on, came.came_back_on,
    )  # fmt: skip
    assert "10 passes" in bench_client.get(reverse("return-facts", args=[came.build_id])).text
    refused = bench_client.post(where, {**typed, "came_back_on": today(-40), "complaint": "typed anew"})
    assert (refused.status_code, "is before it left" in refused.text, "typed anew" in refused.text) == (
        422, True, True,
    )  # fmt: skip


def test_as_found_beside_as_built(bench_client: Client, builder: Person) -> None:
    _scene, came = loose_five(builder)
    where = reverse("return-compare", args=[came.build_id])
    page = bench_client.get(where)
    assert [line.position for line in page.context["page_obj"]] == ["5E", "5I", "1E", "3E"]
    for words in ("+0.0230", "out now", "not read as found", "was not read when it left"):
        assert words in page.text
    out = bench_client.get(where, {"out": "yes"})
    assert [line.position for line in out.context["page_obj"]] == ["5E"]
    by_address = bench_client.get(where, {"order": "address", "step": "lash"})
    assert [line.position for line in by_address.context["page_obj"]] == ["1E", "3E", "5E", "5I"]
    assert len(bench_client.get(where, {"at": "5I"}).context["page_obj"]) == 1
    assert "Nothing here is so" in bench_client.get(where, {"at": HOSTILE, "order": "?"}).text


def test_what_moved_most_stands_on_the_jobs_page(bench_client: Client, builder: Person) -> None:
    _scene, came = loose_five(builder)
    panel = bench_client.get(reverse("return-compare", args=[came.build_id]), headers=HTMX)
    assert [line.position for line in panel.context["lines"]] == ["5E", "5I"]
    assert "1 out of limit now" in panel.text


def test_in_millimetres_for_who_reads_them(bench_client: Client, builder: Person) -> None:
    _scene, came = loose_five(builder)
    builder.length_unit = "mm"
    builder.save()
    page = bench_client.get(reverse("return-compare", args=[came.build_id])).text
    assert "+0.584" in page
    assert "0.686 mm" in page


def read_everywhere(scene: Scene, build: Build, lash: str) -> None:
    for head in build.heads.all():
        for valve in head.valves.all():
            read(scene, build, valve.address, "lash_cold", lash)
            read(scene, build, valve.address, "installed_height", "1.900")


def test_the_comparison_asks_as_often_with_many_readings_as_with_few(
    bench_client: Client, builder: Person
) -> None:
    scene, came = loose_five(builder)
    where = reverse("return-compare", args=[came.build_id])
    bench_client.get(where)
    with CaptureQueriesContext(connection) as few:
        bench_client.get(where)
    read_everywhere(scene, came.build, "0.006")
    with CaptureQueriesContext(connection) as many:
        page = bench_client.get(where)
    assert page.context["all_of_them"] > 30
    assert len(few) == len(many)


def test_the_lists_ask_as_often_with_many_rows_as_with_one(bench_client: Client, scene: Scene) -> None:
    came_back(went_out(scene), scene.person)
    other = Engine.objects.create(customer=Customer.objects.create(name="Other"), name="Six")
    gone = {"engine": other, "opened_on": today(-60), "went_out_on": today(-30)}
    Build.objects.create(job_number="o-1", **gone, came_back_on=today())

    def asked() -> list[int]:
        counts = []
        for name in ("return-list", "return-choose"):
            bench_client.get(reverse(name))
            with CaptureQueriesContext(connection) as found:
                bench_client.get(reverse(name))
            counts.append(len(found))
        return counts

    few = asked()
    for number in range(2, 14):
        job = Build.objects.create(job_number=f"o-{number}", **gone)
        job.refresh_from_db()
        if number % 2:
            open_return(job, scene.person, came_back_on=timezone.localdate(), complaint="noise")
    assert asked() == few
