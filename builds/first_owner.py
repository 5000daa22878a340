"""The first person of a new book: who reads the code in the shop PC's terminal makes the owner's account.

The code lives in the memory of the server that printed it, and nowhere else: it dies when it is used,
after five wrong tries, and when the server stops.
"""

import hmac
import secrets
import sys
import threading
from collections.abc import Callable

from django.db import connection, transaction

from builds.models import Person

# Without letters and figures that are mistaken for each other on a screen across the room.
ALPHABET = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
CODE_LENGTH = 10
WRONG_TRIES = 5


class OwnerExists(Exception):
    """The book has its people already; the owner among them adds more."""


def in_the_terminal(line: str) -> None:
    """Print for whoever stands at the shop PC."""
    print(line, file=sys.stderr, flush=True)


class OneTimeCode:
    """A code that is shown in one place and typed in another. Safe for several threads."""

    def __init__(self, show: Callable[[str], None] = in_the_terminal) -> None:
        self._show = show
        self._code = ""
        self._wrong = 0
        self._lock = threading.Lock()

    @property
    def is_out(self) -> bool:
        """Whether a code has been shown and still holds."""
        return bool(self._code)

    def make(self, why: str = "This book has no owner yet.") -> None:
        """Make a new code and show it; an older one is void."""
        with self._lock:
            self._make(why)

    def _make(self, why: str) -> None:
        self._code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        self._wrong = 0
        half = CODE_LENGTH // 2
        self._show(f"{why} The code for the owner's account:  {self._code[:half]}-{self._code[half:]}")

    def fits(self, typed: str) -> bool:
        """Whether this is the code. A near miss takes as long as a wild guess; five misses void it."""
        bare = "".join(character for character in typed.upper() if character.isalnum())
        with self._lock:
            if not self._code:
                return False
            if hmac.compare_digest(bare.encode(), self._code.encode()):
                return True
            self._wrong += 1
            if self._wrong >= WRONG_TRIES:
                self._make("Five wrong codes were typed, so the old one is void.")
            return False

    def discard(self) -> None:
        """Void the code for good."""
        with self._lock:
            self._code = ""


# One for the server process: the start prints it, the page asks for it.
code = OneTimeCode()


def has_people() -> bool:
    """Whether anybody has an account in this book."""
    return Person.objects.exists()


def make_owner(*, username: str, name: str, password: str) -> Person:
    """Make the owner, once: of two that come at the same moment, the second is refused with `OwnerExists`."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            # SQLite's IMMEDIATE transaction holds the write lock from its start; here it must be asked for.
            with connection.cursor() as cursor:
                cursor.execute(f'LOCK TABLE "{Person._meta.db_table}" IN SHARE ROW EXCLUSIVE MODE')
        if has_people():
            raise OwnerExists
        owner = Person.objects.create_superuser(username=username, name=name, password=password)
    code.discard()
    return owner
