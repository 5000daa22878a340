"""A person's secret again, at the moment of a signature: the password, or on an enrolled tablet the PIN."""

from axes.handlers.proxy import AxesProxyHandler
from axes.helpers import get_client_ip_address
from django.contrib.auth import authenticate
from django.http import HttpRequest

from builds.models import Person
from builds.pins import is_pin
from builds.sitting import sitting_of
from builds.tablets import pin_fits, wrong_pins_left

NO_SECRET = "Type your password, or on an enrolled tablet your PIN."
CLOSED = (
    "The password was wrong five times, so this name is closed from this device for a quarter of an hour."
)
WRONG_PASSWORD = "That is not your password. Look at capitals and type it again."
PIN_SPENT = "The PIN was wrong five times on this tablet. Type your password."
NO_PIN = "You have no PIN yet. Type your password; a PIN is set on your own page."


class SecretRefused(Exception):
    """A password or PIN that does not do: a sentence."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class PinSpent(SecretRefused):
    """Five wrong PINs: a password is asked for."""


def confirm(request: HttpRequest, person: Person, password_or_pin: str) -> None:
    """Check that a person is who they say. Raises `SecretRefused`; wrong ones are counted as at the log-in."""
    if not password_or_pin:
        raise SecretRefused(NO_SECRET)
    if not is_pin(password_or_pin) or not sitting_of(request).takes_pins or not person.pin:
        confirm_password(request, person, password_or_pin)
        return
    try:
        confirm_pin(request, person, password_or_pin)
    except PinSpent:
        confirm_password(request, person, password_or_pin)  # which may be of figures alone


def confirm_pin(request: HttpRequest, person: Person, pin: str) -> None:
    """Check a PIN on the tablet that the request comes from. Where PINs say nothing, every PIN is refused."""
    sitting = sitting_of(request)
    if not sitting.takes_pins or sitting.tablet is None:
        raise SecretRefused("A PIN opens nothing here. Log in with your password.")
    if not person.pin:
        raise SecretRefused(NO_PIN)
    fits = pin_fits(sitting.tablet, person, pin)
    if fits is None:
        raise PinSpent(PIN_SPENT)
    if not fits:
        left = wrong_pins_left(sitting.tablet, person)
        more = (
            f"{left} more {'try' if left == 1 else 'tries'}, then your password is asked."
            if left
            else PIN_SPENT
        )
        raise SecretRefused(f"That is not the PIN of {person}. {more}")


def confirm_password(request: HttpRequest, person: Person, password: str) -> None:
    """Check a password; five wrong ones close the name from this device, as at the log-in page."""
    username = person.get_username()
    found = authenticate(request, username=username, password=password)
    # The page says it itself: the lock-out page of the log-in would lose what else was typed.
    closed = bool(getattr(request, "axes_locked_out", False))
    request.axes_locked_out = False  # type: ignore[attr-defined]
    if closed:
        raise SecretRefused(CLOSED)
    if found is None or found.pk != person.pk:
        raise SecretRefused(WRONG_PASSWORD)
    AxesProxyHandler.reset_attempts(username=username, ip_address=get_client_ip_address(request))
