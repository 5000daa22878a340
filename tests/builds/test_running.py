"""How far an engine ran: entries added up, in the order in which it ran. Hand-worked."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from builds.amounts import plain
from builds.models import Build, BuildKind, Person, RunEntry, StatedAs
from builds.running import RunningRecord, record_of, records_of, words

DAY = date(2026, 3, 1)


def ran(build: Build, person: Person, days: int, amount: str, **more: object) -> RunEntry:
    """An entry, so many days after the first."""
    return RunEntry.objects.create(
        build=build, ran_on=DAY + timedelta(days=days), unit=more.pop("unit", "passes"), text=amount,
        amount=Decimal(amount) if amount else None, entered_by=person, **more,
    )  # fmt: skip


def check_after(entry: RunEntry | None, days: int) -> Build:
    """A check on a day, opened after an entry."""
    return Build(kind=BuildKind.CHECK, opened_on=DAY + timedelta(days=days), after_run=entry)


def test_entries_add_up_and_a_total_says_all(job: Build, builder: Person) -> None:
    ran(job, builder, 0, "4")
    ran(job, builder, 3, "6.5")
    ran(job, builder, 9, "12", stated_as=StatedAs.TOTAL)
    ran(job, builder, 11, "1")
    assert [line.total for line in record_of(job).lines] == [4, Decimal("10.5"), 12, 13]


def test_units_are_never_mixed(job: Build, builder: Person) -> None:
    ran(job, builder, 0, "4")
    ran(job, builder, 1, "2.5", unit="hours")
    ran(job, builder, 2, "3")
    record = record_of(job)
    assert record.totals == {"passes": 7, "hours": Decimal("2.5")}
    assert (record.main_unit, words(record.totals)) == ("passes", "7 passes, 2.5 hours")


def test_a_correction_counts_where_it_says_and_leads_from_what_it_corrects(
    job: Build, builder: Person
) -> None:
    first = ran(job, builder, 0, "4")
    wrong = ran(job, builder, 3, "60")
    ran(job, builder, 5, "2")
    ran(job, builder, 3, "6", corrects=wrong, reason="typed a nought too many")
    record = record_of(job)
    assert record.totals == {"passes": 12}
    assert record.at(check_after(wrong, 3)) == {"passes": 10}
    assert record.at(check_after(first, 0)) == {"passes": 4}


def test_what_is_struck_out_keeps_its_place_for_what_came_after_it(job: Build, builder: Person) -> None:
    ran(job, builder, 0, "4")
    struck = ran(job, builder, 3, "6")
    ran(job, builder, 3, "", corrects=struck, reason="another engine's")
    assert record_of(job).at(check_after(struck, 3)) == {"passes": 4}


def test_an_engine_that_never_ran_says_so(job: Build) -> None:
    record = record_of(job)
    assert (record.totals, record.main_unit, record.at(check_after(None, 3))) == ({}, "", {})
    assert words(record.totals) == "not run yet"


def test_the_last_entry_up_to_a_day(job: Build, builder: Person) -> None:
    first = ran(job, builder, 0, "4")
    second = ran(job, builder, 3, "6")
    record = record_of(job)
    assert record.last_up_to(DAY - timedelta(days=1)) is None
    assert [record.last_up_to(DAY + timedelta(days=days)) for days in (0, 2, 3, 9)] == [
        first,
        first,
        second,
        second,
    ]
    assert record.up_to(DAY + timedelta(days=2)) == {"passes": 4}


def test_many_jobs_are_one_question(
    job: Build, closed_job: Build, builder: Person, django_assert_num_queries: pytest.FixtureRequest
) -> None:
    ran(job, builder, 0, "4")
    with django_assert_num_queries(1):  # type: ignore[operator]
        found = records_of([job.pk, closed_job.pk])
    assert found[job.pk].totals == {"passes": 4}
    assert found[closed_job.pk].totals == {}


def test_plain_amounts() -> None:
    assert [plain(Decimal(text)) for text in ("0.000", "10", "10.500", "100.000")] == [
        "0",
        "10",
        "10.5",
        "100",
    ]
    assert RunningRecord([]).lines == []


def test_what_is_told_later_of_an_earlier_day_counts_for_a_check(job: Build, builder: Person) -> None:
    first = ran(job, builder, 3, "4")
    ran(job, builder, 3, "2")
    look = Build(engine=job.engine, follows=job, opened_on=DAY + timedelta(days=3), after_run=first)
    assert record_of(job).at(look) == {"passes": 4}
    ran(job, builder, 1, "10")
    assert record_of(job).at(look) == {"passes": 14}
    look.after_run = None
    assert record_of(job).at(look) == {"passes": 10}


def test_all_that_ran_on_the_day_counts_for_a_return(job: Build, builder: Person) -> None:
    first = ran(job, builder, 3, "4")
    back = check_after(first, 3)
    back.kind = BuildKind.RETURN
    ran(job, builder, 3, "2")  # told when the engine stood in the shop already
    assert record_of(job).at(back) == {"passes": 6}
