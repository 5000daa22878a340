"""Putting a backup back: the drill from end to end, and everything that is refused before anything is written."""

import errno
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

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


def flipped(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def shortened(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1])


def lengthened(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"\n")


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def removed(path: Path) -> None:
    path.unlink()


def linked(path: Path) -> None:
    """The same content, but elsewhere: it could be changed after it was looked at."""
    path.rename(path.parent.parent / "elsewhere")
    path.symlink_to(path.parent.parent / "elsewhere")


def piped(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize("harm", [flipped, shortened, lengthened, emptied, removed, linked, piped])
def test_harm_to_any_file_is_found_and_named(
    written_backup: Path, tmp_path: Path, target: Book, harm: Callable[[Path], None]
) -> None:
    """Each file of the backup in turn, the manifest and its digests among them."""
    names = list(scene.everything_in(written_backup))
    assert len(names) == 8
    for number, name in enumerate(names):
        folder = scene.copied(written_backup, tmp_path / f"{number}" / "backup")
        harm(folder / name)
        refused(target, folder, Path(name).name.replace(".", r"\."))


@pytest.mark.parametrize("name", ["note.txt", "photos/00/more.jpg", "photos/.DS_Store", ".hidden"])
def test_what_the_manifest_does_not_name_is_refused(kept: Path, target: Book, name: str) -> None:
    (kept / name).parent.mkdir(parents=True, exist_ok=True)
    (kept / name).write_bytes(b"more")
    refused(target, kept, f"what it does not name itself: {name}. Take that out")


def test_an_empty_folder_too_many_is_refused(kept: Path, target: Book) -> None:
    (kept / "photos" / "zz").mkdir()
    refused(target, kept, "what it does not name itself: photos/zz/")


def test_a_linked_folder_is_refused(kept: Path, target: Book, tmp_path: Path) -> None:
    (kept / "photos").rename(tmp_path / "photos elsewhere")
    (kept / "photos").symlink_to(tmp_path / "photos elsewhere")
    refused(target, kept, "photos is a link")


def test_a_photo_left_out_by_one_who_knows_how_is_missed(kept: Path, target: Book) -> None:
    path = scene.told(kept).photos[0].path
    (kept / path).unlink()
    (kept / path).parent.rmdir()
    scene.seal_again(kept)
    refused(target, kept, r"Photo mark\.\w+ of job .* cannot be read .* The backup does not say so")


def test_a_photo_changed_by_one_who_knows_how_is_found(kept: Path, target: Book) -> None:
    flipped(kept / scene.told(kept).photos[0].path)
    scene.seal_again(kept)
    refused(target, kept, r"Photo mark\.\w+ of job .* has changed .* The backup does not say so")


@pytest.mark.parametrize(
    "more",
    [{"rows": {}}, {"migrations": {}}, {"shop": "Another"}, {"newest_sheet": None}],
    ids=lambda more: next(iter(more)),
)
def test_a_manifest_that_tells_of_another_database_is_refused(
    kept: Path, target: Book, more: dict[str, Any]
) -> None:
    scene.seal_again(kept, **more)
    refused(target, kept, "does not tell of the database beside it")


def test_a_damaged_database_is_refused(kept: Path, target: Book) -> None:
    with (kept / form.DATABASE).open("r+b") as file:
        file.seek(8192)
        file.write(b"\xff" * 8192)
    written = scene.told(kept)
    files = [scene.kept_file(kept, each.path) for each in written.files]
    scene.write_manifest(kept, form.Manifest(**{**vars(written), "files": tuple(files)}))
    refused(target, kept, "The database in the backup is damaged: ")


def test_references_that_lead_nowhere_are_refused_unless_the_book_had_them(kept: Path, target: Book) -> None:
    scene.alter(kept / form.DATABASE, "UPDATE builds_engine SET customer_id = 4711 WHERE id = 1")
    scene.seal_again(kept)
    refused(target, kept, "Table builds_engine holds references that lead nowhere")
    known = form.Fault("reference", "builds_engine", "Table builds_engine")
    scene.seal_again(kept, faults=(known,))
    assert restore.put_back(target, kept).manifest.faults == (known,)


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
    flipped(kept / "README.txt")
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
