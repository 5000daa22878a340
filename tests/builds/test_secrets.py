"""One's own PIN, what a PIN must be, and a secret again at the moment of a signature."""

from typing import Any

import pytest
from django.contrib.auth.hashers import check_password, identify_hasher, make_password
from django.test import Client, RequestFactory
from django.urls import reverse

from builds.models import Person
from builds.pins import is_pin, why_trivial
from builds.secrets import SecretRefused, confirm
from builds.sitting import sitting_of
from tests.tablets import PASSWORD, enrolled, give_pin, log_in


def set_pin(client: Client, pin: str, again: str | None = None, password: str = PASSWORD) -> Any:
    sent = {"password": password, "pin": pin, "again": pin if again is None else again}
    return client.post(reverse("pin"), sent)


def test_a_person_sets_a_pin_and_takes_it_away(bench_client: Client, builder: Person) -> None:
    assert set_pin(bench_client, "4071").url == reverse("me")
    builder.refresh_from_db()
    assert check_password("4071", builder.pin)
    set_pin(bench_client, "")
    builder.refresh_from_db()
    assert builder.pin == ""


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"pin": "0000"}, "it is one figure over and over. Choose another one."),
        ({"pin": "1234"}, "its figures stand in a row. Choose another one."),
        ({"pin": "407"}, "A PIN is 4 to 8 figures and nothing else."),
        ({"pin": "407123456"}, "A PIN is 4 to 8 figures and nothing else."),
        ({"pin": "four"}, "A PIN is 4 to 8 figures and nothing else."),
        ({"pin": "4071", "again": "4072"}, "The two PINs are not the same."),
        ({"pin": "4071", "password": "wrong"}, "That is not your password."),
        ({"pin": "4071", "password": ""}, "Your password: nothing is filled in."),
    ],
)
def test_a_pin_that_does_not_do_is_refused(
    bench_client: Client, builder: Person, sent: dict[str, str], sentence: str
) -> None:
    answer = set_pin(bench_client, **sent)
    assert (answer.status_code, sentence in answer.text) == (422, True)
    builder.refresh_from_db()
    assert builder.pin == ""


@pytest.mark.parametrize(
    "pin", ["9876", "7890", "121212", "457457", "1122", "334455", "1987", "2026", "2580", "88888888"]
)
def test_a_pin_that_everybody_tries_first_is_trivial(pin: str) -> None:
    assert why_trivial(pin)


@pytest.mark.parametrize("pin", ["4071", "90357", "2468135", "40714072", "١٢٣٤"])
def test_what_is_a_pin(pin: str) -> None:
    assert is_pin(pin) == (pin.isascii() and not why_trivial(pin))


def test_a_pin_is_hashed_by_argon2_where_the_book_runs(settings: Any) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    assert identify_hasher(make_password("4071")).algorithm == "argon2"


def test_a_new_password_by_an_owner_takes_the_pin_away(owner_client: Client, builder: Person) -> None:
    give_pin(builder, "4071")
    new = {"new_password1": "ten cold spring seats", "new_password2": "ten cold spring seats"}
    owner_client.post(reverse("person-password", args=[builder.pk]), new)
    builder.refresh_from_db()
    assert builder.pin == ""


def request_of(client: Client | None, person: Person) -> Any:
    """A request as a view gets it, from that browser."""
    request = RequestFactory().post("/")
    if client is not None:
        for name, morsel in client.cookies.items():
            request.COOKIES[name] = morsel.value
    request.session = (client or Client()).session
    request.user = person
    return request


def test_a_password_confirms_anywhere(builder: Person) -> None:
    confirm(request_of(None, builder), builder, PASSWORD)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [("", "Type your password, or on an enrolled tablet your PIN."), ("wrong", "That is not your password.")],
)
def test_what_does_not_confirm_is_refused(builder: Person, typed: str, sentence: str) -> None:
    with pytest.raises(SecretRefused, match=sentence):
        confirm(request_of(None, builder), builder, typed)


def test_five_wrong_passwords_close_the_name_as_at_the_log_in(builder: Person) -> None:
    for _ in range(5):
        with pytest.raises(SecretRefused):
            confirm(request_of(None, builder), builder, "wrong")
    with pytest.raises(SecretRefused, match="for a quarter of an hour"):
        confirm(request_of(None, builder), builder, PASSWORD)
    assert "Closed for a quarter of an hour" in log_in(Client()).text


def test_a_right_password_sets_the_count_back(builder: Person) -> None:
    for typed in ("wrong", "wrong", "wrong", "wrong", PASSWORD, "wrong", "wrong"):
        if typed == PASSWORD:
            confirm(request_of(None, builder), builder, typed)
            continue
        with pytest.raises(SecretRefused, match="That is not your password"):
            confirm(request_of(None, builder), builder, typed)


def test_a_pin_confirms_on_a_tablet_that_a_password_opened(owner: Person, builder: Person) -> None:
    give_pin(builder, "4071")
    builder.refresh_from_db()
    client = enrolled(owner)
    log_in(client)
    request = request_of(client, builder)
    assert sitting_of(request).takes_pins
    confirm(request, builder, "4071")
    with pytest.raises(SecretRefused, match=r"That is not the PIN of Nora Vesterlund\. 4 more tries"):
        confirm(request, builder, "4072")
    confirm(request, builder, PASSWORD)


def test_a_pin_at_a_desk_is_a_wrong_password(builder: Person) -> None:
    give_pin(builder, "4071")
    with pytest.raises(SecretRefused, match="That is not your password"):
        confirm(request_of(None, builder), builder, "4071")


def test_after_five_wrong_pins_a_password_confirms_though_it_be_of_figures_alone(
    owner: Person, builder: Person
) -> None:
    give_pin(builder, "4071")
    builder.refresh_from_db()
    builder.set_password("90357168")
    builder.save()
    client = enrolled(owner)
    log_in(client, password="90357168")
    request = request_of(client, builder)
    for _ in range(5):
        with pytest.raises(SecretRefused, match="That is not the PIN"):
            confirm(request, builder, "1357")
    with pytest.raises(SecretRefused, match="That is not your password"):
        confirm(request, builder, "4071")
    confirm(request, builder, "90357168")
