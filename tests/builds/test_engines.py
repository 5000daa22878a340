"""Engines."""

from collections.abc import Callable
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from builds.models import Build, Customer, Engine, Person, Reading

Queries = Callable[[Client, str], int]


def engine_form(**changed: str) -> dict[str, str]:
    """What the form of an engine sends."""
    return {"name": "V8", "serial": "HR-1", "cylinders": "8", **changed}


def test_an_engine_is_added_to_its_customer(bench_client: Client, customer: Customer) -> None:
    sent = engine_form(firing_order="1-8-4-3-6-5-7-2", bore="4.125", stroke="3 1/2")
    bench_client.post(reverse("engine-new", args=[customer.pk]), sent)
    engine = customer.engines.get()
    assert (engine.bore, engine.stroke) == (Decimal("4.125"), Decimal("3.5"))


def test_a_length_without_unit_is_in_the_persons_unit(
    bench_client: Client, builder: Person, customer: Customer
) -> None:
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    bench_client.post(reverse("engine-new", args=[customer.pk]), engine_form(bore="101.6"))
    assert customer.engines.get().bore == 4


def test_an_engine_form_sent_twice_adds_one_engine(bench_client: Client, customer: Customer) -> None:
    sent = engine_form(form_token=str(uuid4()))
    for _ in range(2):
        bench_client.post(reverse("engine-new", args=[customer.pk]), sent)
    assert customer.engines.count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Engine: nothing is filled in."),
        ({"cylinders": "0"}, "Cylinders: type a whole number from 1 to 24."),
        ({"cylinders": "25"}, "Cylinders: type a whole number from 1 to 24."),
        ({"cylinders": "eight"}, "Cylinders: type a whole number from 1 to 24."),
        ({"firing_order": "1-8-4-3-6-5-7"}, "does not name each cylinder from 1 to 8 once"),
        ({"firing_order": "1-8-4-3-6-5-7-7"}, "does not name each cylinder from 1 to 8 once"),
        ({"firing_order": "clockwise"}, "does not name each cylinder from 1 to 8 once"),
        ({"bore": "4..125"}, "has two dots. Type one decimal point. Did you mean 4.125?"),
        ({"bore": "-4.125"}, "is below zero"),
        ({"bore": "4.125 lbf"}, "“lbf” is a force"),
        ({"bore": "9999999"}, "far outside anything measured here"),
        ({"bore": "1/" + "9" * 5000}, "more text than a value has"),
    ],
)
def test_an_engine_that_cannot_be_is_refused_and_the_text_stays(
    bench_client: Client, customer: Customer, changed: dict[str, str], sentence: str
) -> None:
    sent = engine_form(serial="typed with care", **changed)
    answer = bench_client.post(reverse("engine-new", args=[customer.pk]), sent)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert 'value="typed with care"' in answer.text


@pytest.mark.parametrize("order", ["1-3-4-2", "1 3 4 2", "1, 3, 4, 2"])
def test_a_firing_order_may_be_written_in_several_ways(order: str) -> None:
    Engine(name="four", cylinders=4, firing_order=order).clean()


@pytest.mark.parametrize("number", ["0", "25", "1000", "9" * 20, "9" * 300, "-3"])
def test_an_engine_has_1_to_24_cylinders_and_that_is_the_only_thing_said(
    bench_client: Client, engine: Engine, number: str
) -> None:
    sent = engine_form(cylinders=number, firing_order="1-8-4-3-6-5-7-2")
    answer = bench_client.post(reverse("engine-edit", args=[engine.pk]), sent)
    assert answer.status_code == 422
    assert dict(answer.context["form"].errors) == {
        "cylinders": ["Cylinders: type a whole number from 1 to 24."]
    }


def test_a_cylinder_with_a_reading_is_not_taken_away(job: Build, builder: Person) -> None:
    Reading.objects.create(
        build=job, position="cyl7", characteristic="x", text="1", unit="in", value=1, taken_by=builder
    )
    job.engine.cylinders = 6
    with pytest.raises(ValidationError, match=r"Readings stand at cyl7\. Keep at least 7 cylinders"):
        job.engine.clean()


def test_saving_an_engine_in_millimetres_leaves_what_was_not_touched(
    bench_client: Client, builder: Person, engine: Engine
) -> None:
    Engine.objects.filter(pk=engine.pk).update(bore=Decimal("4.1255"))
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    page = reverse("engine-edit", args=[engine.pk])
    shown = bench_client.get(page).context["form"]["bore"].subwidgets[0].data["value"]
    bench_client.post(page, engine_form(bore=shown))
    engine.refresh_from_db()
    assert (shown, engine.bore) == ("104.7877", Decimal("4.1255"))


def test_an_engine_goes_to_another_customer_with_its_jobs_once_both_names_were_seen(
    bench_client: Client, job: Build
) -> None:
    buyer = Customer.objects.create(name="Buyer", phone="555 0202")
    page = reverse("engine-hand-over", args=[job.engine_id])
    assert f"?customer={buyer.pk}" in bench_client.get(page).text
    shown = bench_client.get(page, {"customer": buyer.pk}).text
    for words in ("Harbour Racing", "555 0101", "Buyer", "555 0202", "1 job,"):
        assert words in shown
    seller = job.engine.customer_id
    sent = {"customer": str(buyer.pk), "belongs_to": str(seller)}
    for _ in range(2):  # a second delivery changes nothing
        assert bench_client.post(page, sent).url == job.engine.get_absolute_url()
        assert Build.objects.get().engine.customer == buyer


def test_an_engine_is_not_handed_over_without_both_names(bench_client: Client, engine: Engine) -> None:
    buyer = Customer.objects.create(name="Buyer")
    page = reverse("engine-hand-over", args=[engine.pk])
    answer = bench_client.post(page, {"customer": str(buyer.pk)})
    assert "It is Buyer’s now" in answer.text
    assert Engine.objects.get().customer == engine.customer


def test_an_engine_that_changed_hands_meanwhile_is_asked_about_again(
    bench_client: Client, engine: Engine
) -> None:
    seller, third = engine.customer, Customer.objects.create(name="Third")
    buyer = Customer.objects.create(name="Buyer")
    Engine.objects.update(customer=third)
    page = reverse("engine-hand-over", args=[engine.pk])
    answer = bench_client.post(page, {"customer": str(buyer.pk), "belongs_to": str(seller.pk)})
    assert answer.status_code == 409
    assert "it is Third’s now. Look again." in answer.text
    assert Engine.objects.get().customer == third


@pytest.mark.parametrize("chosen", ["", "999", "abc", "-1", "9" * 40])
def test_an_engine_does_not_go_to_a_customer_who_is_not_there(
    bench_client: Client, engine: Engine, chosen: str
) -> None:
    page = reverse("engine-hand-over", args=[engine.pk])
    assert bench_client.post(page, {"customer": chosen}).status_code == 404
    assert Engine.objects.get().customer == engine.customer


def test_the_engines_page_leads_to_a_new_job(bench_client: Client, engine: Engine) -> None:
    page = bench_client.get(engine.get_absolute_url()).text
    assert reverse("job-open", args=[engine.pk]) in page


@pytest.mark.parametrize("name", ["engine-list", "job-new"])
def test_lists_of_engines_ask_the_same_for_3_and_for_60(
    bench_client: Client, customer: Customer, queries: Queries, name: str
) -> None:
    for number in range(3):
        Engine.objects.create(customer=customer, name=f"V8 {number}")
    few = queries(bench_client, reverse(name) + "?q=v8")
    for number in range(57):
        other = Customer.objects.create(name=f"V8 club {number}")
        Engine.objects.create(customer=other, name=f"other V8 {number}")
    assert queries(bench_client, reverse(name) + "?q=v8") == few


def test_the_choice_of_a_new_owner_asks_the_same_for_3_and_for_60(
    bench_client: Client, engine: Engine, queries: Queries
) -> None:
    page = reverse("engine-hand-over", args=[engine.pk])
    for number in range(3):
        Customer.objects.create(name=f"customer {number}")
    few = queries(bench_client, page)
    for number in range(57):
        Customer.objects.create(name=f"another {number}")
    assert queries(bench_client, page) == few


def test_an_engines_page_asks_the_same_for_3_and_for_60_jobs(
    bench_client: Client, engine: Engine, queries: Queries
) -> None:
    for number in range(3):
        Build.objects.create(engine=engine, job_number=f"a{number}")
    few = queries(bench_client, engine.get_absolute_url())
    for number in range(57):
        Build.objects.create(engine=engine, job_number=f"b{number}")
    assert queries(bench_client, engine.get_absolute_url()) == few
