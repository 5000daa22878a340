"""One book for all these tests, written in a process of its own, and one backup of it; each test harms copies."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from builds.keeping import backup
from builds.keeping.book import Book
from tests.builds.keeping import scene

NOON = datetime(2026, 11, 25, 12, 30, 15, tzinfo=UTC)
NIGHT = datetime(2026, 11, 25, 3, 30, tzinfo=UTC)


@pytest.fixture(scope="session")
def written_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the book as it was written. Never changed."""
    data = tmp_path_factory.mktemp("written") / "book"
    done = scene.run(data, "tests/builds/keeping/scene.py", "write")
    assert done.returncode == 0, done.stderr
    return data


@pytest.fixture(scope="session")
def written_backup(written_book: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of it. Never changed."""
    return backup.make(scene.book_in(written_book), tmp_path_factory.mktemp("stick"), now=NOON).folder


@pytest.fixture
def book(written_book: Path, tmp_path: Path) -> Book:
    """A book to back up."""
    return scene.book_in(scene.copied(written_book, tmp_path / "book"))


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """A stick with an older backup on it."""
    folder = tmp_path / "stick" / "standbook-2026-11-01T1200"
    folder.mkdir(parents=True)
    (folder / "README.txt").write_text("an older one")
    return folder.parent


@pytest.fixture
def kept(written_backup: Path, tmp_path: Path) -> Path:
    """A backup to restore."""
    return scene.copied(written_backup, tmp_path / written_backup.name)


@pytest.fixture
def target(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Book:
    """An empty folder to restore into, as a first start leaves it."""
    data = tmp_path / "new"
    data.mkdir()
    (data / "secret-key").write_text("another one")
    monkeypatch.setattr(settings, "DATA_DIR", data)
    return scene.book_in(data)


@pytest.fixture
def data(tmp_path: Path, settings: Any) -> Path:
    """A folder of the book, with nothing set."""
    settings.DATA_DIR, settings.NIGHTLY, settings.BACKUPS = tmp_path / "book", "03:30", ""
    settings.DATA_DIR.mkdir()
    return Path(settings.DATA_DIR)
