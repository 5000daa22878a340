"""How long parts last, from the records: who counts, as failed or as far as it ran; and the page."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from builds.models import Person
from builds.parts_out import take_out
from builds.survival import Units, kinds, of_kind, survival
from tests.builds.part_scene import DAY, a_part, an_engine, ran

PAGE = "/returns/parts/last/"


def failing(number: int, person: Person, *, passes: str = "40", why: str = "failed", count: int = 1) -> None:
    """An engine of eight arms that ran, of which some came out."""
    job = an_engine(number)
    part = a_part(job, quantity=8)
    ran(job, person, 30, passes)
    take_out(part, person, quantity=count, out_on=DAY + timedelta(days=40), why=why)
    ran(job, person, 50, "10")


def test_only_what_failed_is_an_event_and_the_rest_counts_as_far_as_it_ran(builder: Person) -> None:
    """Hand-worked: 8 units; two failed at 40, six are still running at 50."""
    failing(1, builder, count=2)
    found = of_kind("Rocker Arm", "", "passes").survival
    assert [(step.ran, step.at_risk, step.failed, step.lasting) for step in found.steps] == [(40, 8, 2, 0.75)]
    assert (found.censored, found.median, found.furthest) == (((50.0, 6),), None, 50)
    assert (found.at_risk(40), found.at_risk(41), found.lasting(39), found.lasting(40)) == (8, 6, 1.0, 0.75)


@pytest.mark.parametrize("why", ["worn", "recalled", "replaced", "other"])
def test_what_came_out_for_another_reason_did_not_fail(builder: Person, why: str) -> None:
    failing(1, builder, why=why, count=2)
    found = of_kind("rocker arm", "", "passes").survival
    assert (found.failures, found.censored) == (0, ((40.0, 2), (50.0, 6)))


def test_engines_without_running_in_the_unit_are_left_out_and_told(builder: Person) -> None:
    failing(1, builder, count=2)
    part = a_part(an_engine(2), quantity=4)
    take_out(part, builder, quantity=1, out_on=DAY, why="failed")
    counted = of_kind("rocker arm", "", "passes")
    assert (counted.survival.units, counted.unknown, counted.unknown_failed) == (8, 4, 1)
    assert of_kind("rocker arm", "", "hours").survival.units == 0


def test_a_makers_number_narrows_it(builder: Person) -> None:
    job = an_engine(1)
    a_part(job, maker_number="RA-1", quantity=3)
    a_part(job, quantity=5)
    ran(job, builder, 30, "4")
    assert of_kind("rocker arm", "ra-1", "passes").survival.units == 3


ENOUGH_OR_NOT = [
    (0, 30, False, True), (1, 30, False, True), (2, 30, True, True), (4, 16, True, True), (5, 15, True, False),
    (5, 14, True, True),
]  # fmt: skip


@pytest.mark.parametrize(("failed", "going", "drawn", "few"), ENOUGH_OR_NOT)
def test_few_is_said_and_below_two_failures_there_is_the_count_alone(
    failed: int, going: int, drawn: bool, few: bool
) -> None:
    found = survival([Units(5, True, failed), Units(9, False, going)], "passes")
    assert (found.is_drawn, found.is_few, bool(found.steps)) == (drawn, few, drawn)
    assert (found.units, found.failures) == (failed + going, failed)


def test_nothing_to_count_and_all_failed_at_once() -> None:
    assert survival([], "passes").units == 0
    found = survival([Units(0, True, 3)], "passes")
    assert [(step.ran, step.lasting, step.low, step.high) for step in found.steps] == [(0, 0, None, None)]
    assert found.steps[0].interval == "not defined"


def test_kinds_are_counted_whatever_their_capitals(builder: Person) -> None:
    failing(1, builder, count=2)
    a_part(an_engine(2), role="Rocker Arm", quantity=8)
    a_part(an_engine(3), role="pushrod", quantity=16)
    assert [(kind.fitted, kind.came_out, kind.failed) for kind in kinds()] == [(16, 2, 2), (16, 0, 0)]


def test_the_page_says_that_it_is_few_and_shows_the_numbers_at_risk(
    bench_client: Client, builder: Person
) -> None:
    failing(1, builder, count=2)
    text = " ".join(bench_client.get(PAGE, {"role": "rocker arm"}).text.split())
    for told in (
        "8 units, 2 failed.",
        "Few: a hint, not a rate.",
        "curve.svg?role=rocker+arm",
        "75 %",
        "no median",
    ):
        assert told in text
    drawn = bench_client.get(f"{PAGE}curve.svg", {"role": "rocker arm"})
    assert (drawn.status_code, drawn["Content-Type"]) == (200, "image/svg+xml")
    assert "8 units, 2 failed; fewer than half failed. Few: a hint, not a rate." in drawn.text


def test_one_failure_is_a_count_and_no_curve(bench_client: Client, builder: Person) -> None:
    failing(1, builder)
    text = bench_client.get(PAGE, {"role": "rocker arm"}).text
    assert "there is nothing but the count" in text
    assert "curve.svg" not in text
    assert "It takes two failures." in bench_client.get(f"{PAGE}curve.svg", {"role": "rocker arm"}).text


@pytest.mark.parametrize("asked", [{"role": ""}, {"role": "a\u200bb"}, {"role": "pushrod", "unit": "days"}])
def test_what_cannot_be_asked_is_a_sentence(bench_client: Client, asked: dict[str, str]) -> None:
    for page in (PAGE, f"{PAGE}curve.svg"):
        assert bench_client.get(page, asked).status_code == 422


def test_hostile_text_is_shown_as_text(bench_client: Client, builder: Person) -> None:
    a_part(an_engine(1), role="<script>alert(1)</script>")
    for asked in ({}, {"role": "<script>alert(1)</script>"}):
        assert "<script>alert" not in bench_client.get(PAGE, asked).text


def test_a_constant_number_of_questions(
    bench_client: Client, builder: Person, queries: Callable[[Client, str], int]
) -> None:
    pages = [PAGE, f"{PAGE}?role=rocker+arm"]
    failing(1, builder)
    few = [queries(bench_client, page) for page in pages]
    for number in range(2, 32):
        failing(number, builder)
        a_part(an_engine(100 + number), role=f"part {number}")
    assert [queries(bench_client, page) for page in pages] == few


def test_who_is_not_logged_in_sees_none_of_it(stranger: Client, db: None) -> None:
    for page in (PAGE, f"{PAGE}curve.svg"):
        assert stranger.get(page).url.startswith("/login/")
