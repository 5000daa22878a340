"""The hole in a stand that its bolt goes through: typed on its page, copied with it, never smaller than the bolt."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.valvetrain.shopfloor import a_head, a_job, filled
from valvetrain.models import Stand

pytestmark = pytest.mark.django_db


@pytest.fixture
def head():
    return a_head(a_job())


def send(client, head, typed: str):
    address = reverse("stand-edit", args=[head.pk, head.stands.first().pk])
    form = client.get(address).context["form"]
    return client.post(address, filled(form, form.pads, bolt_diameter="0.4375", bolt_hole=typed))


def test_it_may_be_left_empty(bench_client, head):
    assert send(bench_client, head, "").status_code == 302
    assert head.stands.first().bolt_hole is None


def test_it_is_kept_and_shown_beside_the_bolt(bench_client, head):
    assert send(bench_client, head, "29/64").status_code == 302
    assert head.stands.first().bolt_hole == Decimal("0.453125")
    assert "in 0.4531" in bench_client.get(head.get_absolute_url()).text


def test_a_bolt_goes_through_its_hole(bench_client, head):
    answer = send(bench_client, head, "0.43")
    assert answer.status_code == 422
    assert "it is smaller than the bolt that goes through it" in answer.text
    assert 'value="0.43"' in answer.text


def test_a_hole_of_another_size_is_asked_about(bench_client, head):
    answer = send(bench_client, head, "11.5")
    assert "11.5 in is unusual" in answer.text


def test_it_goes_along_with_a_copy(head):
    Stand.objects.filter(head=head).update(bolt_hole=Decimal("0.45"))
    copy = head.copy_to(None, code="", name="copy", layout_name="Copy")
    assert {stand.bolt_hole for stand in copy.stands.all()} == {Decimal("0.45")}
