"""Backing a book up while it is in use: what is in it, what is said of it, and that nothing half-made looks complete."""

import errno
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from builds.keeping import backup, examine, files, snapshot
from builds.keeping import manifest as form
from builds.keeping.book import Book
from builds.setting_up import locked
from tests.builds.keeping import scene
from tests.builds.keeping.conftest import NOON

LATER = "standbook-2026-11-25T1230"


def photo_paths(book: Book) -> list[str]:
    """Where the photos of a book lie, by its database."""
    return [photo.path for photo in snapshot.facts(book.database).photos]


def test_a_backup_holds_the_database_the_photos_and_what_it_says_of_them(book: Book, stick: Path) -> None:
    made = backup.make(book, stick, now=NOON)
    paths = photo_paths(book)
    assert made.folder == stick / LATER
    assert sorted(scene.everything_in(made.folder)) == sorted(
        [
            "README.txt",
            "database.sqlite3",
            "manifest.json",
            "manifest.sha256",
            *(f"photos/{path}" for path in paths),
        ]
    )
    assert len(paths) == 4
    for path in paths:
        assert (made.folder / "photos" / path).read_bytes() == (book.photos / path).read_bytes()
    assert scene.dump(made.folder / "database.sqlite3") == scene.dump(book.database)
    assert made.manifest.faults == ()
    assert made.manifest.rows["builds_photo"] == 4


def test_the_digest_of_the_newest_sealed_sheet_goes_out_of_the_house(written_backup: Path) -> None:
    sheet = scene.told(written_backup).newest_sheet
    assert sheet == form.NewestSheet(2, f"{2:064x}")
    assert f"Newest sealed sheet: 2, SHA-256 {2:064x}" in (written_backup / "README.txt").read_text()


def test_the_passphrase_and_the_secret_stay_at_home(book: Book, stick: Path) -> None:
    (book.data / "signing-passphrase").write_text("the lifter that was loose")
    secret = (book.data / "secret-key").read_bytes()
    made = backup.make(book, stick, now=NOON)
    for path in made.folder.rglob("*.*"):
        assert b"the lifter that was loose" not in path.read_bytes()
        assert secret not in path.read_bytes()


def test_a_stranger_checks_it_with_coreutils(kept: Path) -> None:
    checked = subprocess.run(
        ["sha256sum", "--strict", "-c", "manifest.sha256"], cwd=kept, capture_output=True, text=True
    )
    assert checked.returncode == 0
    assert len(checked.stdout.splitlines()) == 7
    (kept / "database.sqlite3").write_bytes(b"another")
    again = subprocess.run(["sha256sum", "-c", "manifest.sha256"], cwd=kept, capture_output=True, text=True)
    assert again.returncode == 1
    assert "database.sqlite3: FAILED" in again.stdout


def test_only_its_owner_reads_it(written_backup: Path) -> None:
    for path in [written_backup, *written_backup.rglob("*.*")]:
        assert path.stat().st_mode & 0o077 == 0, path


def test_two_backups_of_one_minute_stand_beside_each_other(book: Book, stick: Path) -> None:
    folders = [backup.make(book, stick, now=NOON).folder.name for _ in range(3)]
    assert folders == [LATER, f"{LATER}-2", f"{LATER}-3"]


def test_a_book_is_backed_up_while_somebody_writes_in_it(book: Book, stick: Path) -> None:
    """Two customers go in together, again and again: a moment with one of them alone was never there."""
    insert = (
        "INSERT INTO builds_customer (name, phone, email, address, note, created_at) "
        "VALUES ('pair', '', '', '', '', '2026-11-25')"
    )
    with ThreadPoolExecutor(1) as pool:
        done, begun = threading.Event(), threading.Event()

        def write() -> int:
            pairs = 0
            with closing(sqlite3.connect(book.database, timeout=20, isolation_level=None)) as writer:
                while not done.wait(0.001):
                    for statement in ("BEGIN IMMEDIATE", insert, insert, "COMMIT"):
                        writer.execute(statement)
                    pairs += 1
                    begun.set()
            return pairs

        writing = pool.submit(write)
        try:
            assert begun.wait(10)
            folders = [backup.make(book, stick, now=NOON).folder for _ in range(5)]
        finally:
            done.set()
        written = 2 * writing.result(timeout=30)
    seen = [pairs_in(folder / form.DATABASE) for folder in folders]
    assert [count % 2 for count in seen] == [0] * 5
    assert seen == sorted(seen)
    assert 0 < seen[0] < seen[-1] <= written == pairs_in(book.database)


def pairs_in(database: Path) -> int:
    """How many customers the writer has left in a database."""
    with closing(sqlite3.connect(database)) as reader:
        return int(reader.execute("SELECT COUNT(*) FROM builds_customer WHERE name = 'pair'").fetchone()[0])


def gone(path: Path) -> None:
    path.unlink()


def changed(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1] + b"?")


def a_link(path: Path) -> None:
    path.rename(path.with_suffix(".moved"))
    path.symlink_to(path.with_suffix(".moved"))


@pytest.mark.parametrize(
    ("harm", "what", "words"),
    [
        (gone, "missing", "cannot be read"),
        (changed, "different", "has changed"),
        (a_link, "missing", "cannot be read"),
    ],
)
def test_a_photo_that_is_not_well_is_named_and_the_rest_is_kept(
    book: Book, stick: Path, harm: Callable[[Path], None], what: str, words: str
) -> None:
    path = photo_paths(book)[1]
    harm(book.photos / path)
    made = backup.make(book, stick, now=NOON)
    assert [(fault.what, fault.name) for fault in made.manifest.faults] == [(what, path)]
    assert "of job " in made.manifest.faults[0].sentence
    assert words in made.manifest.faults[0].sentence
    assert len(made.manifest.photos) == (4 if what == "different" else 3)
    assert examine.examine(made.folder) == made.manifest


def test_a_photo_that_cannot_be_read_to_its_end_is_named_and_the_rest_is_kept(
    book: Book, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = photo_paths(book)[2]
    read = files._piece

    def piece(source: object) -> bytes:
        if str(source.name).endswith(path):  # type: ignore[attr-defined]
            raise files.SourceUnreadable(errno.EIO, "Input/output error")
        return read(source)  # type: ignore[arg-type]

    monkeypatch.setattr(files, "_piece", piece)
    made = backup.make(book, stick, now=NOON)
    assert [(fault.what, fault.name) for fault in made.manifest.faults] == [("missing", path)]
    assert len(made.manifest.photos) == 3


def test_a_photo_row_that_leads_out_of_the_folder_copies_nothing(book: Book, stick: Path) -> None:
    scene.alter(
        book.database,
        "DROP TRIGGER builds_photo_no_update",
        "UPDATE builds_photo SET path = '../secret-key' WHERE id = 1",
    )
    made = backup.make(book, stick, now=NOON)
    assert [(fault.what, fault.name) for fault in made.manifest.faults] == [("missing", "../secret-key")]


def test_a_reference_that_leads_nowhere_is_named(book: Book, stick: Path) -> None:
    scene.alter(book.database, "UPDATE builds_engine SET customer_id = 4711 WHERE id = 1")
    made = backup.make(book, stick, now=NOON)
    assert [fault.sentence for fault in made.manifest.faults] == [
        "Table builds_engine holds references that lead nowhere (builds_engine)."
    ]


@pytest.mark.parametrize(
    ("module", "function", "call"),
    [
        ("builds.keeping.snapshot", "damage", 1),
        ("builds.keeping.backup", "copy", 3),
        ("builds.keeping.backup", "settle_all", 1),
        ("builds.keeping.backup", "_name", 1),
    ],
)
def test_a_killed_backup_is_no_backup_and_is_cleared_by_the_next(
    book: Book, stick: Path, module: str, function: str, call: int
) -> None:
    script = (
        "import importlib, sys, time, django; django.setup()\n"
        "from pathlib import Path\n"
        "from builds.keeping import backup\n"
        "from builds.keeping.book import Book\n"
        f"module = importlib.import_module({module!r}); real = module.{function}; calls = 0\n"
        "def stop(*args):\n"
        "    global calls; calls += 1\n"
        f"    if calls == {call}: print('here', flush=True); time.sleep(60)\n"
        "    return real(*args)\n"
        f"module.{function} = stop\n"
        "backup.make(Book.here(), Path(sys.argv[1]))\n"
    )
    before = scene.everything_in(stick)
    environment = {**scene.environment(book.data), "DJANGO_SETTINGS_MODULE": "builds.settings"}
    child = subprocess.Popen(
        [sys.executable, "-c", script, str(stick)], env=environment, stdout=subprocess.PIPE, text=True
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline() == "here\n"
        child.send_signal(signal.SIGKILL)
    left = [path.name for path in stick.iterdir() if path.name.startswith("unfinished-standbook-")]
    assert len(left) == 1
    assert not list(stick.glob("standbook-2026-11-25*"))
    assert {name: told for name, told in scene.everything_in(stick).items() if left[0] not in name} == before
    (stick / "unfinished-standbook-00000000-1").mkdir()
    backup.make(book, stick, now=NOON)
    assert sorted(path.name for path in stick.iterdir()) == [
        "standbook-2026-11-01T1200", LATER, "unfinished-standbook-00000000-1",
    ]  # fmt: skip


def test_of_two_backups_at_once_the_second_waits(book: Book, stick: Path) -> None:
    made: list[str] = []
    second = threading.Thread(target=lambda: made.append(backup.make(book, stick, now=NOON).folder.name))
    with locked(book.data / backup.LOCK):
        second.start()
        time.sleep(0.3)
        assert made == []
    second.join(20)
    assert made == [LATER]


def test_the_command_says_what_is_in_it_what_is_not_and_where(book: Book, stick: Path) -> None:
    done = scene.run(book.data, "manage.py", "backup", str(stick))
    assert done.returncode == 0, done.stderr
    assert "2 sealed sheets, 4 photos" in done.stdout
    assert f"Newest sealed sheet: 2, SHA-256 {2:064x}." in done.stdout
    assert f"the passphrase of the signing keys ({book.data / 'signing-passphrase'}" in done.stdout
    assert "same disk as the book" in done.stdout


def test_the_command_ends_with_three_when_the_book_is_not_well(book: Book, stick: Path) -> None:
    (book.photos / photo_paths(book)[0]).unlink()
    done = scene.run(book.data, "manage.py", "backup", str(stick))
    assert done.returncode == 3
    assert "cannot be read from the book's folder of photos" in done.stderr
    assert "The backup is made and keeps all the rest" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_command_ends_with_one_and_a_sentence_when_there_is_no_backup(book: Book) -> None:
    done = scene.run(book.data, "manage.py", "backup", str(book.data))
    assert done.returncode == 1
    assert done.stderr.startswith("CommandError: ")
    assert "would be lost together with it" in done.stderr
