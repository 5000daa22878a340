"""The night's work: a backup, the oldest ones thinned out, and everything that is sealed and every photo looked at.

`serve` starts a watch that looks at the clock twice a minute. What was missed, since the machine was off or the server
was stopped in the middle, is made up for once the book has been up for ten minutes.
"""

import contextlib
import logging
import os
import sys
import threading
import time as clock
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta, tzinfo
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.utils import timezone

from builds.keeping import backup, nights, thinning
from builds.keeping.backup import Made
from builds.keeping.book import Book
from builds.keeping.files import KeepingRefused, why
from builds.keeping.nights import Automatic, Night
from builds.sealing import checking
from builds.setting_up import locked_if_free

LOCK = ".nightly"
EVERY = 30.0  # s between two looks at the clock
SETTLED = 600.0  # s that a book is up before it makes up for a night
MISSED = timedelta(hours=30)
# Not twice in a night, whatever is done to the clock.
APART = timedelta(hours=12)
NICE = 10
BY = "the book itself, at night"
FAULT = "something that was not foreseen. The log of this book says what."

logger = logging.getLogger(__name__)


def slot(now: datetime, at: time, zone: tzinfo) -> datetime:
    """The last moment at which the clock on the wall showed this time. A time that a spring night skips is an hour on."""
    today = now.astimezone(zone).date()
    # Of an hour that an autumn night has twice, the first. Compared as UTC: the wall's hours are not all of a length.
    moments = (
        datetime.combine(today - timedelta(days=ago), at, tzinfo=zone).astimezone(UTC) for ago in (0, 1)
    )
    return next((moment for moment in moments if moment <= now), now - timedelta(days=1))


def is_due(now: datetime, seen: datetime, last: datetime | None, up: float, at: time, zone: tzinfo) -> bool:
    """Whether the work is to be done now. `seen`: the look before; `last`: when it was done; `up`: s since the start."""
    away = abs(now - last) if last else None
    if away is not None and away < APART:
        return False
    if away is None or away > MISSED:
        return up >= SETTLED
    return seen < slot(now, at, zone) <= now


class Watch:
    """Looks at the clock, and does the work when it is due. One for a server."""

    def __init__(
        self,
        at: time,
        *,
        now: Callable[[], datetime] = timezone.now,
        up: Callable[[], float] = clock.monotonic,
        every: float = EVERY,
    ) -> None:
        self._at, self._now, self._up, self._every = at, now, up, every
        self._began, self._seen = up(), now()
        self._tried: datetime | None = None
        self._ended = threading.Event()

    def start(self) -> threading.Thread:
        """Begin to look, in a thread that ends with the server."""
        thread = threading.Thread(target=self._stand, name="nightly", daemon=True)
        thread.start()
        return thread

    def stop(self) -> None:
        """Look no more."""
        self._ended.set()

    def _stand(self) -> None:
        _step_back()
        while not self._ended.wait(self._every):
            try:
                self.look()
            finally:
                connection.close()

    def look(self) -> None:
        """Look once, and do the work when it is due. Whatever goes wrong is logged, and the watch stands on."""
        now, seen = self._now(), self._seen
        self._seen = now
        try:
            if self._is_due(now, seen):
                with locked_if_free(Path(settings.DATA_DIR) / LOCK) as free:
                    # Another server may have done it while this one looked.
                    if free and self._is_due(now, seen):
                        self._tried = (
                            now  # even where nothing can be written, not again before the next night
                        )
                        work(now)
        except Exception:
            logger.exception("the night's work failed")

    def _is_due(self, now: datetime, seen: datetime) -> bool:
        known = [moment for moment in (self._tried, nights.read().done_at) if moment]
        up, zone = self._up() - self._began, timezone.get_default_timezone()
        return is_due(now, seen, max(known, default=None), up, self._at, zone)


def work(now: datetime | None = None) -> Night:
    """Do the night's work; how it went is written down, and comes back."""
    now = now or timezone.now()
    before, where = nights.read(), nights.place()
    made, failure = _back_up(where, now)
    known = before.made
    if made:
        known += (Automatic(str(made.folder), thinning.digest(made.folder)),)
        # Written at once: the check takes its time, and a backup that nobody remembers is never thinned out.
        nights.keep(replace(before, made=known))
    sound = _is_all_sound()
    notes: list[str] = []
    faults = len(made.manifest.faults) if made else 0
    if made:
        known = (*known[:-1], replace(known[-1], sound=sound and not faults))
        gone, notes = thinning.thin(Book.here(), where, known)
        known = tuple(each for each in known if each not in gone)
    night = Night(now.isoformat(timespec="seconds"), failure, faults, tuple(notes), known)
    nights.keep(night)
    return night


def _back_up(where: Path, now: datetime) -> tuple[Made | None, str]:
    try:
        return backup.make(Book.here(), where, now=now, nightly=True), ""
    except KeepingRefused as refused:
        logger.warning("no backup was made by night: %s", refused)
        return None, str(refused)
    except Exception:
        logger.exception("no backup was made by night")
        return None, FAULT


def _is_all_sound() -> bool:
    """Look at everything sealed and at every photo; what was found stands on the owner's page about it."""
    try:
        return checking.run(BY).is_sound
    except OSError as error:
        logger.warning("what is sealed was not checked by night: %s", why(error))
        return False


def _step_back() -> None:
    """Let those go first who wait at a tablet. Only Linux slows this thread alone; elsewhere it would be the server."""
    if sys.platform.startswith("linux"):
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICE)
