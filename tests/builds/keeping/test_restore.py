"""Putting a backup back: the drill from end to end, and everything that is refused before anything is written."""

import errno
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from django.conf import settings

from builds import health
from builds.keeping import backup, last, restore
from builds.keeping import manifest as form
from builds.keeping.book import Book
from builds.keeping.files import KeepingRefused
from tests.builds.keeping import scene
from tests.builds.keeping.conftest import NOON


def refused(target: Book, source: Path, match: str) -> None:
    """See that nothing is restored, with this sentence, and that the folder and the backup are as they were."""
    before = scene.everything_in(target.data)
    with pytest.raises(KeepingRefused, match=match):
        restore.put_back(target, source)
    assert {
        name: each for name, each in scene.everything_in(target.data).items() if name != restore.LOCK
    } == before
    assert not (target.data / restore.STAGE).exists()
    assert not target.photos.exists()


def test_the_drill(written_book: Path, kept: Path, tmp_path: Path) -> None:
    """A dead disk: the backup goes into an empty folder of another machine, and the shop opens its book again."""
    old, new = scene.book_in(written_book), scene.book_in(tmp_path / "new")
    shutil.move(kept, tmp_path / "from the stick")
    done = scene.run(new.data, "manage.py", "restore", str(tmp_path / "from the stick"))
    assert done.returncode == 0, done.stderr
    assert "as of 25 Nov 2026 12:30 UTC" in done.stdout
    assert "2 sealed sheets, 4 photos" in done.stdout
    assert "Put the passphrase that you kept on paper into" in done.stdout
    assert "The book is sound." in done.stdout
    assert scene.dump(new.database) == scene.dump(old.database)
    originals = [path for path in scene.everything_in(old.photos) if path.count(".") == 1]
    assert scene.everything_in(new.photos) == {
        path: digest for path, digest in scene.everything_in(old.photos).items() if path in originals
    }
    with closing(sqlite3.connect(new.database)) as database:
        for statement in ("UPDATE builds_reading SET text = '9'", "DELETE FROM builds_sealedsheet"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed or deleted"):
                database.execute(statement)
    read = scene.run(new.data, "tests/builds/keeping/scene.py", "read")
    assert read.returncode == 0, read.stderr
    assert [line.split()[0] for line in read.stdout.splitlines()] == ["200"] * 9
    again = scene.run(new.data, "manage.py", "restore", str(tmp_path / "from the stick"))
    assert again.returncode == 1
    assert "is not empty: " in again.stderr
    assert "Traceback" not in again.stderr + done.stderr


def test_an_older_book_is_brought_up_to_this_version(tmp_path: Path, stick: Path) -> None:
    """Two changes of the tables ago there were no photos and no sealed sheets."""
    old, new = scene.book_in(tmp_path / "old"), tmp_path / "new"
    for app, name in (("builds", "0006_uncertainty"), ("valvetrain", "0006_kept_trials")):
        assert scene.run(old.data, "manage.py", "migrate", app, name).returncode == 0
    columns = "(name, phone, email, address, note, created_at)"
    scene.alter(
        old.database, f"INSERT INTO builds_customer {columns} VALUES ('Orla', '', '', '', '', '2026-11-01')"
    )
    folder = backup.make(old, stick, now=NOON).folder
    done = scene.run(new, "manage.py", "restore", str(folder))
    assert done.returncode == 0, done.stderr
    assert "It is from an older version: making " in done.stdout
    assert "The book is sound." in done.stdout
    assert len(list((new / "before-upgrades").iterdir())) == 1
    with closing(sqlite3.connect(new / "standbook.sqlite3")) as database:
        assert database.execute("SELECT name FROM builds_customer").fetchall() == [("Orla",)]


def test_a_newer_book_is_refused(kept: Path, target: Book) -> None:
    scene.alter(
        kept / form.DATABASE,
        "INSERT INTO django_migrations (app, name, applied) VALUES ('builds', '9999_later', '2030-01-01')",
    )
    scene.seal_again(kept)
    refused(target, kept, r"made by a newer Standbook \(.*it has builds.9999_later\)")


@pytest.mark.parametrize(
    "name",
    ["standbook.sqlite3", "photos/x.jpg", "last-backup.json", "before-upgrades/x.sqlite3", "holiday.jpg"],
)
def test_a_folder_with_something_in_it_is_refused(kept: Path, target: Book, name: str) -> None:
    (target.data / name).parent.mkdir(exist_ok=True)
    (target.data / name).write_text("something")
    with pytest.raises(
        KeepingRefused, match=f"is not empty: {name.split('/')[0]}. A restore never writes over a book"
    ):
        restore.put_back(target, kept)
    assert sorted(scene.everything_in(target.data)) == sorted([name, "secret-key"])


def test_what_a_first_start_leaves_is_no_book(kept: Path, target: Book) -> None:
    target.database.touch()
    target.photos.mkdir()
    for name in ("static/book.css", "demo/standbook.sqlite3", "signing-passphrase"):
        (target.data / name).parent.mkdir(exist_ok=True)
        (target.data / name).write_text("something")
    restore.put_back(target, kept)
    assert (target.data / "secret-key").read_text() == "another one"
    assert (target.data / "signing-passphrase").read_text() == "something"
    assert not restore.passphrase_is_lacking(target, scene.told(kept))


def test_the_restored_book_knows_its_last_backup(kept: Path, target: Book) -> None:
    restore.put_back(target, kept)
    assert last.look(NOON).sentence == f"Last made 25 Nov 2026 12:30, in {kept}."


def test_too_little_room_is_said_before_anything_is_written(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(kept)._replace(free=20_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage)
    refused(target, kept, "The book needs .* make room first")


@pytest.mark.parametrize("number", [1, 3, 6])
def test_a_disk_that_fills_up_leaves_nothing(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    fsync, calls = os.fsync, 0

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == number:
            raise OSError(errno.ENOSPC, "No space left on device")
        fsync(handle)

    monkeypatch.setattr(os, "fsync", full)
    refused(target, kept, "there is no room left on it. Nothing was restored")


def test_a_database_that_cannot_take_its_place_leaves_nothing(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    def replace(path: Path, to: Path) -> Path:
        raise PermissionError(errno.EACCES, "Permission denied", str(to))

    monkeypatch.setattr(Path, "replace", replace)
    refused(target, kept, "Permission denied. Nothing was restored")


def test_a_file_that_changes_while_it_is_copied_is_found(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(restore, "examine", lambda source: scene.told(source))
    (kept / "README.txt").write_bytes(b"another")
    refused(target, kept, "README.txt changed while it was copied")


@pytest.mark.parametrize(("function", "call"), [("copy", 4), ("settle_all", 1), ("Path.replace", 1)])
def test_a_killed_restore_is_begun_again(kept: Path, target: Book, function: str, call: int) -> None:
    """Killed while it copies, when all is copied, and between the photos and the database."""
    script = (
        "import sys, time, django; django.setup()\n"
        "from pathlib import Path\n"
        "from builds.keeping import restore\n"
        "from builds.keeping.book import Book\n"
        f"real = restore.{function}; calls = 0\n"
        "def stop(*args):\n"
        "    global calls; calls += 1\n"
        f"    if calls == {call}: print('here', flush=True); time.sleep(60)\n"
        "    return real(*args)\n"
        f"restore.{function} = stop\n"
        "restore.put_back(Book.here(), Path(sys.argv[1]))\n"
    )
    environment = {**scene.environment(target.data), "DJANGO_SETTINGS_MODULE": "builds.settings"}
    command = [sys.executable, "-c", script, str(kept)]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "here\n"
        child.send_signal(signal.SIGKILL)
    assert not target.database.exists()
    assert (target.data / restore.STAGE).exists()
    restore.put_back(target, kept)
    assert scene.dump(target.database) == scene.dump(kept / form.DATABASE)
    assert len(scene.everything_in(target.photos)) == 4
    assert not (target.data / restore.STAGE).exists()


def test_a_source_that_is_no_backup_is_said_with_what_is_meant(
    written_backup: Path, target: Book, tmp_path: Path
) -> None:
    refused(target, tmp_path / "away", "There is no folder .*away. Is the stick in")
    refused(target, written_backup / "README.txt", "is a file. Name the folder of the backup")
    refused(target, written_backup.parent, f"the newest is {written_backup}")
    for name, words in (
        ("unfinished-standbook-1-2", "never finished"),
        ("empty", "is no backup of a Standbook"),
    ):
        (tmp_path / name).mkdir()
        refused(target, tmp_path / name, words)


def test_a_data_folder_on_a_network_disk_is_refused(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(health, "file_system_of", lambda folder: "nfs4")
    refused(target, kept, "lies on a network disk")


def test_the_passphrase_may_come_from_elsewhere(
    kept: Path, target: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert restore.passphrase_is_lacking(target, scene.told(kept))
    monkeypatch.setattr(settings, "SIGNING_PASSPHRASE", "from the environment", raising=False)
    assert not restore.passphrase_is_lacking(target, scene.told(kept))
