"""One log-in from its password to its end: how long it lasts, on which tablet, and whether the bench is locked.

A log-in ends twelve hours after its password, wherever it is. On an enrolled tablet it locks besides after two minutes
without a request; a PIN or a password of the same day opens it again. The last request is noted in steps, so that a
save does not write the log-in too: the lock comes up to a step early, never late.
"""

import time
from datetime import datetime
from functools import cached_property
from typing import Any

from django.contrib.auth import login, logout
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest
from django.utils import timezone

from builds.models import EnrolledTablet, GuestLink, Person
from builds.tablets import forget_wrong_pins, tablet_of

LASTS_SECONDS = 12 * 3600
LOCKS_AFTER = 120
STEP = 15
KEY, GUEST_KEY = "sitting", "guest"
# Two ways of logging in are configured; the one that keeps the passwords is the one that knows the person.
BACKEND = "django.contrib.auth.backends.ModelBackend"
# Addresses that a page asks for by itself, with nobody's hand on it.
BY_ITSELF = frozenset({"print-run"})


def now() -> int:
    """The time, in whole seconds."""
    return int(time.time())


class Sitting:
    """What the log-in behind a request is, beside whose it is."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request
        self.locked: Person | None = None  # who sat here when the bench locked

    @property
    def _kept(self) -> dict[str, Any]:
        kept: dict[str, Any] = self.request.session.get(KEY) or {}
        return kept

    def _keep(self, **changed: Any) -> None:
        self.request.session[KEY] = {**self._kept, **changed}

    @cached_property
    def tablet(self) -> EnrolledTablet | None:
        """The enrolled tablet that this browser is."""
        return tablet_of(self.request)

    @property
    def by_pin(self) -> bool:
        """Whether a PIN brought this person in."""
        return bool(self._kept.get("pin"))

    @property
    def takes_pins(self) -> bool:
        """Whether a PIN says anything here: on an enrolled tablet that a password opened today."""
        opened = self._kept.get("opened")
        if opened is None or now() - opened > LASTS_SECONDS or self.tablet is None:
            return False
        day = datetime.fromtimestamp(opened, tz=timezone.get_current_timezone()).date()
        return self._kept.get("tablet") == self.tablet.pk and day == timezone.localdate()

    @cached_property
    def guest_link(self) -> GuestLink | None:
        """The link by which a guest came, also when it is over."""
        pk = self.request.session.get(GUEST_KEY)
        links = GuestLink.objects.select_related("build__engine__customer")
        return links.filter(pk=pk).first() if pk else None

    @property
    def guest(self) -> GuestLink | None:
        """The link by which a guest came, while it is open."""
        return self.guest_link if self.guest_link and self.guest_link.is_live else None

    def begin(self, *, by_pin: bool) -> None:
        """Note a log-in that has just been opened."""
        tablet = self.tablet
        opened = self._kept.get("opened") if by_pin else now()
        self._keep(opened=opened, pin=by_pin, seen=now(), tablet=tablet.pk if tablet else None)

    def bind(self, tablet: EnrolledTablet) -> None:
        """This very browser was enrolled a moment ago: from here on the bench locks."""
        self.tablet = tablet
        self._keep(tablet=tablet.pk, seen=now())

    def unbind(self) -> None:
        """This very browser is enrolled no more; the log-in goes on as at any desk."""
        self._keep(tablet=None)

    def settle(self) -> None:
        """Look at every request: end what is over, and let nobody past a lock."""
        request = self.request
        if not request.user.is_authenticated:
            return
        kept = self._kept
        if now() - kept.get("opened", 0) > LASTS_SECONDS or self._has_left_its_tablet():
            logout(request)
        elif self.tablet is not None and now() - kept.get("seen", now()) > LOCKS_AFTER:
            assert isinstance(request.user, Person)
            self.locked = Person.objects.get(pk=request.user.pk)
            request.user = AnonymousUser()

    def _has_left_its_tablet(self) -> bool:
        """Whether a log-in of one tablet is asked from another place, or the tablet was taken off the list."""
        bound = self._kept.get("tablet")
        return bound is not None and (self.tablet is None or self.tablet.pk != bound)

    def touch(self, url_name: str) -> None:
        """Note that somebody is at the tablet, in steps."""
        if self.tablet is None or url_name in BY_ITSELF or not self.request.user.is_authenticated:
            return
        if self._kept.get("tablet") is None or now() - self._kept.get("seen", 0) >= STEP:
            self._keep(tablet=self.tablet.pk, seen=now())

    def lock(self) -> None:
        """Lock the bench at once."""
        self._keep(seen=0)

    def unlock(self, person: Person, *, by_pin: bool) -> None:
        """Let a person on: the one who sat here goes on where they were, another one begins anew.

        Who goes on by PIN may do what a PIN opens, also where a password began the log-in: the bench was left alone.
        """
        if by_pin and (self.locked or self.request.user) == person:
            self._keep(seen=now(), pin=True)
            self.request.user, self.locked = person, None
            return
        opened = self._kept.get("opened")
        self.request.came_by_pin = by_pin  # type: ignore[attr-defined]
        login(self.request, person, backend=BACKEND)
        if by_pin:
            self._keep(opened=opened)
        self.locked = None


def sitting_of(request: HttpRequest) -> Sitting:
    """The log-in behind a request."""
    found: Sitting | None = getattr(request, "sitting", None)
    if found is None:
        found = Sitting(request)
        request.sitting = found  # type: ignore[attr-defined]
    return found


def note_log_in(sender: object, request: HttpRequest, user: Person, **kwargs: object) -> None:
    """Begin a sitting whenever somebody is logged in. A password on a tablet makes up for wrong PINs there."""
    sitting, by_pin = sitting_of(request), bool(getattr(request, "came_by_pin", False))
    sitting.begin(by_pin=by_pin)
    if sitting.tablet is not None and not by_pin:
        forget_wrong_pins(sitting.tablet, user)
