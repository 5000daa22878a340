"""Height gauges in the drawer."""

import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Instrument
from tests.valvetrain.shopfloor import a_gauge
from valvetrain.models import HeightGauge

pytestmark = pytest.mark.django_db


def typed(**changes: str) -> dict[str, str]:
    return {
        "mark": "HG-2",
        "name": "For .700 lift",
        "serial": "",
        "resolution": "",
        "last_checked_on": "2026-05-04",
        "due_on": "",
        "in_use": "on",
        "step": "",
        "reference_lift": "0.700",
        "tip_diameter": "0.470",
        "shaft_diameter": "0.700",
        "square_at": "0.5",
        "dummy_diameter": "",
        "form_token": str(uuid.uuid4()),
        **changes,
    }


def test_a_gauge_is_one_form_for_the_instrument_and_what_it_was_made_for(bench_client: Client):
    bench_client.post(reverse("gauge-new"), typed())

    gauge = HeightGauge.objects.get()
    assert (gauge.instrument.mark, gauge.instrument.kind) == ("HG-2", "height-gauge")
    # Hand-worked: 0.235 + 0.350 − 0.5 × 0.700.
    assert gauge.step_value() == pytest.approx(0.235)


def test_a_gauge_that_is_sent_twice_is_there_once(bench_client: Client):
    sent = typed()

    for _ in range(2):
        assert bench_client.post(reverse("gauge-new"), sent).status_code == 302

    assert Instrument.objects.count() == HeightGauge.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"reference_lift": ""},
            "Give the gauge&#x27;s step as measured, or the lift, roller and shaft diameter",
        ),
        ({"mark": ""}, "Shop&#x27;s mark: nothing is filled in."),
        ({"mark": "HG-1"}, "Another instrument has this mark."),
        ({"due_on": "soon"}, "that is not a date"),
        ({"reference_lift": "0"}, "that is too small. Type a value above 0."),
        ({"square_at": "2"}, "Made square at, as a part of lift: type a number from 0 to 1"),
    ],
)
def test_it_says_what_is_wrong_with_a_gauge(bench_client: Client, changes: dict[str, str], sentence: str):
    a_gauge("HG-1")

    response = bench_client.post(reverse("gauge-new"), typed(**changes))

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert Instrument.objects.count() == 1


def test_a_measured_step_outranks_what_the_gauge_was_made_for(bench_client: Client):
    gauge = a_gauge("HG-2")

    bench_client.post(reverse("gauge-edit", args=[gauge.pk]), typed(step="0.2362"))

    gauge.refresh_from_db()
    assert gauge.step == Decimal("0.2362")
    assert gauge.reference_lift == Decimal("0.7")


def test_the_list_shows_each_step_and_asks_as_often_for_many(
    bench_client: Client, django_assert_max_num_queries
):
    for number in range(30):
        a_gauge(f"HG-{number}")
    bench_client.get(reverse("gauge-list"))  # what is made once, such as the shop, is made here

    with django_assert_max_num_queries(5):
        page = bench_client.get(reverse("gauge-list")).content.decode()

    assert page.count("0.2350 in") == 25
    assert "Page 1 of 2" in page


def test_the_drawers_section_is_a_piece_of_a_page(bench_client: Client):
    page = bench_client.get(reverse("gauge-list"), headers={"HX-Request": "true"}).content.decode()

    assert "No height gauges yet" in page
    assert "<html" not in page


def test_nobody_changes_a_gauge_without_logging_in(stranger: Client):
    gauge = a_gauge()

    for address in (reverse("gauge-new"), reverse("gauge-edit", args=[gauge.pk])):
        assert stranger.post(address, typed()).url.startswith(reverse("login"))
