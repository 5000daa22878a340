"""Every edit leaves a row in the history, whatever way it was written; nothing else does, and no row is ever changed."""

from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.db import DatabaseError, IntegrityError, connection, models, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

import builds.urls  # every form of the book is imported with its views
from builds import appendonly
from builds.appendonly import AppendOnly, RecordIsPermanent
from builds.edits import traces
from builds.models import Customer, EnrolledTablet, GuestLink, Limit, Person, Shop
from builds.tracking import (
    TrackedQuerySet,
    as_one_edit,
    history_of,
    is_tracked,
    tracked_models,
    written_by,
)
from builds.tracking_begins import begin

pytestmark = pytest.mark.django_db
assert builds.urls.urlpatterns

# Made once and revoked once: the row itself names who did, and when, and no form changes it.
NOT_EDITED = {GuestLink, EnrolledTablet}


def forms_of_records(kind: Any = forms.BaseModelForm) -> Iterator[Any]:
    """Every form of a record that the book has."""
    for found in kind.__subclasses__():
        yield from forms_of_records(found)
        if found.__module__.startswith(("builds.", "valvetrain.")) and found._meta.model is not None:
            yield found


def types(record: models.Model) -> str:
    """What the rows of a record say, the first first: created, changed, deleted."""
    rows = history_of(type(record)).filter(id=record.pk).order_by("history_id")
    return "".join(rows.values_list("history_type", flat=True))


def test_every_model_with_a_form_is_tracked_or_only_grows() -> None:
    found = {form._meta.model for form in forms_of_records()}
    assert len(found) > 20
    loose = {model for model in found if not is_tracked(model) and not issubclass(model, AppendOnly)}
    assert loose == NOT_EDITED


def test_no_tracked_model_has_a_way_around_its_history() -> None:
    for model in tracked_models():
        assert isinstance(model._default_manager.get_queryset(), TrackedQuerySet), model


def test_every_tracked_model_is_told_on_a_page_once() -> None:
    assert sorted(trace.model._meta.label for trace in traces) == sorted(
        model._meta.label for model in tracked_models()
    )


def test_no_secret_is_in_a_history(builder: Person) -> None:
    kept = {field.name for field in history_of(Person).model._meta.fields}
    assert kept.isdisjoint({"password", "pin", "last_login"})


# ---- the ways of writing


def test_saving_deleting_and_what_was_there(customer: Customer) -> None:
    customer.phone = "555 0199"
    customer.save(update_fields=["phone"])
    pk = customer.pk
    customer.phone = "never saved"
    customer.delete()

    rows = history_of(Customer).filter(id=pk).order_by("history_id")
    assert [(row.history_type, row.phone) for row in rows] == [
        ("+", "555 0101"), ("~", "555 0199"), ("-", "555 0199"),
    ]  # fmt: skip


def test_many_at_once(customer: Customer) -> None:
    more = Customer.objects.bulk_create([Customer(name="One"), Customer(name="Two")])
    Customer.objects.filter(name__in=["One", "Two"]).update(phone="555 0100")
    more[0].refresh_from_db()
    more[0].note = "by bulk"
    Customer.objects.bulk_update(more[:1], ["note"])
    assert [types(record) for record in (*more, customer)] == ["+~~", "+~", "+"]

    pk = more[1].pk
    Customer.objects.filter(pk=pk).delete()
    assert history_of(Customer).filter(id=pk).count() == 3


def test_what_changes_nothing_leaves_no_row(customer: Customer) -> None:
    customer.save()
    Customer.objects.update(phone="555 0101")
    assert types(customer) == "+"


def test_a_stale_copy_in_memory_is_not_taken_for_an_edit(customer: Customer) -> None:
    stale = Customer.objects.get(pk=customer.pk)
    Customer.objects.filter(pk=customer.pk).update(note="written meanwhile")
    stale.phone = "555 0144"
    stale.save(update_fields=["phone"])
    last = history_of(Customer).filter(id=customer.pk).latest()
    assert (last.note, last.phone) == ("written meanwhile", "555 0144")


def test_a_log_in_and_a_password_are_no_edits(client: Client, builder: Person) -> None:
    client.post(reverse("login"), {"username": "nora", "password": "nine loose lifters"})
    Person.objects.filter(pk=builder.pk).update(pin="hash")
    builder.set_password("another nine lifters")
    builder.save(update_fields=["password"])
    assert types(builder) == "+"


def test_writing_over_is_refused() -> None:
    with pytest.raises(ValueError, match="not written over"):
        Customer.objects.bulk_create([Customer(name="One")], ignore_conflicts=True)


def test_the_record_and_its_history_are_written_together_or_neither(monkeypatch: Any) -> None:
    def fails(*args: Any, **kwargs: Any) -> None:
        raise DatabaseError("disk full")

    monkeypatch.setattr(history_of(Customer).model, "save", fails)
    with pytest.raises(DatabaseError, match="disk full"), transaction.atomic():
        Customer.objects.create(name="Half")
    assert not Customer.objects.filter(name="Half").exists()


def test_steps_between_are_nobodys_edit(customer: Customer) -> None:
    with as_one_edit():
        Customer.objects.update(name="!1")
        Customer.objects.update(name="Harbour Racing", phone="555 0155")
    assert types(customer) == "+~"
    assert "!1" not in history_of(Customer).values_list("name", flat=True)


def test_an_edit_that_is_rolled_back_leaves_nothing(customer: Customer) -> None:
    with pytest.raises(IntegrityError, match="UNIQUE"), as_one_edit():
        Customer.objects.bulk_create([Customer(name="Half"), Customer(pk=customer.pk, name="Twice")])
    Customer.objects.update(phone="555 0177")
    assert list(history_of(Customer).order_by("history_id").values_list("phone", flat=True)) == [
        "555 0101", "555 0177",
    ]  # fmt: skip


# ---- who


def test_the_person_of_the_request_is_named(
    bench_client: Client, builder: Person, customer: Customer
) -> None:
    bench_client.post(reverse("customer-edit", args=[customer.pk]), {"name": "Harbour Racing", "phone": "1"})
    assert history_of(Customer).latest().history_user == builder


def test_nobody_is_named_for_what_the_book_does_by_itself(bench_client: Client, builder: Person) -> None:
    Shop.objects.all().delete()
    bench_client.get(reverse("shop"))
    assert history_of(Shop).latest().history_user is None
    with written_by(builder):
        Shop.objects.update(name="Vesterlund Engines")
    assert history_of(Shop).latest().history_user == builder


def test_a_guest_is_nobody(rf: Any, customer: Customer) -> None:
    from simple_history.middleware import HistoryRequestMiddleware

    def write(request: Any) -> Any:
        Customer.objects.update(phone="555 0188")

    request = rf.get("/")
    request.user = AnonymousUser()
    HistoryRequestMiddleware(write)(request)
    assert history_of(Customer).latest().history_user is None


def test_who_wrote_stays_named(builder: Person, customer: Customer) -> None:
    with written_by(builder):
        Customer.objects.update(phone="555 0123")
    with pytest.raises(models.ProtectedError):
        builder.delete()


# ---- the histories themselves only grow


def test_histories_are_guarded_in_the_database_like_readings(customer: Customer) -> None:
    tables = set(appendonly.append_only_tables())
    assert {history_of(model).model._meta.db_table for model in tracked_models()} <= tables
    for sql in (
        "UPDATE builds_historicalcustomer SET phone = ''",
        "DELETE FROM builds_historicalcustomer",
        "INSERT OR REPLACE INTO builds_historicalcustomer SELECT * FROM builds_historicalcustomer",
    ):
        with (
            pytest.raises(DatabaseError, match="never changed or deleted"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(sql)


def test_the_orm_refuses_too(customer: Customer) -> None:
    row = history_of(Customer).latest()
    for act in (
        row.save,
        row.delete,
        history_of(Customer).all().delete,
        lambda: history_of(Customer).update(phone=""),
    ):
        with pytest.raises(RecordIsPermanent):
            act()


# ---- where a history begins


def test_a_record_from_before_gets_one_row_that_is_nobodys_edit(customer: Customer) -> None:
    appendonly.remove()
    models.QuerySet(history_of(Customer).model)._raw_delete("default")
    appendonly.install()

    begin(apps, "builds")
    begin(apps, "builds")

    (row,) = history_of(Customer).filter(id=customer.pk)
    assert (row.phone, row.history_user, row.history_change_reason) == (
        "555 0101", None, "as it was when the history began",
    )  # fmt: skip


def test_the_books_own_limits_have_a_row_from_the_start() -> None:
    limit = Limit.objects.filter(build__isnull=True).first()
    assert limit is not None
    assert types(limit) == "+"


def test_saving_costs_the_same_whatever_the_record_has_behind_it(customer: Customer) -> None:
    def cost() -> int:
        customer.phone += "1"
        with CaptureQueriesContext(connection) as captured:
            customer.save(update_fields=["phone"])
        return len(captured)

    few = cost()
    for _edit in range(20):
        cost()
    assert cost() == few
