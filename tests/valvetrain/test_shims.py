"""The shim drawer."""

import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from valvetrain.models import ShimStock

pytestmark = pytest.mark.django_db


def typed(**changes: str) -> dict[str, str]:
    return {
        "thickness": ".015",
        "count": "12",
        "material": "steel",
        "fits": "3/8",
        "form_token": str(uuid.uuid4()),
        **changes,
    }


def test_a_thickness_is_added(bench_client: Client):
    bench_client.post(reverse("shim-new"), typed())

    assert ShimStock.objects.get().thickness == Decimal("0.015")


def test_a_thickness_that_is_sent_twice_is_there_once(bench_client: Client):
    sent = typed()

    for _ in range(2):
        assert bench_client.post(reverse("shim-new"), sent).status_code == 302

    assert ShimStock.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"thickness": "0"}, "Thickness: that is too small. Type 0.0005 in or more."),
        ({"thickness": "thin"}, "is not a number"),
        ({"count": "-1"}, "Pieces in the drawer: type a whole number"),
        ({"count": "a few"}, "Pieces in the drawer: type a whole number"),
        ({}, "This shim is in the drawer already."),
    ],
)
def test_it_says_what_is_wrong_with_a_shim(bench_client: Client, changes: dict[str, str], sentence: str):
    ShimStock.objects.create(thickness=Decimal("0.015"), count=3, material="steel", fits="3/8")

    response = bench_client.post(reverse("shim-new"), typed(**changes))

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert ShimStock.objects.count() == 1


def test_pieces_are_counted_again_down_to_none(bench_client: Client):
    shim = ShimStock.objects.create(thickness=Decimal("0.015"), count=3, material="steel", fits="3/8")

    bench_client.post(reverse("shim-edit", args=[shim.pk]), typed(count="0"))

    assert ShimStock.objects.get().count == 0
    assert "none left" in bench_client.get(reverse("shim-list")).content.decode()


def test_the_list_is_in_pages_and_asks_as_often_for_many(bench_client: Client, django_assert_max_num_queries):
    ShimStock.objects.bulk_create(ShimStock(thickness=Decimal(n) / 1000, count=n) for n in range(1, 61))

    with django_assert_max_num_queries(6):
        page = bench_client.get(reverse("shim-list")).content.decode()

    assert "Page 1 of 3" in page
    assert "0.0250 in" in page


def test_the_drawers_section_shows_thicknesses_in_the_persons_unit(bench_client: Client, builder):
    builder.length_unit = "mm"
    builder.save()
    ShimStock.objects.create(thickness=Decimal("0.015"), count=3)

    page = bench_client.get(reverse("shim-list"), headers={"HX-Request": "true"}).content.decode()

    assert "0.381 mm" in page
    assert "<html" not in page


def test_nobody_changes_the_drawer_without_logging_in(stranger: Client):
    shim = ShimStock.objects.create(thickness=Decimal("0.015"), count=3)

    for address in (reverse("shim-new"), reverse("shim-edit", args=[shim.pk])):
        assert stranger.post(address, typed()).url.startswith(reverse("login"))
    assert ShimStock.objects.get().count == 3


def test_a_count_left_empty_leaves_the_count(bench_client: Client):
    shim = ShimStock.objects.create(thickness=Decimal("0.015"), count=3, material="steel", fits="3/8")

    bench_client.post(reverse("shim-edit", args=[shim.pk]), typed(count="", least="2"))

    kept = ShimStock.objects.get()
    assert (kept.count, kept.least, kept.counted_at) == (3, 2, shim.counted_at)


def test_a_count_holds_from_when_it_was_made(bench_client: Client):
    shim = ShimStock.objects.create(thickness=Decimal("0.015"), count=3, material="steel", fits="3/8")

    bench_client.post(reverse("shim-edit", args=[shim.pk]), typed(count="7"))

    kept = ShimStock.objects.get()
    assert (kept.count, kept.counted_at > shim.counted_at) == (7, True)


def test_the_drawer_says_what_is_low(bench_client: Client):
    ShimStock.objects.create(thickness=Decimal("0.015"), count=3, least=6)

    page = bench_client.get(reverse("shim-list")).content.decode()

    assert ".015 is low: 3 left, the shop keeps at least 6." in page
    assert "3, low" in page


def test_counting_again_says_how_the_book_comes_by_its_number(bench_client: Client):
    shim = ShimStock.objects.create(thickness=Decimal("0.015"), count=3)

    assert "In the drawer now: 3." in bench_client.get(reverse("shim-edit", args=[shim.pk])).content.decode()
