"""The watch over the night: one at a time, whatever goes wrong, and a night from end to end in its thread."""

import os
import sqlite3
import threading
import time
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from builds import serving
from builds.keeping import manifest as form
from builds.keeping import nightly, nights
from builds.keeping.nightly import Watch
from builds.keeping.nights import Night
from builds.models import Person
from builds.sealing import checking
from builds.sealing.sheet_check import SheetChecker
from builds.sealing.verify import verify_book
from builds.setting_up import CannotStart, locked_if_free
from tests.builds import a_sheet
from tests.builds.keeping.conftest import NIGHT
from tests.builds.sealing_scene import Scene, scene

__all__ = ["scene"]


class Clock:
    """A clock to set."""

    def __init__(self, now: datetime) -> None:
        self.wall, self.up = now, 0.0

    def forward(self, seconds: float) -> None:
        """Let time go by."""
        self.wall += timedelta(seconds=seconds)
        self.up += seconds


def watch(clock: Clock, **how: Any) -> Watch:
    return Watch(
        datetime.min.time().replace(hour=3, minute=30), now=lambda: clock.wall, up=lambda: clock.up, **how
    )


@pytest.fixture
def works(data: Path, monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """When the work was done; nothing is done."""
    done: list[datetime] = []
    monkeypatch.setattr(nightly, "work", done.append)
    return done


def test_a_new_book_is_backed_up_once_it_has_settled_and_then_every_night(works: list[datetime]) -> None:
    clock = Clock(NIGHT + timedelta(hours=6))
    one = watch(clock)
    for _ in range(3 * 24 * 120):
        one.look()
        clock.forward(30)
    # Ten minutes after the start, then at half past three; what is written down is not needed for that.
    assert [f"{each:%d %H:%M}" for each in works] == ["25 09:40", "26 03:30", "27 03:30", "28 03:30"]


def test_of_two_servers_on_one_book_one_does_it(works: list[datetime], data: Path) -> None:
    clock = Clock(NIGHT - timedelta(minutes=20))
    one, other = watch(clock), watch(clock)
    clock.forward(1200)
    with locked_if_free(data / nightly.LOCK) as free:
        assert free
        one.look()
        assert works == []
    other.look()
    assert len(works) == 1


def test_the_second_server_sees_what_the_first_has_done_meanwhile(
    works: list[datetime], data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock(NIGHT - timedelta(minutes=20))
    one = watch(clock)
    clock.forward(1200)
    lock = nightly.locked_if_free

    def late(path: Path) -> Any:
        nights.keep(Night(clock.wall.isoformat()))
        return lock(path)

    monkeypatch.setattr(nightly, "locked_if_free", late)
    one.look()
    assert works == []


def test_whatever_goes_wrong_the_watch_stands_on(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[datetime] = []

    def fail(now: datetime) -> None:
        tried.append(now)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(nightly, "work", fail)
    clock = Clock(NIGHT + timedelta(hours=6))
    one = watch(clock)
    for _ in range(24 * 120):
        one.look()
        clock.forward(30)
    assert [f"{each:%d %H:%M}" for each in tried] == ["25 09:40", "26 03:30"]


@pytest.mark.django_db(transaction=True)
def test_a_night_in_a_thread_with_a_clock_that_is_set(
    data: Path, photo_folder: Path, builder: Person, settings: Any, tmp_path: Path
) -> None:
    settings.BACKUPS = str(tmp_path / "stick")
    (tmp_path / "stick").mkdir()
    clock = Clock(NIGHT - timedelta(minutes=20))
    one = watch(clock, every=0.01)
    thread = one.start()
    clock.forward(1200)
    deadline = time.monotonic() + 120
    while not nights.read().done and time.monotonic() < deadline:
        time.sleep(0.02)
    one.stop()
    thread.join(60)
    assert not thread.is_alive()
    night = nights.read()
    assert night.failure == ""
    assert (tmp_path / "stick" / "standbook-2026-11-25T0330-nightly" / form.NAME).is_file()
    assert checking.look().is_sound
    assert checking.look().by == nightly.BY
    assert nights.troubles() == []


@pytest.mark.django_db(transaction=True)
def test_somebody_writes_while_everything_sealed_is_looked_at(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where an open question would hold up a writer: with the journal of an older SQLite."""
    scene.seal()
    scene.seal(subject="L", at=a_sheet.NOON + timedelta(days=1))
    check, written = SheetChecker.check, []

    def write_meanwhile(self: SheetChecker, sheet: Any) -> Any:
        with closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=0.2)) as other, other:
            written.append(other.execute("UPDATE builds_customer SET note = 'called'").rowcount)
        return check(self, sheet)

    monkeypatch.setattr(SheetChecker, "check", write_meanwhile)
    assert verify_book().faults == []
    assert written == [1, 1]


@pytest.mark.django_db(transaction=True)
def test_a_book_with_a_setting_that_is_no_time_is_not_started(data: Path, settings: Any) -> None:
    settings.NIGHTLY = "at night"
    with pytest.raises(CannotStart, match="Not started: nightly: STANDBOOK_NIGHTLY is “at night”"):
        serving.prepare()


def test_only_the_thread_of_the_night_steps_back() -> None:
    """Regression only: the priority of Linux belongs to the thread."""
    before = os.getpriority(os.PRIO_PROCESS, 0)
    found: list[int] = []

    def stand() -> None:
        nightly._step_back()
        found.append(os.getpriority(os.PRIO_PROCESS, threading.get_native_id()))

    thread = threading.Thread(target=stand)
    thread.start()
    thread.join(10)
    assert found == [max(before, nightly.NICE)]
    assert os.getpriority(os.PRIO_PROCESS, 0) == before
