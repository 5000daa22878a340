"""One engine's life on one page: all that happened, running in one line, the same number of questions however long."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.checks import finish
from builds.findings import Told, add_finding, take_back
from builds.life_line import life_line
from builds.looks import open_check, open_return
from builds.models import (
    Build,
    Engine,
    Finding,
    PartFitted,
    PartTakenOut,
    Person,
    Recall,
    RecallLine,
    RecallMark,
    RunEntry,
    SealedSheet,
    Signing,
)
from builds.timeline import Event, jobs_of, moments_of, stretches, told
from tests.scenes import make_scene

pytestmark = pytest.mark.django_db

OUT = date(2026, 2, 1)


def run(job: Build, person: Person, days: int, amount: str, unit: str = "passes", **more: object) -> RunEntry:
    return RunEntry.objects.create(
        build=job, ran_on=OUT + timedelta(days=days), unit=unit, text=amount, amount=Decimal(amount) if amount else None,
        entered_by=person, **more,
    )  # fmt: skip


def seal(
    job: Build, person: Person, on: date, number: int, kind: str = "build", subject: str = ""
) -> SealedSheet:
    """A sealed sheet as far as a list needs one."""
    at = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    signing = Signing.objects.create(
        build=job, kind=kind, subject=subject, schema=1, snapshot=b"{}", digest="d" * 64, readings=0,
        readings_head="r" * 64, unit="in", paper="letter", begun_by=person, begun_at=at,
    )  # fmt: skip
    mark = uuid4().hex * 2
    return SealedSheet.objects.create(
        signing=signing, number=number, entry=b"{}", digest=mark, pdf=b"%PDF", pdf_sha256=mark, sealed_at=at
    )


def life(engine: Engine, *, oldest_first: bool = True) -> list[Event]:
    lines = stretches(moments_of(engine))
    return told(lines if oldest_first else lines[::-1], jobs_of(engine))


def live(job: Build, person: Person, first: int = 1) -> Build:
    """A life with everything in it, on a job that went out."""
    seal(job, person, date(2026, 1, 31), first)
    for days, amount in ((3, "4"), (5, "6"), (5, "2")):
        run(job, person, days, amount)
    finish(open_check(job, person, read_on=OUT + timedelta(days=6)))
    run(job, person, 9, "8")
    came = open_return(
        job, person, came_back_on=OUT + timedelta(days=20), complaint="noise on the left bank", job_number=f"R-{job.pk}"
    ).build  # fmt: skip
    finding, _new = add_finding(
        came, person, Told("pushrod bent", "bent", "cyl5", cause="valve stuck", confidence="likely")
    )
    Finding.objects.filter(pk=finding.pk).update(found_at=datetime(2026, 2, 22, 12, tzinfo=UTC))
    part = PartFitted.objects.create(build=job, role="pushrod", position="5E", lot="L7")
    PartTakenOut.objects.create(
        part=part, out_on=date(2026, 2, 23), why="failed", in_job=came, noted_by=person
    )
    recall = Recall.objects.create(by="lot", value="L7", reason="soft", advice="look", opened_by=person)
    line = RecallLine.objects.create(recall=recall, part=part)
    RecallMark.objects.create(line=line, step="told", done_on=date(2026, 2, 24), by=person)
    seal(came, person, date(2026, 2, 25), first + 1)
    return came


# Hand-worked from `live`: 4 + 6 + 2 passes before the check, 8 after it, 20 in all.
def test_a_life_is_told_in_order_with_running_in_one_line(closed_job: Build, builder: Person) -> None:
    live(closed_job, builder)
    assert [(f"{event.day:%d %b}", event.kind, event.what) for event in life(closed_job.engine)] == [
        ("05 Jan", "job opened", "job 2026-002"),
        ("31 Jan", "sealed", "sheet 1: build sheet"),
        ("01 Feb", "went out", "after job 2026-002"),
        ("04 Feb", "ran", "12 passes"),
        ("07 Feb", "check", "Check 1 between rebuilds"),
        ("10 Feb", "ran", "8 passes"),
        ("21 Feb", "came back", "noise on the left bank"),
        ("22 Feb", "finding", "pushrod bent cyl5: bent"),
        ("23 Feb", "part out", "pushrod 5E, failed"),
        ("24 Feb", "recall", "lot L7: pushrod 5E told"),
        ("25 Feb", "sealed", "sheet 2: build sheet"),
    ]


def test_a_line_of_running_says_from_when_to_when_and_all_so_far(closed_job: Build, builder: Person) -> None:
    live(closed_job, builder)
    first, second = (event for event in life(closed_job.engine) if event.kind == "ran")
    assert (first.until, first.detail) == (
        date(2026, 2, 6),
        ["3 entries", "12 passes since job 2026-002 went out"],
    )
    assert (second.until, second.detail) == (None, ["20 passes since job 2026-002 went out"])


def test_units_and_corrections_of_running_are_kept_apart(closed_job: Build, builder: Person) -> None:
    wrong = run(closed_job, builder, 1, "60")
    run(closed_job, builder, 1, "6", corrects=wrong, reason="a nought too many")
    run(closed_job, builder, 2, "1.5", unit="hours")
    run(closed_job, builder, 3, "30", stated_as="total")
    # Hand-worked: 6 passes, then hours between, then 30 in all, which is 24 more.
    assert [event.what for event in life(closed_job.engine) if event.kind == "ran"] == [
        "6 passes",
        "1.5 hours",
        "24 passes",
    ]


def test_the_total_of_a_line_is_what_it_had_run_after_all_of_it(closed_job: Build, builder: Person) -> None:
    wrong = run(closed_job, builder, 1, "60")
    run(closed_job, builder, 1, "2")
    run(closed_job, builder, 1, "6", corrects=wrong, reason="a nought too many")
    # Hand-worked: 6 in the place of 60, then 2.
    (line,) = (event for event in life(closed_job.engine) if event.kind == "ran")
    assert (line.what, line.detail[-1]) == ("8 passes", "8 passes since job 2026-002 went out")


def test_one_that_came_back_and_was_not_read_says_so(closed_job: Build) -> None:
    closed_job.came_back_on = date(2026, 3, 1)
    closed_job.save()
    assert life(closed_job.engine)[-1].what == "from job 2026-002; not read as found"


def test_a_finding_taken_back_is_crossed_with_its_reason(job: Build, builder: Person) -> None:
    finding, _new = add_finding(job, builder, Told("pushrod bent", "bent"))
    take_back(finding, "the wrong engine")
    assert life(job.engine)[-1].crossed == "the wrong engine"


def test_a_recall_mark_that_was_struck_out_is_not_told(job: Build, builder: Person) -> None:
    part = PartFitted.objects.create(build=job, role="pushrod", lot="L7")
    recall = Recall.objects.create(by="lot", value="L7", reason="soft", advice="look", opened_by=builder)
    line = RecallLine.objects.create(recall=recall, part=part)
    mark = RecallMark.objects.create(line=line, step="told", by=builder)
    RecallMark.objects.create(line=line, step="told", by=builder, strikes_out=mark, note="another engine")
    assert [event for event in life(job.engine) if event.kind == "recall"] == []


def test_another_engines_life_is_not_told_here(closed_job: Build, builder: Person) -> None:
    other = Engine.objects.create(customer=closed_job.engine.customer, name="other")
    live(closed_job, builder)
    assert moments_of(other) == []


def test_the_page_is_read_either_way(bench_client: Client, closed_job: Build, builder: Person) -> None:
    live(closed_job, builder)
    address = reverse("engine-timeline", args=[closed_job.engine_id])
    newest = [event.day for event in bench_client.get(address).context["events"]]
    oldest = [event.day for event in bench_client.get(address, {"order": "oldest"}).context["events"]]
    assert newest == sorted(newest, reverse=True) == oldest[::-1]


def test_an_engine_without_a_job_has_an_empty_page(bench_client: Client, engine: Engine) -> None:
    assert "begins with its first job" in bench_client.get(reverse("engine-timeline", args=[engine.pk])).text


def test_the_engines_page_leads_to_its_life(bench_client: Client, job: Build) -> None:
    assert (
        reverse("engine-timeline", args=[job.engine_id])
        in bench_client.get(job.engine.get_absolute_url()).text
    )


def test_hostile_words_are_shown_as_words(bench_client: Client, job: Build, builder: Person) -> None:
    job.title = "<script>alert(1)</script>"
    job.save()
    add_finding(job, builder, Told("<script>alert(2)</script>", "bent"))
    assert "<script>alert" not in bench_client.get(reverse("engine-timeline", args=[job.engine_id])).text


def test_a_long_life_asks_the_same_number_of_questions_and_comes_in_pages(
    bench_client: Client, closed_job: Build, builder: Person, queries: Callable[[Client, str], int]
) -> None:
    address = reverse("engine-timeline", args=[closed_job.engine_id]) + "?order=oldest"
    live(closed_job, builder)
    few = queries(bench_client, address)
    for number in range(3, 8):
        job = Build.objects.create(
            engine=closed_job.engine,
            job_number=f"2026-1{number}",
            opened_on=date(2026, 1, 5),
            went_out_on=OUT,
        )
        live(job, builder, first=number * 2)
        for days in range(10, 19):
            run(job, builder, days, "2")
    # A page on which some kind of thing is missing asks less; none asks more than one with all of them.
    assert max(queries(bench_client, f"{address}&page={number}") for number in (1, 2, 3)) <= few
    page = bench_client.get(address).context["page_obj"]
    assert (len(page), page.paginator.num_pages > 2) == (25, True)


def test_a_season_of_passes_is_one_line(closed_job: Build, builder: Person) -> None:
    for days in range(1, 90):
        run(closed_job, builder, days, "2")
    assert [event.what for event in life(closed_job.engine) if event.kind == "ran"] == ["178 passes"]


# Hand-worked: from 5 Jan to 26 Mar 2026 are 80 days over 952 units; 1 Feb is 27 days on: 24 + 321.3.
def test_the_drawn_line_lies_to_the_dates(closed_job: Build, builder: Person) -> None:
    live(closed_job, builder)
    line = life_line(moments_of(closed_job.engine), jobs_of(closed_job.engine), date(2026, 3, 26))
    assert line is not None
    assert [(stay.x, stay.w) for stay in line.stays] == [(24, 321), (583, 393)]
    assert {mark.sign for mark in line.marks} == {"seal", "check", "back", "finding", "part", "recall"}


def test_what_was_found_and_taken_out_on_one_day_lies_side_by_side(
    closed_job: Build, builder: Person
) -> None:
    live(closed_job, builder)
    day = PartTakenOut.objects.values_list("out_on", flat=True).get()
    Finding.objects.update(found_at=datetime(day.year, day.month, day.day, 12, tzinfo=UTC))
    line = life_line(moments_of(closed_job.engine), jobs_of(closed_job.engine), date(2026, 3, 26))
    assert line is not None
    beside = [mark for mark in line.marks if mark.y != line.line]
    for mark in beside:
        near = [other.sign for other in beside if other.y == mark.y and abs(other.x - mark.x) < 24]
        assert set(near) == {mark.sign}


def test_a_return_stands_in_the_shop_until_the_engine_leaves_again(
    closed_job: Build, builder: Person
) -> None:
    live(closed_job, builder)
    Build.objects.create(
        engine=closed_job.engine,
        job_number="2026-9",
        opened_on=date(2026, 2, 26),
        went_out_on=date(2026, 3, 6),
    )
    line = life_line(moments_of(closed_job.engine), jobs_of(closed_job.engine), date(2026, 3, 26))
    assert line is not None
    # Hand-worked: 6 Mar is 60 days of 80 on, 24 + 714; 21 Feb is 47 days on, 26 Feb is 52.
    assert [(stay.x, stay.x + stay.w) for stay in line.stays[1:]] == [(583, 738), (643, 738)]


def test_a_setup_sheet_is_named_by_its_head(builder: Person) -> None:
    scene = make_scene(builder)
    seal(scene.build, builder, date(2026, 1, 31), 1, "setup", str(scene.left.pk))
    (sealed,) = (event for event in life(scene.build.engine) if event.kind == "sealed")
    assert sealed.what == "sheet 1: setup sheet, Left head"


def test_a_life_of_one_day_is_not_drawn(job: Build) -> None:
    assert life_line(moments_of(job.engine), jobs_of(job.engine), job.opened_on) is None
