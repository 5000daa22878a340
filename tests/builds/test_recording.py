"""Writing a reading: checked, asked about, safe to repeat, never lost."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.utils import timezone

from builds import characteristics, positions
from builds.characteristics import Characteristic
from builds.models import Build, Person, Reading
from builds.recording import Entry, EntryQuestioned, EntryRefused, record, strike_out

GAP = Characteristic("test_gap", "gap", "post", "Feeler.", Decimal(0), Decimal("0.35"))
OFFSET = Characteristic("test_offset", "offset", "post", "Dial.", Decimal(-1), Decimal(1), signed=True)
LOAD = Characteristic(
    "test_load", "seat load", "post", "Scale.", Decimal(50), Decimal(900), unit_kind="force"
)


@pytest.fixture(autouse=True)
def registry(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two posts in every engine, and what may be measured at them."""
    known = {entry.key: entry for entry in (GAP, OFFSET, LOAD)}
    monkeypatch.setattr(characteristics, "_registry", known)
    monkeypatch.setattr(positions, "position_providers", [lambda build: {"post1": "post", "post2": "post"}])


Writer = Callable[..., Reading]


@pytest.fixture
def write(job: Build, builder: Person) -> Writer:
    """Write one reading on the open job, as Nora."""

    def _write(text: str = "0.212", **fields: Any) -> Reading:
        return record(fields.pop("build", job), builder, entry(text, **fields))[0]

    return _write


def entry(text: str = "0.212", **fields: Any) -> Entry:
    """What was keyed in, with a fresh id unless one is given."""
    chosen = {"client_id": uuid4(), "position": "post1", "characteristic": "test_gap", "unit": "", **fields}
    return Entry(text=text, **chosen)


def test_a_reading_keeps_the_text_the_unit_and_the_exact_value(write: Writer, builder: Person) -> None:
    reading = write("0.0400")
    reading.refresh_from_db()
    assert (reading.text, reading.unit, reading.value) == ("0.0400", "in", Decimal("0.04"))
    assert reading.taken_by == builder


def test_a_value_in_millimetres_is_kept_in_inches_beside_its_text(write: Writer) -> None:
    reading = write("2.54", unit="mm")
    assert (reading.text, reading.unit, reading.value) == ("2.54", "mm", Decimal("0.1"))


def test_zero_is_a_reading(write: Writer) -> None:
    assert write("0").value == 0


def test_the_same_delivery_again_is_answered_with_the_same_reading(job: Build, builder: Person) -> None:
    sent = entry()
    first, second = record(job, builder, sent), record(job, builder, sent)
    assert (first[0].pk, first[1], second[1]) == (second[0].pk, True, False)
    assert Reading.objects.count() == 1


def test_a_delivery_repeated_after_the_job_closed_is_still_answered(job: Build, builder: Person) -> None:
    sent = entry()
    record(job, builder, sent)
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())
    assert record(job, builder, sent)[1] is False


@pytest.mark.parametrize(
    "changed", [{"text": "0.213"}, {"unit": "mm"}, {"position": "post2"}, {"characteristic": "test_offset"}]
)
def test_the_same_id_for_something_else_is_refused(
    job: Build, builder: Person, changed: dict[str, str]
) -> None:
    sent = {"client_id": UUID(int=7), "text": "0.212"}
    record(job, builder, entry(**sent))
    with pytest.raises(EntryRefused, match=r"already used for post1 = 0.212 in"):
        record(job, builder, entry(**{**sent, **changed}))


def test_repeats_are_kept_beside_one_another(write: Writer, job: Build) -> None:
    for text in ("0.212", "0.213", "0.212"):
        write(text)
    assert [reading.text for reading in job.readings.standing()] == ["0.212", "0.213", "0.212"]


def test_a_correction_stands_for_the_old_reading_and_both_remain(write: Writer, job: Build) -> None:
    old = write("0.221")
    write("0.212", corrects=old, reason="two figures swapped")
    assert [reading.text for reading in job.readings.standing()] == ["0.212"]
    assert job.readings.count() == 2


@pytest.mark.parametrize("reason", ["", "   "])
def test_a_correction_says_why(write: Writer, reason: str) -> None:
    with pytest.raises(EntryRefused, match="Say why the reading is corrected"):
        write("0.212", corrects=write("0.221"), reason=reason)


def test_a_reading_is_corrected_once(write: Writer) -> None:
    old = write("0.221")
    write("0.212", corrects=old, reason="swapped")
    with pytest.raises(EntryRefused, match=r"post1 = 0.221 in has been corrected already"):
        write("0.213", corrects=old, reason="swapped again")


def test_two_tablets_that_correct_at_once_leave_one_correction(write: Writer) -> None:
    old = write("0.221")
    assert not hasattr(old, "corrected_by")  # the second tablet looked before the first one saved
    write("0.212", corrects=Reading.objects.get(pk=old.pk), reason="swapped")
    with pytest.raises(EntryRefused, match="has been corrected already"):
        write("0.213", corrects=old, reason="swapped")


def test_a_correction_stays_at_the_address_of_what_it_corrects(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="stands at the same address"):
        write("0.212", corrects=write("0.221"), reason="wrong post", position="post2")


def test_a_reading_is_struck_out_by_a_record_that_says_why(
    write: Writer, job: Build, builder: Person
) -> None:
    old = write()
    struck, _ = strike_out(job, builder, client_id=uuid4(), reading=old, reason="wrong engine")
    assert struck.struck_out
    assert not job.readings.standing().exists()
    assert job.readings.count() == 2


def test_striking_out_is_safe_to_repeat(write: Writer, job: Build, builder: Person) -> None:
    told = {"client_id": uuid4(), "reading": write(), "reason": "wrong engine"}
    first, again = strike_out(job, builder, **told), strike_out(job, builder, **told)
    assert (first[0].pk, again[1]) == (again[0].pk, False)


def test_striking_out_says_why(write: Writer, job: Build, builder: Person) -> None:
    with pytest.raises(EntryRefused, match="Say why"):
        strike_out(job, builder, client_id=uuid4(), reading=write(), reason=" ")


def test_a_striking_out_is_not_struck_out_itself(write: Writer, job: Build, builder: Person) -> None:
    struck, _ = strike_out(job, builder, client_id=uuid4(), reading=write(), reason="wrong engine")
    with pytest.raises(EntryRefused, match="striking-out already"):
        strike_out(job, builder, client_id=uuid4(), reading=struck, reason="was right")


def test_a_closed_job_takes_no_readings_and_names_the_day(write: Writer, closed_job: Build) -> None:
    with pytest.raises(EntryRefused, match="went out on 01 Feb 2026: its log is closed"):
        write(build=closed_job)


def test_a_job_that_closed_since_the_page_was_opened_takes_no_readings(write: Writer, job: Build) -> None:
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())
    with pytest.raises(EntryRefused, match="its log is closed"):
        write()
    assert not Reading.objects.exists()


def test_a_closed_job_has_nothing_struck_out(write: Writer, job: Build, builder: Person) -> None:
    reading = write()
    Build.objects.filter(pk=job.pk).update(went_out_on=timezone.localdate())
    with pytest.raises(EntryRefused, match="its log is closed"):
        strike_out(job, builder, client_id=uuid4(), reading=reading, reason="wrong")


def test_a_time_that_is_still_to_come_is_refused(write: Writer) -> None:
    with pytest.raises(EntryRefused, match=r"still to come\. Set the tablet's clock right"):
        write(taken_at=timezone.now() + timedelta(hours=1))


def test_a_clock_that_is_a_minute_fast_is_forgiven(write: Writer) -> None:
    soon = timezone.now() + timedelta(minutes=1)
    assert write(taken_at=soon).taken_at == soon


def test_a_time_before_tablets_is_refused(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="it is from 1970"):
        write(taken_at=datetime(1970, 1, 1, tzinfo=UTC))


def test_a_time_without_a_zone_is_refused(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="no time zone"):
        write(taken_at=datetime(2026, 1, 5, 9, 0))


@pytest.mark.parametrize("place", ["post9", "", "POST1", "post1; drop"])
def test_an_address_that_does_not_exist_is_refused(write: Writer, place: str) -> None:
    with pytest.raises(EntryRefused, match=f"There is no “{place}” on job 2026-001"):
        write(position=place)


def test_a_thing_is_measured_only_where_it_belongs(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="cyl3 is a cylinder, and gap is measured at a post"):
        write(position="cyl3")


def test_something_that_this_book_does_not_measure_is_refused(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="“colour” is not something this book measures"):
        write(characteristic="colour")


def test_a_negative_gap_is_refused_with_its_place_and_what_would_be_right(write: Writer) -> None:
    with pytest.raises(EntryRefused, match=r"post1, gap: “-0.010” is below zero") as refused:
        write("-0.010")
    assert refused.value.offers == ()


def test_a_value_that_may_be_negative_is_taken(write: Writer) -> None:
    assert write("−0.010", characteristic="test_offset").value == Decimal("-0.01")


def test_a_unit_of_another_kind_is_refused(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="“lbf” is a force"):
        write("120 lbf")


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("212", ("0.212 in",)),
        ("5.4 in", ("0.0054 in", "5.4 mm")),
        ("5.4 IN", ("0.0054 in", "5.4 mm")),
        ("9", ("0.009 in",)),
        ("900", ()),
    ],
)
def test_an_implausible_value_is_asked_about_with_what_may_be_meant(
    write: Writer, typed: str, offers: tuple[str, ...]
) -> None:
    with pytest.raises(EntryQuestioned, match="is unusual") as asked:
        write(typed)
    assert asked.value.offers == offers


def test_a_value_that_the_person_is_sure_of_is_taken(write: Writer) -> None:
    assert write("0.9", sure=True).value == Decimal("0.9")


def test_being_sure_does_not_make_text_a_number(write: Writer) -> None:
    with pytest.raises(EntryRefused, match="“lots” is not a number"):
        write("lots", sure=True)


@pytest.mark.parametrize(("typed", "unit", "offer"), [("0.25", "in", "0.25 mm"), ("0.25", "mm", "0.25 in")])
def test_a_value_about_25_times_off_is_asked_inch_or_millimetre(
    write: Writer, typed: str, unit: str, offer: str
) -> None:
    expected = Decimal("0.01") if unit == "in" else Decimal("0.25")
    with pytest.raises(EntryQuestioned, match="Inch or millimetre") as asked:
        write(typed, unit=unit, expected=expected)
    assert asked.value.offers == (offer,)


@pytest.mark.parametrize("expected", [Decimal(0), Decimal("0.2"), None])
def test_a_value_near_the_expected_one_is_not_asked_about(write: Writer, expected: Decimal | None) -> None:
    assert write("0.212", expected=expected).text == "0.212"


def test_another_kind_of_quantity_has_its_own_unit_in_the_question(write: Writer) -> None:
    with pytest.raises(EntryQuestioned, match=r"expected 50.0 lbf to 900.0 lbf"):
        write("1200", characteristic="test_load")


@pytest.mark.parametrize("name", ["how", "reason", "note"])
def test_words_that_do_not_fit_are_refused_not_cut(write: Writer, name: str) -> None:
    with pytest.raises(EntryRefused, match="Say it shorter") as refused:
        write(**{name: "x" * 201})
    assert refused.value.field_name == name


def test_a_refused_entry_leaves_nothing_behind(write: Writer) -> None:
    with pytest.raises(EntryRefused):
        write("212")
    assert not Reading.objects.exists()
