"""The bench's enrolled tablets: the cookie by which one is known, and PINs that count their wrong tries."""

import hashlib
import secrets

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.db import transaction
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from builds.models import EnrolledTablet, Person, PinTries

COOKIE, SALT = "standbook_tablet", "builds.tablets"
COOKIE_SECONDS = 2 * 365 * 24 * 3600
WRONG_PINS = 5


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def enrol(name: str, owner: Person) -> tuple[EnrolledTablet, str]:
    """Enrol a tablet; the secret goes into its cookie and is kept nowhere else."""
    secret = secrets.token_urlsafe(32)
    return EnrolledTablet.objects.create(name=name, digest=_digest(secret), enrolled_by=owner), secret


def give_cookie(response: HttpResponse, secret: str) -> None:
    """Let the browser that gets this answer be the tablet from now on."""
    response.set_signed_cookie(
        COOKIE, secret, salt=SALT, max_age=COOKIE_SECONDS, httponly=True, samesite="Strict", secure=settings.HTTPS
    )  # fmt: skip


def tablet_of(request: HttpRequest) -> EnrolledTablet | None:
    """The enrolled tablet that a request comes from. Asks the database only when there is a cookie."""
    secret = request.get_signed_cookie(COOKIE, None, salt=SALT, max_age=COOKIE_SECONDS)
    if not secret:
        return None
    return EnrolledTablet.objects.filter(digest=_digest(secret), revoked_at=None).first()


def forget_wrong_pins(tablet: EnrolledTablet, person: Person) -> None:
    """A password was given on this tablet: its owner may use a PIN there again."""
    PinTries.objects.filter(tablet=tablet, person=person).update(wrong=0)
    EnrolledTablet.objects.filter(pk=tablet.pk).update(last_opened_at=timezone.now())


def pin_fits(tablet: EnrolledTablet, person: Person, pin: str) -> bool | None:
    """Whether this is the person's PIN; None when a password is asked for, after five wrong ones in a row.

    The try is counted before it is looked at, so that many at the same time are counted too.
    """
    with transaction.atomic():
        tries, _made = PinTries.objects.get_or_create(tablet=tablet, person=person)
        counted = PinTries.objects.filter(pk=tries.pk, wrong__lt=WRONG_PINS).update(wrong=F("wrong") + 1)
    if not counted or not person.pin or not person.is_active:
        return None
    if not check_password(pin, person.pin):
        return False
    PinTries.objects.filter(pk=tries.pk).update(wrong=0)
    return True


def wrong_pins_left(tablet: EnrolledTablet, person: Person) -> int:
    """How many more wrong PINs this person has on this tablet."""
    found = PinTries.objects.filter(tablet=tablet, person=person).values_list("wrong", flat=True).first()
    return WRONG_PINS - (found or 0)
