"""The night's work: the backup and what becomes of the older ones, and what is said when there is none."""

from collections import namedtuple
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from builds.keeping import backup, examine, last, nightly, nights, restore, snapshot, thinning
from builds.keeping.book import Book
from builds.keeping.files import KeepingRefused
from builds.sealing import checking
from tests.builds.keeping import scene
from tests.builds.keeping.conftest import NIGHT


@pytest.fixture
def kept_book(data: Path, book: Book, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Book:
    """A book to work on at night, apart from the one of the test's own tables; nothing sealed is looked at."""
    monkeypatch.setattr(Book, "here", classmethod(lambda cls: book))
    monkeypatch.setattr(checking, "run", lambda by: checking.BookCheck(checking.DONE, report={"sound": True}))
    return book


@pytest.fixture
def book(written_book: Path, data: Path) -> Book:
    """A book in the folder of the book."""
    data.rmdir()
    return scene.book_in(scene.copied(written_book, data))


def test_a_night_leaves_a_whole_backup_in_the_books_own_place(kept_book: Book, data: Path) -> None:
    (data / last.NAME).unlink(missing_ok=True)
    night = nightly.work(NIGHT)
    folder = data / "backups" / "standbook-2026-11-25T0330-nightly"
    assert [each.folder for each in night.made] == [str(folder)]
    assert night == nights.read()
    assert night.made[0].sound
    assert examine.examine(folder).faults == ()
    # On the book's own disk it takes no place of the one that lies elsewhere.
    assert not (data / last.NAME).exists()
    assert last.look(NIGHT).due


def test_no_backup_holds_the_ones_before_it_and_none_is_restored(
    kept_book: Book, data: Path, tmp_path: Path, settings: Any
) -> None:
    nightly.work(NIGHT)
    made = Path(nightly.work(NIGHT + timedelta(days=1)).made[-1].folder)
    assert not [path for path in scene.everything_in(made) if "backups" in path or "nightly" in path]
    settings.DATA_DIR = tmp_path / "new"
    settings.DATA_DIR.mkdir()
    restore.put_back(scene.book_in(settings.DATA_DIR), made)
    assert not (settings.DATA_DIR / "backups").exists()
    assert not (settings.DATA_DIR / nights.NAME).exists()


def test_a_book_is_put_back_from_its_own_place(kept_book: Book, data: Path) -> None:
    made = Path(nightly.work(NIGHT).made[-1].folder)
    for path in data.iterdir():
        if path.name != "backups":
            path.rename(data.parent / path.name)
    before = scene.everything_in(data / "backups")
    restore.put_back(kept_book, made)
    assert kept_book.database.is_file()
    assert scene.everything_in(data / "backups") == before


def test_a_person_may_not_put_a_backup_there(kept_book: Book, data: Path) -> None:
    (data / "backups").mkdir()
    with pytest.raises(KeepingRefused, match="would be lost together with it"):
        backup.make(kept_book, data / "backups")


def test_fourteen_stay_and_a_night_without_one_takes_none_away(
    kept_book: Book, data: Path, monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path
) -> None:
    monkeypatch.setattr(thinning, "KEPT", 2)
    for day in range(4):
        nightly.work(NIGHT + timedelta(days=day))
    there = sorted(path.name for path in (data / "backups").iterdir())
    assert there == ["standbook-2026-11-27T0330-nightly", "standbook-2026-11-28T0330-nightly"]
    assert [Path(each.folder).name for each in nights.read().made] == there
    monkeypatch.setattr(thinning, "KEPT", 1)
    settings.BACKUPS = str(tmp_path / "stick that is out")
    assert nightly.work(NIGHT + timedelta(days=4)).failure
    assert sorted(path.name for path in (data / "backups").iterdir()) == there


def test_a_night_on_which_something_did_not_match_is_not_sound(
    kept_book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        checking, "run", lambda by: checking.BookCheck(checking.DONE, report={"sound": False})
    )
    assert not nightly.work(NIGHT).made[-1].sound


def test_a_photo_that_was_changed_is_told_and_the_night_is_not_sound(kept_book: Book) -> None:
    path = snapshot.facts(kept_book.database).photos[0].path
    (kept_book.photos / path).write_bytes(b"another")
    night = nightly.work(NIGHT)
    assert (night.faults, night.made[-1].sound) == (1, False)
    assert "1 of the book's files or tables were not well" in nights.troubles()[0].sentence
    assert "An older backup may still hold" in " ".join(nights.look(NIGHT).warnings)


Room = namedtuple("Room", "total used free")


def absent(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place.rmdir()


def full(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backup.shutil, "disk_usage", lambda path: Room(10**9, 10**9, 1000))


def a_file(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place.rmdir()
    place.touch()


def unforeseen(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backup.snapshot, "take", lambda *_: 1 / 0)


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (absent, "There is no folder"),
        (full, "make room"),
        (a_file, "is a file"),
        (unforeseen, "The log of this book says what"),
    ],
)
def test_a_backup_that_cannot_be_made_is_a_sentence_and_is_tried_again(
    kept_book: Book, tmp_path: Path, settings: Any, harm: Callable[..., None], words: str
) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    settings.BACKUPS = str(place)
    with pytest.MonkeyPatch.context() as patch:
        harm(place, patch)
        assert words in nightly.work(NIGHT).failure
    assert [trouble.page for trouble in nights.troubles()] == ["shop"]
    assert (
        "The book did not back itself up in the night (25 Nov 2026 03:30): " in nights.troubles()[0].sentence
    )
    assert words in " ".join(nights.look(NIGHT).warnings)
    if place.is_file():
        place.unlink()
    place.mkdir(exist_ok=True)
    assert nightly.work(NIGHT + timedelta(days=1)).failure == ""
    assert nights.troubles() == []


def test_room_is_left_on_the_books_own_disk(kept_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(backup.shutil, "disk_usage", lambda path: Room(10**9, 0, 500 * 1024**2))
    assert "500.0 MB left" in nightly.work(NIGHT).failure
