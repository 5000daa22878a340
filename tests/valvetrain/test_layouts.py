"""The shelf of layouts."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from tests.valvetrain.shopfloor import a_head, a_job
from valvetrain.models import Head, Pad, Valve

pytestmark = pytest.mark.django_db


def layouts() -> list[str]:
    return list(Head.objects.filter(build=None).order_by("layout_name").values_list("layout_name", flat=True))


def the_four() -> Head:
    return Head.objects.get(layout_name="In-line four, one shaft")


def test_a_new_book_has_three_layouts_on_its_shelf():
    assert layouts() == ["In-line four, one shaft", "V8 head, canted valves", "V8 head, paired stands"]


def test_every_layout_is_whole():
    for layout in Head.objects.filter(build=None):
        layout.full_clean()
        assert layout.valves.count() == 8
        for stand in layout.stands.all():
            stand.full_clean()
            assert stand.pads.count() >= 2


def test_the_shelf_shows_every_layout_in_plan(bench_client: Client):
    page = bench_client.get(reverse("layout-list")).content.decode()

    assert page.count("<svg") == 3
    assert "V8 head, canted valves" in page


def test_the_shelf_asks_as_often_for_many_layouts(bench_client: Client, django_assert_max_num_queries):
    for number in range(6):
        the_four().copy_to(None, code="", name="Head", layout_name=f"Copy {number}")

    bench_client.get(reverse("layout-list"))  # what is made once, such as the shop, is made here
    with django_assert_max_num_queries(8):
        bench_client.get(reverse("layout-list"))
    with django_assert_max_num_queries(5):
        bench_client.get(reverse("layouts-panel"), headers={"HX-Request": "true"})


def test_a_layout_is_copied_with_all_its_parts(bench_client: Client):
    bench_client.post(
        reverse("copy-to-shelf", args=[the_four().pk]), {"layout_name": "Ours", "form_token": uuid.uuid4()}
    )

    ours = Head.objects.get(layout_name="Ours")
    assert Pad.objects.filter(stand__head=ours).count() == 5
    assert Valve.objects.filter(head=ours, stand__head=ours).count() == 8


def test_a_head_of_a_job_goes_to_the_shelf_with_its_cylinders_from_one(bench_client: Client):
    head = a_head(a_job(), "R", "2468")

    bench_client.post(
        reverse("copy-to-shelf", args=[head.pk]), {"layout_name": "As measured", "form_token": uuid.uuid4()}
    )

    assert Head.objects.get(layout_name="As measured").cylinders_along() == [1, 2, 3, 4]


def test_a_layouts_name_is_there_once(bench_client: Client):
    response = bench_client.post(
        reverse("copy-to-shelf", args=[the_four().pk]), {"layout_name": "V8 head, paired stands"}
    )

    assert "There is a layout with this name on the shelf" in response.content.decode()


def test_a_layout_starts_empty_and_is_drawn_so(bench_client: Client):
    response = bench_client.post(
        reverse("layout-new"),
        {"layout_name": "Bare", "material": "iron", "note": "", "form_token": uuid.uuid4()},
    )

    assert "No stands yet" in bench_client.get(response.url).content.decode()


def test_a_layout_is_renamed(bench_client: Client):
    bench_client.post(
        reverse("head-edit", args=[the_four().pk]), {"layout_name": "Four", "material": "iron", "note": ""}
    )

    assert "Four" in layouts()


def test_changing_a_layout_changes_no_head_that_was_copied_from_it(bench_client: Client):
    head = a_head(a_job(cylinders=4), "", "1234", layout="In-line four, one shaft")

    bench_client.post(reverse("head-remove", args=[the_four().pk]))

    assert "In-line four, one shaft" not in layouts()
    assert Head.objects.get(pk=head.pk).valves.count() == 8


def test_removing_asks_first(bench_client: Client):
    page = bench_client.get(reverse("head-remove", args=[the_four().pk])).content.decode()

    assert "Remove In-line four, one shaft from the shelf?" in page
    assert "In-line four, one shaft" in layouts()


@pytest.mark.parametrize("name", ["head-remove", "head-edit", "copy-to-shelf"])
def test_nobody_changes_the_shelf_without_logging_in(stranger: Client, name: str):
    response = stranger.post(reverse(name, args=[the_four().pk]), {"layout_name": "Mine"})

    assert response.url.startswith(reverse("login"))
    assert len(layouts()) == 3


def test_nobody_makes_a_layout_without_logging_in(stranger: Client):
    assert stranger.post(reverse("layout-new")).url.startswith(reverse("login"))
