"""The check of everything sealed, run behind a page or by night: one at a time, progress and result in a small file.

The file stands in the book's folder and is no record: the check may be run again at any time.
"""

import json
import logging
import os
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection

from builds.models import Person
from builds.sealing.verify import verify_book

NAME = "seal-check.json"
NEVER, WORKING, DONE, FAILED = "never", "working", "done", "failed"
SILENCE = 120.0  # s without a sign of life: whoever looked is gone
STEP = 0.4  # s between two words about how far it is
STOPPED = "The check stopped in the middle: the book’s server was ended or started anew. Start it once more."
FAULT = "The check could not go on. The log of this book says why."

logger = logging.getLogger(__name__)
_lock = threading.Lock()


@dataclass(frozen=True)
class BookCheck:
    """How the last check stands, or what it found."""

    state: str = NEVER
    by: str = ""
    started: float = 0.0
    ended: float = 0.0
    words: str = "Beginning"
    done: int = 0
    of: int = 0
    sentence: str = ""
    report: dict[str, Any] = field(default_factory=dict)
    unsound: float = 0.0  # when something last did not match; a sound check alone makes it nothing again

    @property
    def is_working(self) -> bool:
        """Whether it is still going on."""
        return self.state == WORKING

    @property
    def is_done(self) -> bool:
        """Whether it came to its end."""
        return self.state == DONE

    @property
    def is_sound(self) -> bool:
        """Whether everything matched."""
        return self.is_done and bool(self.report.get("sound"))

    @property
    def broke_off(self) -> bool:
        """Whether it could not go on; one whose server was stopped is only to be run again."""
        return self.state == FAILED and self.sentence != STOPPED

    @property
    def unsound_at(self) -> datetime | None:
        """When something last did not match, if no check was sound since."""
        return datetime.fromtimestamp(self.unsound, UTC) if self.unsound else None

    @property
    def ended_at(self) -> datetime | None:
        """When it ended."""
        return datetime.fromtimestamp(self.ended, UTC) if self.ended else None


def _file() -> Path:
    return Path(settings.DATA_DIR) / NAME


def look() -> BookCheck:
    """How the last check stands; one that has gone silent has failed, and says so."""
    path = _file()
    try:
        check = BookCheck(**json.loads(path.read_bytes()))
        silent = time.time() - path.stat().st_mtime > SILENCE
    except (OSError, ValueError, TypeError):
        return BookCheck()
    if check.is_working and silent:
        return replace(check, state=FAILED, sentence=STOPPED)
    return check


def start(person: Person) -> BookCheck:
    """Start a check, unless one is going on already."""
    check = _opened(str(person))
    if check is not None:
        begin(lambda: _live(check))
    return look()


def run(by: str) -> BookCheck:
    """Check now, and come back with what was found; with how far the other is, when one is going on already."""
    check = _opened(by)
    if check is not None:
        _live(check)
    return look()


def _opened(by: str) -> BookCheck | None:
    """A check that nobody has begun yet; nothing while one is going on."""
    with _lock:
        now = look()
        if now.is_working:
            return None
        check = BookCheck(WORKING, by=by, started=time.time(), unsound=now.unsound)
        _write(check)
        return check


def begin(work: Callable[[], None]) -> None:
    """Do it behind the page."""

    def alone() -> None:
        try:
            work()
        finally:
            connection.close()

    threading.Thread(target=alone, name="seal-check", daemon=True).start()


def _live(check: BookCheck) -> None:
    said = 0.0

    def told(words: str, done: int, of: int) -> None:
        nonlocal said
        if time.monotonic() - said >= STEP:
            said = time.monotonic()
            _write(replace(check, words=words, done=done, of=of))

    try:
        report = verify_book(told=told)
        ended = time.time()
        unsound = 0.0 if report.is_sound else ended
        _write(replace(check, state=DONE, ended=ended, report=report.plain(), unsound=unsound))
    except (OSError, DatabaseError) as error:
        logger.warning("the check of everything sealed failed: %s", error)
        _fail(check, f"The check could not go on: {error}. `manage.py health` says more.")
    except Exception:
        logger.exception("the check of everything sealed failed")
        _fail(check, FAULT)


def _fail(check: BookCheck, sentence: str) -> None:
    try:
        _write(replace(check, state=FAILED, ended=time.time(), sentence=sentence))
    except OSError as error:  # the disk is full: silence will tell
        logger.warning("how the check ended cannot be written: %s", error)


def _write(check: BookCheck) -> None:
    path = _file()
    part = path.with_name(f".{NAME}-{os.getpid()}")
    part.write_text(json.dumps(asdict(check), ensure_ascii=False), encoding="utf-8")
    part.replace(path)
