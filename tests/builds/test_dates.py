"""Dates that nobody can have meant are refused in words, on every form that takes one."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.dates import why_not
from builds.models import Build, Instrument

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (date(1899, 12, 31), "too long ago"),
        (date(1900, 1, 1), ""),
        (TODAY, ""),
        (date(2027, 11, 25), ""),
        (date(2027, 11, 26), "too far ahead. Type a date up to 25 Nov 2027."),
        (date(9999, 12, 31), "the year 9999 is too far ahead"),
    ],
)
def test_a_date_from_1900_to_a_year_ahead_can_be_meant(day: date, sentence: str) -> None:
    assert sentence in why_not(day, TODAY)
    assert bool(sentence) == bool(why_not(day, TODAY))


def test_a_leap_day_has_its_year_ahead_too() -> None:
    assert why_not(date(2029, 2, 28), date(2028, 2, 29)) == ""
    assert "up to 28 Feb 2029" in why_not(date(2029, 3, 1), date(2028, 2, 29))


@pytest.mark.django_db
@pytest.mark.parametrize("field", ["opened_on", "promised_on"])
@pytest.mark.parametrize("typed", ["9999-12-31", "1066-10-14"])
def test_a_job_is_not_opened_in_a_year_that_nobody_meant(
    bench_client: Client, job: Build, field: str, typed: str
) -> None:
    sent = {"job_number": "2026-001", "opened_on": "2026-01-05", field: typed}
    answer = bench_client.post(reverse("job-edit", args=[job.pk]), sent)
    assert answer.status_code == 422
    assert f": the year {typed[:4]} is too" in answer.context["form"].errors[field][0]
    assert f'value="{typed}"' in answer.text


@pytest.mark.django_db
def test_a_part_is_not_fitted_in_the_year_9999(bench_client: Client, job: Build) -> None:
    sent = {"role": "pushrod", "quantity": "1", "fitted_on": "9999-12-31"}
    answer = bench_client.post(reverse("part-new", args=[job.pk]), sent)
    assert "Fitted: the year 9999 is too far ahead" in answer.text


@pytest.mark.django_db
def test_an_instrument_may_be_due_in_some_years(bench_client: Client) -> None:
    sent = {"mark": "GB-1", "kind": "other", "due_on": str(timezone.localdate() + timedelta(days=3 * 365))}
    assert bench_client.post(reverse("instrument-new"), sent).status_code == 302
    far = {**sent, "mark": "GB-2", "due_on": "2999-01-01"}
    assert "Next check due: the year 2999" in bench_client.post(reverse("instrument-new"), far).text
    assert Instrument.objects.filter(mark__startswith="GB").count() == 1
