"""Writing into a running record: what is taken, and the sentence for what is not. Hand-worked."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.utils import timezone

from builds.guests import MOST_A_DAY, new_token
from builds.models import Build, BuildKind, GuestLink, Person, RunEntry, StatedAs
from builds.recording import EntryRefused
from builds.run_entries import add_entry, read_amount, strike_out
from builds.running import record_of

TODAY = timezone.localdate()


def day(days_ago: int) -> date:
    return TODAY - timedelta(days=days_ago)


@pytest.fixture
def out(job: Build) -> Build:
    """A job whose engine left thirty days ago."""
    job.opened_on, job.went_out_on = day(60), day(30)
    job.save()
    return job


def write(out: Build, person: Person | None, days_ago: int, text: str, **more: Any) -> RunEntry:
    entry, _new = add_entry(
        out, client_id=more.pop("client_id", None) or uuid4(), ran_on=day(days_ago), unit=more.pop("unit", "passes"),
        text=text, stated_as=more.pop("stated_as", StatedAs.MORE), person=person, **more,
    )  # fmt: skip
    return entry


def refused(out: Build, person: Person | None, days_ago: int, text: str, **more: Any) -> tuple[str, str]:
    with pytest.raises(EntryRefused) as caught:
        write(out, person, days_ago, text, **more)
    return caught.value.field_name, caught.value.sentence


@pytest.mark.parametrize(
    ("text", "unit", "amount"),
    [
        ("6", "passes", "6"), ("6.5", "hours", "6.5"), ("6,5", "hours", "6.5"), ("  12 ", "laps", "12"),
        (".5", "hours", "0.5"), ("1 200", "miles", "1200"), ("12 passes", "passes", "12"), ("6.5 h", "hours", "6.5"),
        ("6.0", "passes", "6"), ("+4", "laps", "4"), ("0", "passes", "0"), ("-0", "hours", "0"), ("7.", "km", "7"),
        ("0.125", "hours", "0.125"), ("0,125", "hours", "0.125"), ("1,25", "hours", "1.25"), ("1.200", "hours", "1.2"),
    ],
)  # fmt: skip
def test_amounts_as_people_type_them(text: str, unit: str, amount: str) -> None:
    assert read_amount(text, unit) == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "unit", "sentence"),
    [
        ("", "passes", "is not filled in"), ("six", "passes", "is not a number"), ("6.5", "passes", "counted whole"),
        ("1,200", "laps", "with no thousands mark"), ("1.2.3", "hours", "more than one decimal point"),
        ("1.200,5", "miles", "more than one decimal point"), ("-4", "passes", "an engine does not run backwards"),
        ("−4", "hours", "below zero"), ("9999999", "km", "more than any engine runs"),
        ("6 laps", "passes", "is not in passes"),
        ("0.0004", "hours", "finer than running is counted"), ("1e5", "hours", "is not in hours"),
        ("٦", "passes", "is not a number"),
        ("1,200", "miles", "may mean 1200 or 1.2 miles"), ("12,500 km", "km", "may mean 12500 or 12.5 km"),
        ("<b>", "hours", "is not a number"), ("6" * 30, "hours", "more text than an amount has"),
    ],
)  # fmt: skip
def test_what_is_no_amount_gets_a_sentence(text: str, unit: str, sentence: str) -> None:
    with pytest.raises(EntryRefused, match=sentence) as caught:
        read_amount(text, unit)
    assert caught.value.field_name == "text"


def test_it_keeps_what_was_typed_beside_the_number(out: Build, builder: Person) -> None:
    entry = write(out, builder, 3, " 6,50", unit="hours", note="two evenings", told_by="the owner")
    assert (entry.text, entry.amount, entry.entered_by, entry.told_by) == (
        "6,50",
        Decimal("6.50"),
        builder,
        "the owner",
    )


def test_the_same_entry_sent_again_is_written_once(out: Build, builder: Person) -> None:
    client_id = uuid4()
    first = write(out, builder, 3, "6", client_id=client_id)
    assert write(out, builder, 3, "6", client_id=client_id) == first
    assert "has written another entry already" in refused(out, builder, 3, "7", client_id=client_id)[1]
    assert RunEntry.objects.count() == 1


def test_a_total_below_what_it_had_run_names_that_entry(out: Build, builder: Person) -> None:
    write(out, builder, 9, "12")
    name, sentence = refused(out, builder, 3, "10", stated_as=StatedAs.TOTAL)
    assert name == "text"
    assert sentence == (
        f"10 passes in all on {day(3):%d %b %Y} is less than it had run before: the entry of {day(9):%d %b %Y} comes to "
        "12 passes in all. An engine does not run backwards. Type 12 or more, or correct that entry first."
    )


def test_running_dated_before_a_later_total_does_not_push_past_it(out: Build, builder: Person) -> None:
    write(out, builder, 9, "8")
    write(out, builder, 3, "10", stated_as=StatedAs.TOTAL)
    write(out, builder, 6, "2")
    sentence = refused(out, builder, 5, "1")[1]
    assert f"the entry of {day(3):%d %b %Y} says 10 passes in all" in sentence
    assert "it would have run 11 passes" in sentence
    assert "it would have run 11 passes" in refused(out, builder, 6, "11", stated_as=StatedAs.TOTAL)[1]


def test_units_do_not_hold_against_one_another(out: Build, builder: Person) -> None:
    write(out, builder, 9, "12")
    write(out, builder, 3, "2.5", unit="hours", stated_as=StatedAs.TOTAL)
    assert record_of(out).totals == {"passes": 12, "hours": Decimal("2.5")}


@pytest.mark.parametrize(
    ("days_ago", "sentence"), [(31, "is before it left: job"), (-1, "is still to come"), (4, "is after it came back")]
)  # fmt: skip
def test_days_on_which_the_engine_was_not_out(
    out: Build, builder: Person, days_ago: int, sentence: str
) -> None:
    out.came_back_on = day(5)
    out.save()
    name, told = refused(out, builder, days_ago, "6")
    assert (name, sentence in told) == ("ran_on", True)


def test_a_job_that_never_went_out_has_not_run(job: Build, builder: Person) -> None:
    assert "has not gone out yet" in refused(job, builder, 0, "6")[1]


def test_a_check_has_no_running_of_its_own(out: Build, builder: Person) -> None:
    check = Build.objects.create(
        job_number="c1", engine=out.engine, kind=BuildKind.CHECK, follows=out, opened_on=day(2)
    )
    assert f"Write it into job {out}" in refused(check, builder, 0, "6")[1]


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("unit", "furlongs", "counted in passes, laps, hours"), ("stated_as", "about", "Say how it is meant"),
        ("note", "x" * 201, "The note is longer than 200"), ("told_by", "x" * 81, "Told by is longer than 80"),
        ("note", "a\0b", "cannot be kept"),
    ],
)  # fmt: skip
def test_words_that_do_not_fit(out: Build, builder: Person, field: str, value: str, sentence: str) -> None:
    name, told = refused(out, builder, 3, "6", **{field: value})
    assert (name, sentence in told) == (field, True)


def test_a_correction_names_the_old_entry_and_keeps_its_place(out: Build, builder: Person) -> None:
    wrong = write(out, builder, 5, "60")
    write(out, builder, 5, "62", stated_as=StatedAs.TOTAL)
    assert "Say why it is corrected" in refused(out, builder, 5, "6", corrects=wrong)[1]
    write(out, builder, 5, "6", corrects=wrong, reason="a nought too many")
    assert [line.total for line in record_of(out).lines] == [6, 62]
    assert "has been corrected already" in refused(out, builder, 5, "7", corrects=wrong, reason="again")[1]


def test_a_correction_may_not_make_it_run_backwards(out: Build, builder: Person) -> None:
    first = write(out, builder, 9, "8")
    write(out, builder, 3, "10", stated_as=StatedAs.TOTAL)
    assert (
        "says 10 passes in all" in refused(out, builder, 9, "11", corrects=first, reason="told anew", )[1]
    )  # fmt: skip


def test_an_entry_is_struck_out_once_with_a_reason(out: Build, builder: Person) -> None:
    entry, client_id = write(out, builder, 5, "6"), uuid4()
    with pytest.raises(EntryRefused, match="Say why it is struck out"):
        strike_out(out, client_id=client_id, entry=entry, reason=" ", person=builder)
    struck, new = strike_out(out, client_id=client_id, entry=entry, reason="another engine’s", person=builder)
    assert (struck.struck_out, new, record_of(out).totals) == (True, True, {})
    again = strike_out(out, client_id=client_id, entry=entry, reason="another engine’s", person=builder)
    assert again == (struck, False)
    with pytest.raises(EntryRefused, match="has been corrected already"):
        strike_out(out, client_id=uuid4(), entry=entry, reason="twice", person=builder)
    with pytest.raises(EntryRefused, match="is a striking-out already"):
        strike_out(out, client_id=uuid4(), entry=struck, reason="back", person=builder)


@pytest.fixture
def link(out: Build, builder: Person) -> GuestLink:
    return GuestLink.objects.create(
        build=out, digest=new_token()[1], name="crew", made_by=builder, takes_running=True
    )


def test_an_entry_by_a_link_says_which(out: Build, link: GuestLink) -> None:
    entry = write(out, None, 3, "6", via=link)
    assert (entry.entered_by, entry.via) == (None, link)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"last_day": day(1)}, "Ask the shop for a new one"),
        ({"takes_running": False}, "shows its job and takes nothing"),
        ({"revoked_at": timezone.now()}, "The shop has closed this link"),
    ],
)  # fmt: skip
def test_a_link_that_is_over_or_takes_nothing(
    out: Build, link: GuestLink, changed: dict[str, Any], sentence: str
) -> None:
    GuestLink.objects.filter(pk=link.pk).update(**changed)
    assert sentence in refused(out, None, 3, "6", via=link)[1]


def test_a_link_takes_so_many_entries_a_day(out: Build, link: GuestLink) -> None:
    RunEntry.objects.bulk_create(
        RunEntry(client_id=UUID(int=number), build=out, ran_on=day(3), unit="laps", text="1", amount=1, via=link)
        for number in range(1, MOST_A_DAY + 1)
    )  # fmt: skip
    assert "takes no more until tomorrow" in refused(out, None, 3, "1", unit="laps", via=link)[1]
