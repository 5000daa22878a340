"""The drawer: instruments, and when each was last checked."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import Instrument
from builds.panels import Panel

Queries = Callable[[Client, str], int]
TODAY = timezone.localdate()


def tool(**changed: str) -> dict[str, str]:
    """What the form of an instrument sends."""
    return {"mark": "MIC-1", "kind": "micrometer", "in_use": "on", **changed}


def test_an_instrument_is_added(bench_client: Client) -> None:
    bench_client.post(reverse("instrument-new"), tool(resolution="0.0001", due_on="2030-01-01"))
    assert Instrument.objects.get().resolution == Decimal("0.0001")
    assert "MIC-1" in bench_client.get(reverse("drawer")).text


def test_an_instrument_form_sent_twice_adds_one(bench_client: Client) -> None:
    sent = tool(form_token=str(uuid4()))
    for _ in range(2):
        assert bench_client.post(reverse("instrument-new"), sent).status_code == 302
    assert Instrument.objects.count() == 1


@pytest.mark.parametrize(("due_in_days", "overdue"), [(-1, True), (0, False), (1, False), (None, False)])
def test_an_instrument_is_overdue_from_the_day_after_it_was_due(
    due_in_days: int | None, overdue: bool
) -> None:
    due_on = None if due_in_days is None else TODAY + timedelta(due_in_days)
    assert Instrument(due_on=due_on).overdue() is overdue


def test_overdue_is_told_by_a_word(bench_client: Client) -> None:
    Instrument.objects.create(mark="MIC-1", kind="micrometer", due_on=date(2026, 1, 5))
    page = bench_client.get(reverse("drawer")).text
    assert '<strong class="sign-out">overdue</strong> since 5 Jan 2026' in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"mark": ""}, "Shop&#x27;s mark: nothing is filled in."),
        ({"mark": "HG-2"}, "Another instrument has this mark."),
        ({"kind": "telescope"}, "Kind: this is none of the choices. Choose one from the list."),
        (
            {"last_checked_on": str(TODAY + timedelta(1))},
            "is still to come. Use the day it was last checked.",
        ),
        (
            {"last_checked_on": "2026-01-05", "due_on": "2026-01-04"},
            "The next check is due after the last one",
        ),
        ({"resolution": "fine"}, "is not a number"),
    ],
)
def test_an_instrument_that_cannot_be_is_refused_and_the_text_stays(
    bench_client: Client, changed: dict[str, str], sentence: str
) -> None:
    Instrument.objects.create(mark="HG-2", kind="height-gauge")
    answer = bench_client.post(reverse("instrument-new"), tool(name="typed with care", **changed))
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert 'value="typed with care"' in answer.text


def test_an_instrument_is_taken_out_of_use_and_stays_in_the_book(bench_client: Client) -> None:
    kept = Instrument.objects.create(mark="MIC-1", kind="micrometer")
    sent = tool()
    del sent["in_use"]
    bench_client.post(reverse("instrument-edit", args=[kept.pk]), sent)
    assert "not in use" in bench_client.get(reverse("drawer")).text


def test_another_floor_fills_a_section_of_the_drawer(
    bench_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builds.views.drawer.drawer_panels", [Panel("Shims", "shop")])
    assert f'hx-get="{reverse("shop")}" hx-trigger="load"' in bench_client.get(reverse("drawer")).text


def test_the_drawer_asks_the_same_for_3_and_for_60(bench_client: Client, queries: Queries) -> None:
    for number in range(3):
        Instrument.objects.create(mark=f"A{number}", kind="micrometer", due_on=TODAY)
    few = queries(bench_client, reverse("drawer"))
    for number in range(57):
        Instrument.objects.create(mark=f"B{number}", kind="feeler")
    assert queries(bench_client, reverse("drawer")) == few
