"""Who may not: strangers, those who left, builders where an owner is needed."""

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse

from builds.models import Build, Customer, Engine, Instrument, Limit, PartFitted, Person, Shop
from builds.views import errors

# Every page of the ground floor that writes, and how its address is made.
WRITES = [
    "job-open", "job-edit", "part-new", "part-edit", "part-remove", "customer-new", "customer-edit", "engine-new",
    "engine-edit", "engine-hand-over", "instrument-new", "instrument-edit", "shop-edit", "limit-edit", "person-new",
    "person-edit", "person-password", "person-active", "me", "password",
]  # fmt: skip
OWNERS = ["shop-edit", "limit-edit", "person-new", "person-edit", "person-password", "person-active"]
READS = [
    "job-list", "job-new", "job-detail", "job-readings", "customer-list", "customer-detail", "engine-list",
    "engine-detail", "drawer", "shop", "person-list",
]  # fmt: skip
SENT = {
    "job_number": "9", "title": "changed", "opened_on": "2026-01-05", "name": "changed", "role": "changed",
    "quantity": "1", "fitted_on": "2026-01-05", "cylinders": "4", "mark": "changed", "kind": "dial", "paper": "A4",
    "low": "1", "source": "changed", "username": "changed", "length_unit": "mm", "place": "builder",
    "password": "changed changed",
    "new_password1": "changed changed", "new_password2": "changed changed", "active": "no",
}  # fmt: skip


@pytest.fixture
def address(job: Build, owner: Person) -> dict[str, str]:
    """The address of each page, with a record behind each."""
    part = PartFitted.objects.create(build=job, role="pushrod")
    buyer = Customer.objects.create(name="Buyer")
    SENT["customer"] = str(buyer.pk)
    tool = Instrument.objects.create(mark="MIC-1", kind="micrometer")
    Shop.get()
    of_engine, of_customer = [job.engine_id], [job.engine.customer_id]
    of_part = [job.pk, part.pk]
    args = {
        "job-open": of_engine, "part-edit": of_part, "part-remove": of_part, "engine-new": of_customer,
        "customer-edit": of_customer, "customer-detail": of_customer, "engine-edit": of_engine,
        "engine-hand-over": of_engine, "engine-detail": of_engine, "instrument-edit": [tool.pk],
        "limit-edit": [Limit.objects.get(key="sweep").pk], "person-edit": [owner.pk],
        "person-password": [owner.pk], "person-active": [owner.pk],
    }  # fmt: skip
    of_job = ("job-edit", "job-detail", "job-readings", "part-new")
    return {
        name: reverse(name, args=[job.pk] if name in of_job else args.get(name, []))
        for name in (*WRITES, *READS)
    }


def everything() -> list[list[dict[str, object]]]:
    """All records of the ground floor's pages, to see whether any changed."""
    kinds = [Build, Customer, Engine, PartFitted, Instrument, Shop, Limit, Person]
    return [list(kind.objects.order_by("pk").values()) for kind in kinds]  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", [*WRITES, *READS])
def test_a_stranger_is_sent_to_the_log_in_page(address: dict[str, str], stranger: Client, name: str) -> None:
    before = everything()
    for answer in (stranger.get(address[name]), stranger.post(address[name], SENT)):
        assert answer.url.startswith(reverse("login"))
    assert everything() == before


@pytest.mark.parametrize("name", [*WRITES, *READS])
def test_somebody_deactivated_is_sent_to_the_log_in_page(
    address: dict[str, str], left_client: Client, name: str
) -> None:
    before = everything()
    assert left_client.post(address[name], SENT).url.startswith(reverse("login"))
    assert everything() == before


@pytest.mark.parametrize("name", OWNERS)
def test_a_builder_does_not_change_the_shop(address: dict[str, str], bench_client: Client, name: str) -> None:
    before = everything()
    for answer in (bench_client.get(address[name]), bench_client.post(address[name], SENT)):
        assert answer.status_code == 403
        assert "Only an owner of this book may do that." in answer.text
    assert everything() == before


@pytest.mark.parametrize("name", READS)
def test_a_list_is_not_written_to(address: dict[str, str], owner_client: Client, name: str) -> None:
    assert owner_client.post(address[name]).status_code == 405


@pytest.mark.parametrize("name", [*WRITES, *READS])
def test_every_page_opens_for_an_owner(address: dict[str, str], owner_client: Client, name: str) -> None:
    page = owner_client.get(address[name])
    assert page.status_code == 200
    assert " style=" not in page.text


@pytest.mark.parametrize("name", [name for name in WRITES if name not in OWNERS])
def test_every_other_page_opens_for_a_builder(
    address: dict[str, str], bench_client: Client, name: str
) -> None:
    assert bench_client.get(address[name]).status_code == 200


@pytest.mark.parametrize("name", WRITES)
def test_a_form_from_elsewhere_is_refused_in_words(address: dict[str, str], owner: Person, name: str) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    before = everything()
    answer = client.post(address[name], SENT)
    assert answer.status_code == 403
    assert "This page was open too long" in answer.text
    assert everything() == before


def test_an_address_without_a_page_is_answered_in_words(bench_client: Client, stranger: Client) -> None:
    for client in (bench_client, stranger):
        answer = client.get("/no/such/page/")
        assert (answer.status_code, "There is nothing at this address" in answer.text) == (404, True)


def test_a_fault_of_the_book_is_told_in_words_without_the_database() -> None:
    answer = errors.server_error(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert "The book has a fault" in answer.content.decode()


def test_answers_stay_out_of_shared_caches_and_know_htmx(bench_client: Client) -> None:
    answer = bench_client.get("/")
    assert "private" in answer["Cache-Control"]
    assert "HX-Request" in answer["Vary"]
