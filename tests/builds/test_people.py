"""People: log-in, own page, and what an owner does for the others."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import models
from django.test import Client
from django.urls import reverse

from builds.models import Build, Person

Queries = Callable[[Client, str], int]
PASSWORD = "nine loose lifters"


def log_in(client: Client, password: str = PASSWORD, username: str = "nora") -> str:
    """What the log-in page answers."""
    return client.post(reverse("login"), {"username": username, "password": password}, follow=True).text


def person(**changed: str) -> dict[str, str]:
    """What the form of a new person sends."""
    return {
        "name": "Per Quist", "username": "per", "length_unit": "mm", "place": "builder",
        "password": "four warm valve seats", **changed,
    }  # fmt: skip


def test_the_log_in_page_leads_to_the_jobs(stranger: Client, builder: Person) -> None:
    assert "No jobs yet" in log_in(stranger)


def test_a_wrong_password_is_told_in_a_sentence(stranger: Client, builder: Person) -> None:
    assert "This log-in name and this password do not go together." in log_in(stranger, "wrong")


def test_five_wrong_passwords_close_the_name_for_a_while(stranger: Client, builder: Person) -> None:
    for _ in range(5):
        page = log_in(stranger, "wrong")
    assert "Closed for a quarter of an hour" in page
    assert "Closed for a quarter of an hour" in log_in(stranger)


def test_a_deactivated_person_does_not_log_in(stranger: Client, builder: Person) -> None:
    builder.is_active = False
    builder.save()
    assert "do not go together" in log_in(stranger)


def test_leaving_needs_a_button_not_a_link(bench_client: Client) -> None:
    assert bench_client.get(reverse("logout")).status_code == 405
    bench_client.post(reverse("logout"))
    assert bench_client.get("/").url.startswith(reverse("login"))


def test_a_person_changes_their_own_unit_and_never_the_name_that_stands_on_sheets(
    bench_client: Client, builder: Person, owner: Person
) -> None:
    assert "You are Nora Vesterlund" in bench_client.get(reverse("me")).text
    bench_client.post(reverse("me"), {"name": owner.name, "length_unit": "mm"})
    builder.refresh_from_db()
    assert (builder.name, builder.length_unit) == ("Nora Vesterlund", "mm")


@pytest.mark.parametrize("name", ["Greta Holmqvist", "  greta  HOLMQVIST "])
def test_a_name_that_somebody_has_is_given_to_nobody_else(
    owner_client: Client, builder: Person, name: str
) -> None:
    sentence = "Somebody has, or had, this name already."
    sent = {"name": name, "username": "nora", "length_unit": "in", "place": "builder"}
    assert sentence in owner_client.post(reverse("person-edit", args=[builder.pk]), sent).text
    assert sentence in owner_client.post(reverse("person-new"), person(name=name)).text
    assert list(Person.objects.values_list("name", flat=True)) == ["Greta Holmqvist", "Nora Vesterlund"]


def test_a_person_does_not_make_themselves_an_owner(bench_client: Client, builder: Person) -> None:
    bench_client.post(reverse("me"), {"name": "Nora", "length_unit": "in", "is_superuser": "on"})
    builder.refresh_from_db()
    assert not builder.is_superuser


def test_a_unit_that_is_not_offered_is_refused(bench_client: Client, builder: Person) -> None:
    assert bench_client.post(reverse("me"), {"name": "Nora", "length_unit": "ft"}).status_code == 422


def test_a_person_changes_their_password_and_stays_logged_in(bench_client: Client, builder: Person) -> None:
    sent = {
        "old_password": PASSWORD,
        "new_password1": "ten cold spring seats",
        "new_password2": "ten cold spring seats",
    }
    assert bench_client.post(reverse("password"), sent).url == reverse("me")
    builder.refresh_from_db()
    assert builder.check_password("ten cold spring seats")
    assert bench_client.get("/").status_code == 200


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"old_password": "wrong"}, "That is not your password now."),
        ({"new_password2": "something else"}, "The two passwords are not the same."),
        ({"new_password1": "short", "new_password2": "short"}, "too short"),
    ],
)
def test_a_password_that_does_not_do_is_refused(
    bench_client: Client, builder: Person, changed: dict[str, str], sentence: str
) -> None:
    good = {
        "old_password": PASSWORD,
        "new_password1": "ten cold spring seats",
        "new_password2": "ten cold spring seats",
    }
    assert sentence in bench_client.post(reverse("password"), {**good, **changed}).text
    builder.refresh_from_db()
    assert builder.check_password(PASSWORD)


def test_an_owner_adds_a_person_who_can_log_in(owner_client: Client, stranger: Client) -> None:
    owner_client.post(reverse("person-new"), person())
    assert "No jobs yet" in log_in(stranger, "four warm valve seats", "per")


def test_a_person_form_sent_twice_adds_one_person(owner_client: Client) -> None:
    sent = person(form_token=str(uuid4()))
    for _ in range(2):
        assert owner_client.post(reverse("person-new"), sent).status_code == 302
    assert Person.objects.filter(username="per").count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"name": ""}, "Full name: nothing is filled in."),
        ({"username": "greta"}, "Somebody has this log-in name already."),
        ({"username": "per quist"}, "Log-in name: there is a space or a sign in it"),
        ({"password": "short"}, "too short"),
        ({"password": "per quist"}, "too much like the person’s own name"),
        ({"password": ""}, "First password: nothing is filled in."),
    ],
)
def test_a_person_that_cannot_be_is_refused(
    owner_client: Client, changed: dict[str, str], sentence: str
) -> None:
    assert sentence in owner_client.post(reverse("person-new"), person(**changed)).text
    assert Person.objects.count() == 1


def test_an_owner_sets_a_new_password_and_old_sessions_end(
    owner_client: Client, bench_client: Client, builder: Person
) -> None:
    sent = {"new_password1": "ten cold spring seats", "new_password2": "ten cold spring seats"}
    owner_client.post(reverse("person-password", args=[builder.pk]), sent)
    assert bench_client.get("/").status_code == 302


def test_an_owner_closes_the_book_to_somebody_at_once(
    owner_client: Client, bench_client: Client, builder: Person
) -> None:
    page = reverse("person-active", args=[builder.pk])
    assert "Close the book to Nora Vesterlund?" in owner_client.get(page).text
    owner_client.post(page, {"active": "no"})
    assert bench_client.get("/").url.startswith(reverse("login"))


def test_somebody_who_is_back_is_let_in_again(
    owner_client: Client, second: Person, left_client: Client
) -> None:
    owner_client.post(reverse("person-active", args=[second.pk]), {"active": "yes"})
    assert left_client.get("/").status_code in (200, 302)
    second.refresh_from_db()
    assert second.is_active


def test_the_last_owner_is_not_deactivated(owner_client: Client, owner: Person) -> None:
    page = owner_client.post(reverse("person-active", args=[owner.pk]), {"active": "no"}, follow=True)
    assert "is the only owner. Make somebody else an owner first." in page.text
    owner.refresh_from_db()
    assert owner.is_active


def test_one_of_two_owners_may_go(owner: Person, second: Person) -> None:
    Person.objects.filter(pk=second.pk).update(is_superuser=True)
    owner.switch_active(False)
    with pytest.raises(ValidationError, match="Tobias Arendal is the only owner"):
        Person.objects.get(pk=second.pk).switch_active(False)


def test_the_last_owner_stays_an_owner(owner_client: Client, owner: Person) -> None:
    sent = {"name": owner.name, "username": owner.username, "length_unit": "in", "place": "builder"}
    answer = owner_client.post(reverse("person-edit", args=[owner.pk]), sent)
    assert "is the only owner" in answer.text


def test_nobody_with_a_record_is_ever_deleted(job: Build, builder: Person) -> None:
    Build.objects.update(opened_by=builder)
    with pytest.raises(models.ProtectedError):
        builder.delete()


def test_the_list_of_people_asks_the_same_for_3_and_for_60(owner_client: Client, queries: Queries) -> None:
    page = reverse("person-list")
    for number in range(2):
        Person.objects.create(username=f"a{number}", name=f"A {number}")
    few = queries(owner_client, page)
    for number in range(57):
        Person.objects.create(username=f"b{number}", name=f"B {number}")
    assert queries(owner_client, page) == few
