"""What is due on the engines that are out: by the shop's rules, for want of news, by recalls. Hand-worked."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.due import Due, due_engines
from builds.looks import open_check
from builds.models import (
    Build,
    CheckRule,
    Engine,
    PartFitted,
    PartTakenOut,
    Person,
    Recall,
    RecallLine,
    RecallMark,
    RunEntry,
)
from builds.recording import Entry, record

Queries = Callable[[Client, str], int]


@pytest.fixture
def out(engine: Engine) -> Build:
    """A job whose engine left ten days ago."""
    return Build.objects.create(
        engine=engine, job_number="2026-003", went_out_on=timezone.localdate() - timedelta(days=10),
        opened_on=timezone.localdate() - timedelta(days=20),
    )  # fmt: skip


def ran(job: Build, person: Person, amount: str, unit: str = "passes", days: int = 1) -> None:
    assert job.went_out_on is not None
    RunEntry.objects.create(
        build=job, ran_on=job.went_out_on + timedelta(days=days), unit=unit, text=amount, amount=Decimal(amount),
        entered_by=person,
    )  # fmt: skip


def looked(job: Build, person: Person, days: int) -> Build:
    """A check at which lash was read, at an address of the engine that the ground floor knows."""
    assert job.went_out_on is not None
    check = open_check(job, person, read_on=job.went_out_on + timedelta(days=days))
    entry = Entry(uuid4(), "3E", "lash_cold", "0.016", "in", sure=True)
    record(check, person, entry, {"3E": "valve"})
    return check


def things(**how: Any) -> list[Due]:
    return [due for engine in due_engines(**how) for due in engine.things]


def test_lash_is_due_after_the_first_pass(out: Build, builder: Person) -> None:
    ran(out, builder, "4")
    (due,) = things()
    assert due.why == (
        "Not looked at since it left; it has run 4 passes; the shop’s rule is first after 1 pass, then every 10."
    )
    # (4 − 1) of every 10.
    assert (due.overdue, due.url) == (pytest.approx(0.3), reverse("check-open", args=[out.pk]))


def test_lash_is_due_so_long_after_the_last_look(out: Build, builder: Person) -> None:
    ran(out, builder, "12")
    looked(out, builder, 2)
    assert things() == []
    ran(out, builder, "19", days=3)
    (due,) = things()
    assert due.why == (
        "Last looked at after 12 passes; it has run 31 passes; the shop’s rule is every 10 passes."
    )
    assert due.overdue == pytest.approx(0.9)


def test_a_look_before_it_ran_counts_as_one(out: Build, builder: Person) -> None:
    looked(out, builder, 0)
    ran(out, builder, "10")
    (due,) = things()
    assert "Last looked at before it ran; it has run 10 passes" in due.why


def test_a_rule_that_is_not_asked_for_asks_nothing(out: Build, builder: Person) -> None:
    ran(out, builder, "4")
    CheckRule.objects.update(in_use=False)
    assert things() == []


def test_of_two_units_the_more_overdue_one_speaks(out: Build, builder: Person) -> None:
    ran(out, builder, "2")
    ran(out, builder, "25", unit="hours")
    (due,) = things()
    assert "it has run 25 hours; the shop’s rule is every 10 hours" in due.why


def test_an_engine_of_which_nobody_heard_is_asked_about(out: Build, builder: Person) -> None:
    assert out.went_out_on is not None
    assert things(today=out.went_out_on + timedelta(days=90)) == []
    (due,) = things(today=out.went_out_on + timedelta(days=91))
    assert due.why.endswith("no running is written down: 91 days. Ask the customer.")
    assert due.act == "Write down running"


def test_news_that_are_old_are_no_news(out: Build, builder: Person) -> None:
    assert out.went_out_on is not None
    CheckRule.objects.all().delete()
    ran(out, builder, "4", days=2)
    (due,) = things(today=out.went_out_on + timedelta(days=100))
    assert due.why.startswith("Nothing is known of its running since")


def test_an_engine_that_is_back_or_has_a_later_job_is_not_out(out: Build, builder: Person) -> None:
    ran(out, builder, "4")
    Build.objects.create(engine=out.engine, job_number="2026-009")
    assert things() == []


def test_an_older_job_that_is_written_down_later_does_not_bring_the_engine_in(
    out: Build, builder: Person
) -> None:
    ran(out, builder, "4")
    Build.objects.create(
        engine=out.engine, job_number="2024-001", opened_on=out.opened_on - timedelta(days=700)
    )
    assert [due.job for due in things()] == [out]


def test_an_engine_that_came_back_is_not_out(out: Build, builder: Person) -> None:
    ran(out, builder, "4")
    Build.objects.filter(pk=out.pk).update(came_back_on=timezone.localdate())
    assert things() == []


def test_one_without_a_word_for_three_years_is_left_alone(out: Build) -> None:
    assert out.went_out_on is not None
    assert len(things(today=out.went_out_on + timedelta(days=3 * 365))) == 1
    assert things(today=out.went_out_on + timedelta(days=3 * 365 + 1)) == []


@pytest.fixture
def recall(out: Build, owner: Person) -> RecallLine:
    """A pushrod of the engine is on a recall that was begun today."""
    part = PartFitted.objects.create(build=out, role="pushrod", lot="P7", quantity=2)
    begun = Recall.objects.create(by="lot", value="P7", reason="soft ends", advice="stop", opened_by=owner)
    return RecallLine.objects.create(recall=begun, part=part)


def test_a_recall_is_due_until_the_part_was_looked_at(recall: RecallLine, owner: Person) -> None:
    (due,) = things()
    assert due.why == "Recall of lot P7: pushrod. The customer is not told yet. Why: soft ends"
    RecallMark.objects.create(line=recall, step="told", by=owner)
    (due,) = things()
    assert "The customer is told, and not looked at yet." in due.why
    done = RecallMark.objects.create(line=recall, step="checked", by=owner)
    assert things() == []
    RecallMark.objects.create(line=recall, step="checked", by=owner, strikes_out=done, note="another engine")
    assert len(things()) == 1


def test_a_part_that_is_out_of_its_engine_or_a_closed_recall_is_not_due(
    recall: RecallLine, owner: Person
) -> None:
    PartTakenOut.objects.create(part=recall.part, quantity=2, noted_by=owner)
    assert things() == []
    PartTakenOut.objects.all().delete()
    Recall.objects.update(closed_on=date(2026, 1, 1))
    assert things() == []


def test_a_part_that_came_out_bit_by_bit_is_not_due_and_one_marked_replaced_that_is_in_again_is(
    recall: RecallLine, owner: Person
) -> None:
    PartTakenOut.objects.create(part=recall.part, quantity=1, noted_by=owner)
    assert len(things()) == 1
    last = PartTakenOut.objects.create(part=recall.part, quantity=1, noted_by=owner)
    assert things() == []
    RecallMark.objects.create(line=recall, step="replaced", by=owner)
    last.delete()
    assert len(things()) == 1


def test_a_recall_stands_before_what_is_longer_overdue(
    recall: RecallLine, out: Build, builder: Person
) -> None:
    other = Engine.objects.create(customer=out.engine.customer, name="Small block", cylinders=8)
    later = Build.objects.create(
        engine=other, job_number="2026-004", went_out_on=out.went_out_on, opened_on=out.opened_on
    )
    for job in (out, later):
        ran(job, builder, "444")
    first, second = due_engines()
    assert (first.things[0].what, first.job, second.job) == ("recall", out, later)


def test_the_list_names_engine_customer_telephone_and_what_to_do(
    owner_client: Client, out: Build, builder: Person
) -> None:
    ran(out, builder, "4")
    text = owner_client.get(reverse("due-list")).text
    for told in ("V8 drag engine", "Harbour Racing", "555 0101", "has run 4 passes", "Open a check"):
        assert told in text


def test_the_most_overdue_engine_stands_first(owner_client: Client, out: Build, builder: Person) -> None:
    other = Engine.objects.create(customer=out.engine.customer, name="Small block", cylinders=8)
    worse = Build.objects.create(
        engine=other, job_number="2026-004", went_out_on=out.went_out_on, opened_on=out.opened_on
    )
    ran(out, builder, "4")
    ran(worse, builder, "44")
    assert [engine.job for engine in due_engines()] == [worse, out]


def test_nothing_due_says_so(bench_client: Client) -> None:
    assert "Nothing is due on any engine that is out." in bench_client.get(reverse("due-list")).text


def test_the_owners_jobs_page_asks_how_many_are_due(
    owner_client: Client, bench_client: Client, out: Build, builder: Person
) -> None:
    ran(out, builder, "4")
    where = reverse("due-list")
    assert f'hx-get="{where}"' in owner_client.get(reverse("job-list")).text
    assert f'hx-get="{where}"' not in bench_client.get(reverse("job-list")).text
    line = owner_client.get(where, headers={"hx-request": "true"}).text
    assert "1 engine is due to be looked at" in line
    assert "<html" not in line


def test_as_many_questions_for_many_engines(
    owner_client: Client, out: Build, builder: Person, owner: Person, queries: Queries, recall: RecallLine
) -> None:
    ran(out, builder, "4")
    looked(out, builder, 2)
    ran(out, builder, "40", days=3)
    few = queries(owner_client, reverse("due-list"))
    for number in range(30):
        engine = Engine.objects.create(customer=out.engine.customer, name=f"Engine {number}", cylinders=8)
        job = Build.objects.create(
            engine=engine,
            job_number=f"2026-1{number:02}",
            went_out_on=out.went_out_on,
            opened_on=out.opened_on,
        )
        ran(job, builder, "4")
        looked(job, builder, 2)
        ran(job, builder, "40", days=3)
        part = PartFitted.objects.create(build=job, role="pushrod", lot="P7")
        RecallLine.objects.create(recall=recall.recall, part=part)
    assert queries(owner_client, reverse("due-list")) == few
    assert "Page 1 of 2" in owner_client.get(reverse("due-list")).text


def test_who_is_not_logged_in_sees_nothing(stranger: Client) -> None:
    assert stranger.get(reverse("due-list")).status_code == 302


def test_what_was_typed_is_shown_and_does_nothing(owner_client: Client, out: Build, builder: Person) -> None:
    Engine.objects.filter(pk=out.engine_id).update(name="<script>alert(1)</script>")
    ran(out, builder, "4")
    assert "<script>alert(1)" not in owner_client.get(reverse("due-list")).text
