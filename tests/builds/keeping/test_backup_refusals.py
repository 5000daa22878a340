"""What is no book, no place, or no sound disk: no backup, a sentence, and nothing left behind."""

import errno
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

from builds.keeping import backup, examine, snapshot
from builds.keeping.book import Book
from builds.keeping.files import KeepingRefused
from tests.builds.keeping import scene
from tests.builds.keeping.conftest import NOON


def refused(book: Book, where: Path, match: str) -> None:
    """See that no backup is made, with this sentence, and that the place is as it was."""
    before = scene.everything_in(where) if where.is_dir() else None
    with pytest.raises(KeepingRefused, match=match):
        backup.make(book, where, now=NOON)
    if before is not None:
        assert scene.everything_in(where) == before
        assert not list(where.glob("unfinished*"))


def test_a_place_inside_the_book_is_refused(book: Book) -> None:
    (book.data / "backups").mkdir()
    refused(book, book.data / "backups", "would be lost together with it")
    refused(book, book.data, "would be lost together with it")
    refused(book, book.photos, "would be lost together with it")


def test_a_link_into_the_book_is_a_place_inside_the_book(book: Book, tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(book.data)
    refused(book, tmp_path / "link", "would be lost together with it")


def test_a_place_that_is_not_there_is_refused(book: Book, tmp_path: Path) -> None:
    refused(book, tmp_path / "away", "There is no folder .*away. Is the stick in")


def test_a_file_is_no_place(book: Book, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    refused(book, tmp_path / "file", "is a file")


def test_a_place_that_cannot_be_written_is_refused(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def mkdir(path: Path, *args: object, **more: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr(Path, "mkdir", mkdir)
    refused(book, stick, "cannot be written: Permission denied. Nothing of this backup is left")


def test_a_folder_without_a_book_is_refused(tmp_path: Path, stick: Path) -> None:
    empty = scene.book_in(tmp_path / "empty")
    refused(empty, stick, "There is no book in .*empty yet")
    empty.data.mkdir()
    empty.database.touch()
    refused(empty, stick, "There is no book in .*empty yet")


def test_another_database_is_no_book(tmp_path: Path, stick: Path) -> None:
    other = scene.book_in(tmp_path / "other")
    other.data.mkdir()
    scene.alter(other.database, "CREATE TABLE recipes (name)")
    refused(other, stick, "no book of Standbook's")


def test_a_damaged_book_is_not_backed_up(book: Book, stick: Path) -> None:
    data = bytearray(book.database.read_bytes())
    data[4096 : 40 * 4096] = bytes(39 * 4096)
    book.database.write_bytes(data)
    refused(book, stick, "is damaged: .* Nothing was backed up, and the older backups are as they were")


def test_a_held_book_is_not_waited_for_for_ever(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(snapshot, "WAIT_SECONDS", 0.2)
    with closing(sqlite3.connect(book.database, isolation_level=None)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        refused(book, stick, "Somebody has been writing in the book")


def test_too_little_room_is_said_before_anything_is_copied(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(stick)._replace(free=1_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage)
    refused(book, stick, r"needs .* more, and .*stick has 976.6 KB left")


@pytest.mark.parametrize("number", [1, 2, 5, 6, 7])
def test_a_disk_that_fills_up_leaves_nothing(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """The disk says that it is full at this fsync: of the database, a photo, README.txt, the manifest or the digests."""
    fsync, calls = os.fsync, 0

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == number:
            raise OSError(errno.ENOSPC, "No space left on device")
        fsync(handle)

    monkeypatch.setattr(os, "fsync", full)
    refused(book, stick, "there is no room left on it. Nothing of this backup is left")


def test_a_database_that_does_not_fit_leaves_nothing(book: Book, stick: Path) -> None:
    """The system itself stops the copy half-way: no file of this process may be larger than 200 kB."""
    done = subprocess.run(
        [sys.executable, "manage.py", "backup", str(stick)],
        cwd=scene.BASE, env=scene.environment(book.data), capture_output=True, text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000)),
    )  # fmt: skip
    assert done.returncode == 1
    assert "CommandError" in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in stick.iterdir()] == ["standbook-2026-11-01T1200"]


def test_a_stick_that_gives_back_something_else_is_told(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(examine, "digest_of", lambda path: (0, "0" * 64))
    refused(
        book, stick, "Read back from .*stick, the backup is not what was written: .* do not trust this one"
    )


def test_another_database_engine_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "vendor", "postgresql")
    with pytest.raises(KeepingRefused, match="kept in postgresql; only SQLite is supported so far"):
        Book.here()
