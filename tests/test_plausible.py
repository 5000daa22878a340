"""Millimetres typed as inches, bolts of no size and the like: every form asks, and takes the value once it is meant."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse

from builds.fields import BaseUnitField
from builds.measures import BASE_UNIT
from builds.models import Build, Customer, Engine, Person
from tests.valvetrain.shopfloor import a_gauge, a_head, a_job, filled, some_rockers
from valvetrain import demo
from valvetrain.models import CamCard, Head, HeightGauge, RockerSet, ShimStock, Stand

pytestmark = pytest.mark.django_db

ROCKERS = {
    "fits": "both", "arm_length": "1.42", "tip_diameter": "0.42", "shaft_diameter": "0.79", "ratio": "1.6",
    "square_at": "0.5",
}  # fmt: skip
CARD = {
    "intake_lobe_lift": "0.43",
    "exhaust_lobe_lift": "0.43",
    "intake_lash": "0.01",
    "exhaust_lash": "0.01",
}


@pytest.fixture
def job(db: None) -> Build:
    return a_job()


def send_card(client: Client, job: Build, **changes: str) -> Any:
    return client.post(reverse("cam-card", args=[job.pk]), {**CARD, **changes})


def asked(answer: Any, field: str) -> str:
    """What the form asks about a field."""
    assert answer.status_code == 422
    (sentence,) = answer.context["form"].errors[field]
    return str(sentence)


def test_millimetres_typed_as_inches_are_asked_about_with_what_may_be_meant(
    bench_client: Client, job: Build
) -> None:
    answer = send_card(bench_client, job, intake_lobe_lift="10.92")
    # 10.92 mm / 25.4 = 0.42992 in: hand-worked.
    assert asked(answer, "intake_lobe_lift") == (
        "Intake lobe lift: 10.92 in is unusual (0.1 to 0.8 in is usual). Did you mean 10.92 mm, which is 0.4299 in? "
        "If it is meant, tick that and save again."
    )
    assert 'value="10.92"' in answer.text
    assert 'name="intake_lobe_lift-meant"' in answer.text
    assert not CamCard.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed", "offer"),
    [
        ("arm_length", "36.07", "36.07 mm"),
        ("tip_diameter", "10.67", "10.67 mm"),
        ("shaft_diameter", "20.07", "20.07 mm"),
    ],
)
def test_rockers_in_millimetres_are_asked_about(
    bench_client: Client, job: Build, field: str, typed: str, offer: str
) -> None:
    address = reverse("rocker-set-new", args=[job.pk])
    answer = bench_client.post(address, {**ROCKERS, field: typed})
    assert f"Did you mean {offer}, which is" in asked(answer, field)
    assert not RockerSet.objects.exists()


def test_inches_typed_as_millimetres_are_asked_about_in_millimetres(
    bench_client: Client, builder: Person, job: Build
) -> None:
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    answer = send_card(
        bench_client,
        job,
        intake_lobe_lift="0.43",
        exhaust_lobe_lift="10.9",
        intake_lash="0",
        exhaust_lash="0",
    )
    assert (
        "0.43 mm is unusual (2.54 to 20.32 mm is usual). Did you mean 0.43 in, which is 10.922 mm?"
        in asked(answer, "intake_lobe_lift")
    )


def test_thousandths_typed_as_whole_numbers_are_offered_as_such(bench_client: Client, job: Build) -> None:
    assert "Did you mean 0.43 in?" in asked(
        send_card(bench_client, job, intake_lobe_lift="430"), "intake_lobe_lift"
    )


def test_a_value_that_is_meant_is_taken(bench_client: Client, job: Build) -> None:
    send_card(bench_client, job, **{"intake_lobe_lift": "0.95", "intake_lobe_lift-meant": "0.95"})
    assert CamCard.objects.get().intake_lobe_lift == Decimal("0.95")


def test_a_tick_holds_for_the_value_it_was_given_for(bench_client: Client, job: Build) -> None:
    answer = send_card(bench_client, job, **{"intake_lobe_lift": "9.5", "intake_lobe_lift-meant": "0.95"})
    assert "9.5 in is unusual" in asked(answer, "intake_lobe_lift")


def test_a_tick_stays_while_another_field_is_mended(bench_client: Client, job: Build) -> None:
    answer = send_card(
        bench_client,
        job,
        **{"intake_lobe_lift": "0.95", "intake_lobe_lift-meant": "0.95", "intake_lash": "thick"},
    )
    assert 'name="intake_lobe_lift-meant" value="0.95" checked' in answer.text


def test_what_was_meant_once_is_not_asked_about_again(bench_client: Client, job: Build) -> None:
    rocker_set = some_rockers(job, arm_length=Decimal("5"))
    address = reverse("rocker-set-edit", args=[rocker_set.pk])
    answer = bench_client.post(address, {**ROCKERS, "arm_length": "5.000", "name": "long arms"})
    assert answer.status_code == 302


@pytest.mark.parametrize("field", ["bolt_diameter", "bolt_length", "thickness_at_bolt", "tapped_depth"])
def test_a_bolt_of_no_size_is_asked_about(bench_client: Client, job: Build, field: str) -> None:
    head = a_head(job)
    stand = head.stands.first()
    address = reverse("stand-edit", args=[head.pk, stand.pk])
    form = bench_client.get(address).context["form"]
    answer = bench_client.post(address, filled(form, form.pads, **{field: "0"}))
    assert "0 in is unusual" in asked(answer, field)
    assert getattr(Stand.objects.get(pk=stand.pk), field) > 0


def test_a_place_on_the_head_is_asked_about_in_its_row_and_taken_when_meant(
    bench_client: Client, job: Build
) -> None:
    head = a_head(job)
    address = reverse("valves-edit", args=[head.pk])
    sent = filled(bench_client.get(address).context["rows"], **{"valves-0-along": "45.7"})
    answer = bench_client.post(address, sent)
    assert answer.status_code == 422
    assert "Along the head: 45.7 in is unusual" in answer.text
    assert bench_client.post(address, {**sent, "valves-0-along-meant": "45.7"}).status_code == 302
    assert Head.objects.get(pk=head.pk).valves.first().along == Decimal("45.7")


def test_a_gauge_step_of_minus_one_is_asked_about(bench_client: Client) -> None:
    gauge = a_gauge()
    address = reverse("gauge-edit", args=[gauge.pk])
    sent = {"mark": "HG-1", "step": "-1", "square_at": "0.5", "in_use": "on", "coverage": "2"}
    answer = bench_client.post(address, sent)
    assert answer.status_code == 422
    assert "Step as measured: −1 in is unusual (−0.3 to 1 in is usual)" in answer.text
    assert HeightGauge.objects.get().step == Decimal("0.235")


def test_an_engine_and_a_shim_in_millimetres_are_asked_about(bench_client: Client) -> None:
    engine = Engine.objects.create(customer=Customer.objects.create(name="Orla Quint"), name="V8")
    sent = {"name": "V8", "cylinders": "8", "bore": "104.8"}
    assert "104.8 mm, which is 4.1260 in" in asked(
        bench_client.post(reverse("engine-edit", args=[engine.pk]), sent), "bore"
    )
    shim = {"thickness": "0.38", "count": "4", "least": "0"}
    assert "0.38 mm, which is 0.0150 in" in asked(bench_client.post(reverse("shim-new"), shim), "thickness")
    assert not ShimStock.objects.exists()


def test_an_angle_outside_its_range_is_asked_about_without_another_unit(
    bench_client: Client, job: Build
) -> None:
    sentence = asked(send_card(bench_client, job, intake_duration="27"), "intake_duration")
    assert sentence == (
        "Intake duration: 27° is unusual (100 to 420° is usual). If it is meant, tick that and save again."
    )


def test_what_is_refused_for_good_is_not_asked_about_first(bench_client: Client, job: Build) -> None:
    assert "too small" in asked(send_card(bench_client, job, intake_lobe_lift="0"), "intake_lobe_lift")


def usual_fields() -> list[tuple[type[Any], BaseUnitField]]:
    """Every dimension that has a usual range."""
    return [
        (model, field)
        for model in apps.get_models()
        for field in model._meta.get_fields()
        if isinstance(field, BaseUnitField) and field.plausible
    ]


def test_the_demo_shop_and_the_layouts_on_the_shelf_are_usual(
    photo_folder: Path, db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        demo, "seal_some", lambda *_shop: None
    )  # sealing takes its time, and is not asked after here
    assert demo.load()
    odd = [
        f"{model.__name__} {record.pk} {field.name} {value}"
        for model, field in usual_fields()
        for record in model.objects.all()
        if (value := getattr(record, field.name)) is not None
        and not field.plausible[0] <= value <= field.plausible[1]
    ]
    assert odd == []


def test_no_usual_range_is_so_wide_that_it_holds_a_length_in_both_units() -> None:
    # A size of middling length must fall outside when it is typed in millimetres as inches. Places along a head may not:
    # a head is as long in inches as a valve stands apart in millimetres.
    for model, field in usual_fields():
        if BASE_UNIT[field.unit_kind] == "in" and field.name not in ("along", "across"):
            low, high = field.plausible
            assert (low + high) / 2 * Decimal("25.4") > high, f"{model.__name__}.{field.name}"
