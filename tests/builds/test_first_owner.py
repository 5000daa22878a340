"""The first visit to a new book: one owner, made by whoever reads the terminal."""

import re
import threading
from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from builds import first_owner
from builds.first_owner import OneTimeCode, OwnerExists
from builds.models import Person

PASSWORD = "eleven very loose lifters"


class Terminal:
    """Remembers what was printed in it."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def __call__(self, line: str) -> None:
        self.lines.append(line)

    @property
    def code(self) -> str:
        """The code that stands in the last line."""
        found = re.search(r"\b([A-Z2-9]{5}-[A-Z2-9]{5})$", self.lines[-1])
        assert found
        return found.group(1)


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    """The terminal of a server that has just started on an empty book."""
    screen = Terminal()
    monkeypatch.setattr(first_owner, "code", OneTimeCode(show=screen))
    first_owner.code.make()
    return screen


def entry(code: str, **changes: str) -> dict[str, str]:
    """What the owner types."""
    return {
        "name": "Greta Holmqvist",
        "username": "greta",
        "password": PASSWORD,
        "password_again": PASSWORD,
        "one_time_code": code,
        **changes,
    }


@pytest.mark.django_db
def test_the_log_in_page_of_an_empty_book_leads_to_the_owners_page(stranger: Client) -> None:
    assert stranger.get(reverse("login")).headers["Location"] == reverse("first-owner")


@pytest.mark.django_db
def test_the_code_makes_the_owner_and_logs_in(stranger: Client, terminal: Terminal) -> None:
    answer = stranger.post(reverse("first-owner"), entry(terminal.code))
    assert answer.headers["Location"] == reverse("job-list")
    owner = Person.objects.get()
    assert (owner.username, owner.name, owner.is_superuser, owner.is_staff) == (
        "greta",
        "Greta Holmqvist",
        True,
        True,
    )
    assert owner.check_password(PASSWORD)
    assert stranger.session["_auth_user_id"] == str(owner.pk)
    assert not first_owner.code.is_out


@pytest.mark.django_db
def test_the_code_may_be_typed_small_and_without_its_dash(stranger: Client, terminal: Terminal) -> None:
    stranger.post(reverse("first-owner"), entry(terminal.code.lower().replace("-", " ")))
    assert Person.objects.count() == 1


@pytest.mark.django_db
def test_a_wrong_code_makes_nobody_and_keeps_what_was_typed(stranger: Client, terminal: Terminal) -> None:
    answer = stranger.post(reverse("first-owner"), entry("AAAAA-AAAAA"))
    assert answer.status_code == 422
    assert "not the code that stands in the terminal" in answer.content.decode()
    assert 'value="Greta Holmqvist"' in answer.content.decode()
    assert not Person.objects.exists()


@pytest.mark.django_db
def test_after_five_wrong_codes_the_old_one_is_void(stranger: Client, terminal: Terminal) -> None:
    old = terminal.code
    for _ in range(5):
        stranger.post(reverse("first-owner"), entry("AAAAA-AAAAA"))
    assert terminal.code != old
    stranger.post(reverse("first-owner"), entry(old))
    assert not Person.objects.exists()
    stranger.post(reverse("first-owner"), entry(terminal.code))
    assert Person.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"password": "fourteen chars", "password_again": "fourteen chars"},
            "needs at least 15 characters; this one has 14",
        ),
        ({"password_again": "eleven very tight lifters"}, "The two passwords differ"),
        ({"name": ""}, "Full name: nothing is filled in"),
        ({"username": "greta holm"}, "Log-in name: there is a space or a sign in it"),
    ],
)
def test_an_entry_that_does_not_fit_is_said_in_a_sentence(
    stranger: Client, terminal: Terminal, changes: dict[str, str], sentence: str
) -> None:
    answer = stranger.post(reverse("first-owner"), entry(terminal.code, **changes))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert first_owner.code.is_out


@pytest.mark.django_db
def test_once_somebody_has_an_account_the_page_is_gone(
    stranger: Client, terminal: Terminal, builder: Person
) -> None:
    assert stranger.get(reverse("first-owner")).headers["Location"] == reverse("login")
    stranger.post(reverse("first-owner"), entry(terminal.code))
    assert list(Person.objects.all()) == [builder]
    assert stranger.get(reverse("login")).status_code == 200


@pytest.mark.django_db
def test_a_server_that_printed_no_code_says_what_to_do(
    stranger: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_owner, "code", OneTimeCode(show=Terminal()))
    answer = stranger.get(reverse("first-owner"))
    assert answer.status_code == 503
    assert "manage.py serve" in answer.content.decode()
    assert not first_owner.code.fits("")


@pytest.mark.django_db(transaction=True)
def test_of_many_at_the_same_moment_one_becomes_the_owner(terminal: Terminal) -> None:
    together = threading.Barrier(6)
    outcomes: list[str] = []

    def make(number: int) -> None:
        together.wait(10)
        try:
            first_owner.make_owner(username=f"owner{number}", name=f"Owner {number}", password=PASSWORD)
            outcomes.append("made")
        except OwnerExists:
            outcomes.append("refused")
        finally:
            connection.close()

    threads = [threading.Thread(target=make, args=[number]) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert sorted(outcomes) == ["made"] + ["refused"] * 5
    assert Person.objects.count() == 1


def test_codes_are_long_and_differ() -> None:
    screen = Terminal()
    code = OneTimeCode(show=screen)
    seen = set()
    for _ in range(50):
        code.make()
        seen.add(screen.code)
    assert len(seen) == 50
