"""Customers."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Build, Customer, Engine
from builds.once import made_before

Queries = Callable[[Client, str], int]


def test_a_customer_is_added(bench_client: Client) -> None:
    answer = bench_client.post(reverse("customer-new"), {"name": "Harbour Racing"})
    assert answer.url == Customer.objects.get().get_absolute_url()


def test_a_customer_form_sent_twice_adds_one_customer(bench_client: Client) -> None:
    sent = {"name": "Harbour Racing", "form_token": str(uuid4())}
    answers = [bench_client.post(reverse("customer-new"), sent) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert Customer.objects.count() == 1


def test_a_mangled_token_does_no_harm(bench_client: Client) -> None:
    for _ in range(2):
        bench_client.post(reverse("customer-new"), {"name": "Harbour Racing", "form_token": "x" * 36})
    assert Customer.objects.count() == 2


def test_a_refused_form_may_be_mended_and_sent_with_the_same_token(bench_client: Client) -> None:
    token = str(uuid4())
    refused = bench_client.post(reverse("customer-new"), {"name": "", "form_token": token})
    assert token in refused.text
    bench_client.post(reverse("customer-new"), {"name": "Harbour Racing", "form_token": token})
    assert Customer.objects.get().name == "Harbour Racing"


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"name": "  "}, "Name: nothing is filled in."),
        ({"name": "x" * 121}, "Name: this has 121 characters, and there is room for 120."),
        ({"name": "x", "email": "at home"}, "E-mail: that is not an address. Type it like name@example.com."),
        ({"name": "x", "note": "y" * 5000}, "Note: this has 5000 characters"),
    ],
)
def test_a_customer_that_cannot_be_is_refused_with_a_sentence(
    bench_client: Client, sent: dict[str, str], sentence: str
) -> None:
    answer = bench_client.post(reverse("customer-new"), sent)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    assert not Customer.objects.exists()


def test_a_new_job_may_begin_with_a_new_customer(bench_client: Client) -> None:
    """From the customer to the engine to the job, each page leading to the next."""
    to_engine = bench_client.post(reverse("customer-new") + "?then=job", {"name": "Harbour Racing"}).url
    to_job = bench_client.post(to_engine, {"name": "V8", "cylinders": "8"}).url
    done = bench_client.post(to_job, {"job_number": "1", "opened_on": "2026-01-05"}).url
    job = Build.objects.get(engine__customer__name="Harbour Racing")
    assert done == job.get_absolute_url()


def test_a_customer_is_changed(bench_client: Client, customer: Customer) -> None:
    bench_client.post(reverse("customer-edit", args=[customer.pk]), {"name": "Harbour Engines"})
    customer.refresh_from_db()
    assert customer.name == "Harbour Engines"


def test_the_customers_page_leads_to_a_new_engine(bench_client: Client, engine: Engine) -> None:
    page = bench_client.get(engine.customer.get_absolute_url()).text
    assert reverse("engine-new", args=[engine.customer_id]) in page
    assert engine.get_absolute_url() in page


def test_html_in_a_name_and_a_note_is_shown_as_typed(bench_client: Client, customer: Customer) -> None:
    Customer.objects.filter(pk=customer.pk).update(name="<b>O'Neil & Sons</b>", note="<i>pays late</i>")
    page = bench_client.get(customer.get_absolute_url()).text
    assert "&lt;b&gt;O&#x27;Neil &amp; Sons&lt;/b&gt;" in page
    assert "&lt;i&gt;pays late&lt;/i&gt;" in page


@pytest.mark.parametrize("text", ["harbour", "0101"])
def test_customers_are_found(bench_client: Client, customer: Customer, text: str) -> None:
    Customer.objects.create(name="Somebody else")
    page = bench_client.get(reverse("customer-list"), {"q": text}).text
    assert "Harbour Racing" in page
    assert "Somebody else" not in page


def test_the_list_counts_engines_and_jobs(bench_client: Client, job: Build) -> None:
    Engine.objects.create(customer=job.engine.customer, name="spare")
    Build.objects.create(engine=job.engine, job_number="second")
    row = Customer.objects.for_list().get()
    assert (row.engine_count, row.job_count) == (2, 2)


def test_the_list_of_customers_asks_the_same_for_3_and_for_60(bench_client: Client, queries: Queries) -> None:
    page = reverse("customer-list")
    for number in range(3):
        Customer.objects.create(name=f"customer {number}")
    few = queries(bench_client, page)
    for number in range(57):
        made = Customer.objects.create(name=f"another {number}")
        Engine.objects.create(customer=made, name="V8")
    assert queries(bench_client, page) == few


def test_a_customers_page_asks_the_same_for_3_and_for_60_engines(
    bench_client: Client, customer: Customer, queries: Queries
) -> None:
    for number in range(3):
        Engine.objects.create(customer=customer, name=f"engine {number}")
    few = queries(bench_client, customer.get_absolute_url())
    for number in range(57):
        Engine.objects.create(customer=customer, name=f"another {number}")
    assert queries(bench_client, customer.get_absolute_url()) == few


def test_the_second_of_two_forms_sent_at_once_finds_what_the_first_made(
    bench_client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first form is saved between the second one's look and its write."""
    sent = {"name": "Harbour Racing", "form_token": str(uuid4())}
    first = bench_client.post(reverse("customer-new"), sent)
    looks = iter([lambda model, token: None, made_before])
    monkeypatch.setattr("builds.forms.base.made_before", lambda model, token: None)
    monkeypatch.setattr("builds.once.made_before", lambda model, token: next(looks)(model, token))
    assert bench_client.post(reverse("customer-new"), sent).url == first.url
    assert Customer.objects.count() == 1
