"""The shop: letterhead, paper and limits."""

import json
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from builds.models import Limit, Person, Shop
from builds.models.shop import DEFAULT_LIMITS

Queries = Callable[[Client, str], int]


@pytest.fixture
def height(db: None) -> Limit:
    """The limit of the stand height."""
    return Limit.objects.get(key="stand_height")


def limit_page(limit: Limit) -> str:
    """Where a limit is changed."""
    return reverse("limit-edit", args=[limit.pk])


@pytest.mark.parametrize(
    ("key", "low", "high", "kind"),
    [
        ("stand_height", "-0.005", "0.005", "length"),
        ("sweep", None, "0.080", "length"),
        ("engagement_aluminium", "1.5", None, "ratio"),
        ("engagement_iron", "1.0", None, "ratio"),
    ],
)
def test_a_new_book_has_the_common_practice_limits(
    db: None, key: str, low: str | None, high: str | None, kind: str
) -> None:
    limit = Limit.by_key()[key]
    assert (limit.low, limit.high) == (low and Decimal(low), high and Decimal(high))
    assert (limit.unit_kind, limit.source) == (kind, "common practice; shop setting")


def test_every_default_limit_is_one_that_may_be(db: None) -> None:
    for row in json.loads(DEFAULT_LIMITS.read_text(encoding="utf-8")):
        Limit.objects.get(key=row["fields"]["key"]).full_clean()


def test_migrating_again_leaves_what_the_shop_set(height: Limit) -> None:
    Limit.objects.filter(pk=height.pk).update(high=Decimal("0.002"))
    call_command("migrate", verbosity=0)
    height.refresh_from_db()
    assert height.high == Decimal("0.002")


def test_an_owner_changes_a_limit_with_its_source(owner_client: Client, height: Limit) -> None:
    owner_client.post(limit_page(height), {"low": "-0.003", "high": "3 thou", "source": "customer's sheet"})
    height.refresh_from_db()
    assert (height.low, height.high, height.source) == (
        Decimal("-0.003"),
        Decimal("0.003"),
        "customer's sheet",
    )


def test_a_limit_is_typed_in_the_persons_unit(owner_client: Client, owner: Person, height: Limit) -> None:
    Person.objects.filter(pk=owner.pk).update(length_unit="mm")
    assert 'value="0.127"' in owner_client.get(limit_page(height)).text
    owner_client.post(limit_page(height), {"low": "", "high": "0.254", "source": "x"})
    height.refresh_from_db()
    assert (height.low, height.high) == (None, Decimal("0.01"))


def test_a_multiple_of_the_bolt_is_a_plain_number(owner_client: Client) -> None:
    limit = Limit.objects.get(key="engagement_iron")
    owner_client.post(limit_page(limit), {"low": "1.25", "high": "", "source": "x"})
    limit.refresh_from_db()
    assert limit.low == Decimal("1.25")


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"low": "", "high": ""}, "a limit needs at least one end"),
        ({"low": "0.005", "high": "-0.005"}, "“not above” is smaller than “not below”"),
        ({"low": "a little", "high": ""}, "is not a number"),
        ({"low": "-0.005", "high": "0.005", "source": ""}, "Where it comes from: nothing is filled in."),
        ({"low": "-0.005", "high": "120 lbf"}, "“lbf” is a force"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(
    owner_client: Client, height: Limit, sent: dict[str, str], sentence: str
) -> None:
    answer = owner_client.post(limit_page(height), {"source": "x", **sent})
    assert (answer.status_code, sentence in answer.text) == (422, True)
    height.refresh_from_db()
    assert height.source == "common practice; shop setting"


def test_a_limit_may_be_exactly_one_value() -> None:
    Limit(name="x", low=Decimal(0), high=Decimal(0)).clean()


def test_zero_is_an_end() -> None:
    Limit(name="x", low=Decimal(0)).clean()
    with pytest.raises(ValidationError, match="needs at least one end"):
        Limit(name="x").clean()


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        ("-0.005", "0.005", "in", "−0.0050 to +0.0050 in"),
        ("-0.005", "0.005", "mm", "−0.127 to +0.127 mm"),
        (None, "0.08", "in", "at most 0.0800 in"),
        ("0.06", None, "in", "at least 0.0600 in"),
    ],
)
def test_a_limit_is_told_in_words(low: str | None, high: str | None, unit: str, words: str) -> None:
    limit = Limit(low=low and Decimal(low), high=high and Decimal(high))
    assert limit.value_in(unit) == words


def test_an_owner_changes_the_letterhead_and_the_paper(owner_client: Client) -> None:
    owner_client.post(reverse("shop-edit"), {"name": "Mill Lane Engines", "paper": "A4"})
    assert (Shop.get().name, Shop.get().paper) == ("Mill Lane Engines", "A4")
    assert "Mill Lane Engines" in owner_client.get("/").text


def test_a_builder_sees_the_limits_and_no_button_to_change_them(bench_client: Client) -> None:
    page = bench_client.get(reverse("shop")).text
    assert "−0.0050 to +0.0050 in" in page
    assert "Change" not in page


def test_the_shops_page_asks_the_same_for_4_and_for_60_limits(bench_client: Client, queries: Queries) -> None:
    few = queries(bench_client, reverse("shop"))
    for number in range(56):
        Limit.objects.create(key=f"k{number}", name=f"limit {number}", high=Decimal(1), source="x")
    assert queries(bench_client, reverse("shop")) == few
