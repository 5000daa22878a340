"""From a number of a part to every engine that carries or carried it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from builds.models import Build, Evidence, Finding, PartFitted, Person
from builds.parts_out import take_out
from builds.tracing import ALL, matching, near, trace_lines
from tests.builds.part_scene import DAY, a_part, a_rebuild, an_engine, ran

TRACE = "/returns/parts/"


def test_a_lot_is_found_whatever_its_capitals_and_nothing_else(db: None) -> None:
    job = an_engine(1)
    for lot in ("K-42", "k-42", "K-421", "K 42", ""):
        a_part(job, lot=lot)
    assert sorted(part.lot for part in matching("lot", "k-42")) == ["K-42", "k-42"]
    assert not matching("serial", "K-42")
    assert not matching("lot", "")


def test_letters_beyond_the_alphabet_are_found_whatever_their_capitals(db: None) -> None:
    job = an_engine(1)
    a_part(job, lot="ÄÖ-7")
    a_part(job, lot="äö-7")
    assert matching("lot", "äÖ-7").count() == 2
    assert matching("lot", "A\u0308o\u0308-7").count() == 2


def test_all_three_numbers_are_looked_through(db: None) -> None:
    job = an_engine(1)
    a_part(job, lot="X9", role="a")
    a_part(job, lot="", serial="x9", role="b")
    a_part(job, lot="", maker_number="X9", role="c")
    assert {part.role for part in matching(ALL, "x9")} == {"a", "b", "c"}


@pytest.mark.parametrize("by", ["lot", "maker_number", "serial", ALL])
def test_a_trace_reads_no_whole_table(db: None, by: str) -> None:
    """By the database's own plan: each column is searched by its index."""
    a_part(an_engine(1))
    query, values = matching(by, "K-42").order_by().query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {query}", values)
        plan = [row[3] for row in cursor.fetchall()]
    assert not [step for step in plan if step.startswith("SCAN")]
    for name in ("lot", "number", "serial") if by == ALL else [by.removeprefix("maker_")]:
        assert any(f"part_by_upper_{name}" in step for step in plan), plan


def test_near_ones_begin_like_it(db: None) -> None:
    job = an_engine(1)
    for lot in ("K-421", "K-421", "K-43", "M-1"):
        a_part(job, lot=lot)
    assert [(each.value, each.count) for each in near("lot", "k-42")] == [("K-421", 2)]
    assert [each.value for each in near("lot", "K-49999")] == ["K-421", "K-43"]
    assert near("lot", "%") == near("lot", "__") == near("lot", "zz") == []


def test_a_part_runs_from_the_job_it_was_fitted_in_until_it_came_out(db: None, builder: Person) -> None:
    """Hand-worked: 40 + 12 passes before the rebuild, 30 and 2 hours after it; eight came out after 40."""
    first = an_engine(1)
    part = a_part(first)
    ran(first, builder, 30, "40")
    take_out(part, builder, quantity=8, out_on=DAY + timedelta(days=40), why="failed")
    ran(first, builder, 50, "12")
    second = a_rebuild(first, "26-040", 80)
    ran(second, builder, 100, "30")
    ran(second, builder, 101, "2", unit="hours")
    later = a_part(second, role="pushrod", lot="P1")
    line = trace_lines([part])[0]
    assert (line.ran, line.outs[0].ran) == ("82 passes, 2 hours", "40 passes")
    assert trace_lines([later])[0].ran == "30 passes, 2 hours"
    assert line.word == "8 of 16 still in"


def test_what_was_fitted_at_a_look_between_rebuilds_counts_from_then(db: None, builder: Person) -> None:
    """Hand-worked: 10 passes before the check on day 40, 5 after it."""
    job = an_engine(1)
    ran(job, builder, 30, "10")
    check = Build.objects.create(
        engine=job.engine,
        kind="check",
        follows=job,
        job_number="25-001 check 1",
        opened_on=DAY + timedelta(days=40),
    )
    part = a_part(check, fitted_on=DAY + timedelta(days=40))
    ran(job, builder, 60, "5")
    assert trace_lines([part])[0].ran == "5 passes"


def test_a_later_job_that_lists_another_is_told(db: None, builder: Person) -> None:
    first = an_engine(1)
    part = a_part(first, position="3E")
    second = a_rebuild(first, "26-040", 80)
    a_part(second, lot="N1", role="Rocker arm", position="5E")
    assert trace_lines([part])[0].look == ""
    a_part(second, lot="N1", role="Rocker arm", position="3e")
    assert "A later job lists another rocker arm (26-040): look" in trace_lines([part])[0].look
    take_out(part, builder, quantity=16, out_on=DAY, why="replaced")
    assert trace_lines([part])[0].look == ""


def test_the_page_tells_all_of_a_line(bench_client: Client, builder: Person) -> None:
    job = an_engine(1, phone="555 0199")
    part = a_part(job, position="3E")
    ran(job, builder, 30, "40")
    take_out(part, builder, quantity=1, out_on=DAY + timedelta(days=40), why="failed", in_job=job)
    finding = Finding.objects.create(build=job, what="Roller pin out", condition="broken", found_by=builder)
    Evidence.objects.create(finding=finding, side="for", text="same lot", part=part)
    withdrawn = Finding.objects.create(
        build=job, what="no", condition="worn", found_by=builder, withdrawn="error"
    )
    Evidence.objects.create(finding=withdrawn, side="for", text="x", part=part)
    answer = bench_client.get(TRACE, {"by": "lot", "q": "k-42"})
    text = " ".join(answer.text.split())
    for told in (
        "Customer 001", "555 0199", "V8 no. 1 (S-1)", "job 25-001", "at 3E", "15 of 16 still in",
        "Since it was fitted: 40 passes.", "1 out 14 Feb 2026, failed", "until then: 40 passes.", "Roller pin out",
    ):  # fmt: skip
        assert told in text
    assert [str(each) for each in answer.context["lines"][0].findings] == ["Roller pin out"]
    assert '<span class="state out">' in text


def test_nothing_found_offers_what_begins_like_it(bench_client: Client) -> None:
    a_part(an_engine(1), lot='K-42/"7')
    text = bench_client.get(TRACE, {"by": "lot", "q": "k-42"}).text
    assert "No part in the book has lot “k-42”" in text
    assert "q=K-42%2F%227" in text


@pytest.mark.parametrize("asked", [{"by": "lot", "q": "K\t42"}, {"by": "colour", "q": "K"}, {"q": "K" * 81}])
def test_what_cannot_be_asked_is_a_sentence_and_stays(bench_client: Client, asked: dict[str, str]) -> None:
    answer = bench_client.get(TRACE, asked)
    assert (answer.status_code, 'role="alert"' in answer.text) == (422, True)


def test_an_empty_search_says_what_it_does(bench_client: Client) -> None:
    for asked in ({}, {"q": ""}, {"q": "   "}):
        assert "Type a lot, a maker’s number or a serial number" in bench_client.get(TRACE, asked).text


def test_hostile_text_is_shown_as_text(bench_client: Client) -> None:
    a_part(an_engine(1), lot="<script>alert(1)</script>")
    text = bench_client.get(TRACE, {"by": "lot", "q": "<SCRIPT>alert(1)</script>"}).text
    assert "<script>alert" not in text.lower().replace('<script src="', "")
    assert "&lt;script&gt;alert(1)" in text


def test_the_tables_of_parts_lead_to_the_trace(bench_client: Client) -> None:
    job = an_engine(1)
    a_part(job, lot="A&B 7", serial="S/1", maker_number="#9")
    text = bench_client.get(job.get_absolute_url()).text
    for link in ("?by=lot&amp;q=A%26B%207", "?by=serial&amp;q=S%2F1", "?by=maker_number&amp;q=%239"):
        assert link in text


def test_a_page_of_a_trace_asks_a_constant_number_of_questions(
    bench_client: Client, builder: Person, queries: Callable[[Client, str], int]
) -> None:
    def engines(numbers: range) -> None:
        for number in numbers:
            job = an_engine(number)
            part = a_part(job)
            ran(job, builder, 30, "4")
            take_out(part, builder, quantity=1, out_on=DAY, why="failed", in_job=job)
            finding = Finding.objects.create(build=job, what="worn", condition="worn", found_by=builder)
            Evidence.objects.create(finding=finding, side="for", text="same lot", part=part)

    engines(range(1, 3))
    few = queries(bench_client, f"{TRACE}?by=lot&q=K-42")
    engines(range(3, 43))
    assert queries(bench_client, f"{TRACE}?by=lot&q=K-42") == few
    assert "Page 1 of 2" in bench_client.get(f"{TRACE}?by=lot&q=K-42").text


def test_who_is_not_logged_in_traces_nothing(stranger: Client, db: None) -> None:
    assert stranger.get(reverse("part-trace")).url.startswith(reverse("login"))


def test_still_in_is_what_did_not_come_out(db: None, builder: Person) -> None:
    job = an_engine(1)
    gone, stays = a_part(job), a_part(job)
    take_out(gone, builder, quantity=16, out_on=DAY, why="worn")
    assert list(PartFitted.objects.still_in()) == [stays]
