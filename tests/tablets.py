"""An enrolled tablet for the tests, and a clock that can be set forward."""

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.test import Client
from django.urls import reverse

from builds import sitting
from builds.models import Person

PASSWORD = "nine loose lifters"


def enrolled(owner: Person, name: str = "bench by the door") -> Client:
    """A browser that an owner enrolled, and left again."""
    client = Client()
    client.force_login(owner)
    assert client.post(reverse("tablet-enrol"), {"name": name}).status_code == 302
    client.post(reverse("logout"))
    return client


def log_in(client: Client, username: str = "nora", password: str = PASSWORD) -> Any:
    """Open the tablet by a password, at the log-in page."""
    return client.post(reverse("login"), {"username": username, "password": password})


def give_pin(person: Person, pin: str) -> None:
    """Give somebody a PIN, as their own page does."""
    Person.objects.filter(pk=person.pk).update(pin=make_password(pin))


def who(client: Client, person: Person, pin: str = "", password: str = "", **more: str) -> Any:
    """Say who is at the bench."""
    sent = {"person": str(person.pk), "pin": pin, "password": password, **more}
    return client.post(reverse("tablet-who"), sent)


class Clock:
    """What the book takes for the time."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.moment = sitting.now()
        monkeypatch.setattr(sitting, "now", lambda: self.moment)

    def goes_on(self, seconds: int) -> None:
        """So many seconds later."""
        self.moment += seconds
