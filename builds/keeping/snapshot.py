"""The database of a backup: copied while the book is in use, and read without Django, whatever version wrote it."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from builds.keeping.files import KeepingRefused, sync
from builds.keeping.manifest import NewestSheet

WAIT_SECONDS = 20.0


@dataclass(frozen=True)
class PhotoRow:
    """A photo as the database knows it."""

    path: str
    size: int
    sha256: str
    label: str


@dataclass(frozen=True)
class Facts:
    """What a backup tells of its database."""

    migrations: dict[str, list[str]]
    rows: dict[str, int]
    shop: str
    newest_sheet: NewestSheet | None
    photos: tuple[PhotoRow, ...]


def take(book: Path, target: Path) -> None:
    """Copy a book's database as it stood at one moment; those who write in it go on.

    `VACUUM INTO` and not SQLite's own backup: that waits for ever on a book that somebody holds, and begins again
    whenever somebody writes.
    """
    try:
        with closing(
            sqlite3.connect(f"{_address(book)}?mode=rw", uri=True, timeout=WAIT_SECONDS)
        ) as open_book:
            open_book.execute("VACUUM INTO ?", [str(target)])
    except sqlite3.Error as error:
        raise KeepingRefused(_sentence(book, error)) from None
    # VACUUM INTO leaves it to the system when its pages reach the disk.
    sync(target)


def _sentence(book: Path, error: sqlite3.Error) -> str:
    name = getattr(error, "sqlite_errorname", "")
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return (
            f"Somebody has been writing in the book for {WAIT_SECONDS:.0f} seconds without a pause. Nothing was "
            "backed up; try again in a minute."
        )
    if name == "SQLITE_FULL":
        return (
            "There is no room left for the copy of the database. Nothing of it is left; make room, try again."
        )
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return damaged_sentence(book, str(error))
    return f"The database {book} cannot be copied: {error}. `manage.py health` says more."


def damaged_sentence(book: Path, fault: str) -> str:
    """What to do about a book whose database is damaged."""
    return (
        f"The database {book} is damaged: {fault}. Nothing was backed up, and the older backups are as they were. "
        "Stop Standbook, put the whole folder of the book aside, and restore the latest backup into an empty one."
    )


def _address(path: Path) -> str:
    return path.resolve().as_uri()


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a copy that nobody writes in; nothing is put beside it, not even on a disk that could be written."""
    with closing(sqlite3.connect(f"{_address(path)}?mode=ro&immutable=1", uri=True)) as database:
        database.execute("PRAGMA trusted_schema = OFF")
        yield database


def damage(path: Path) -> str:
    """What is damaged in a database file; nothing when every page is sound."""
    try:
        with _reading(path) as database:
            found = [str(row[0]) for row in database.execute("PRAGMA integrity_check(3)")]
    except sqlite3.Error as error:
        return str(error)
    return "" if found == ["ok"] else "; ".join(found)


def loose_references(path: Path) -> list[str]:
    """Tables with references that lead nowhere."""
    with _reading(path) as database:
        return sorted({str(row[0]) for row in database.execute("PRAGMA foreign_key_check")})


def facts(path: Path) -> Facts:
    """Read what a backup tells of its database. Raises `KeepingRefused` when it is no book."""
    try:
        with _reading(path) as database:
            return _facts(database)
    except sqlite3.Error as error:
        raise KeepingRefused(f"The database is no book of Standbook's: {error}.") from None


def _facts(database: sqlite3.Connection) -> Facts:
    names = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name"
    tables = [str(row[0]) for row in database.execute(names)]
    if not {"django_migrations", "builds_build"} <= set(tables):
        raise KeepingRefused("There are no jobs in this database: it is no book of Standbook's.")
    rows = {
        table: int(database.execute(f"SELECT COUNT(*) FROM {_quoted(table)}").fetchone()[0])
        for table in tables
    }
    migrations: dict[str, list[str]] = {}
    for app, name in database.execute("SELECT app, name FROM django_migrations ORDER BY app, name"):
        migrations.setdefault(str(app), []).append(str(name))
    shop = database.execute("SELECT name FROM builds_shop ORDER BY id LIMIT 1").fetchone()
    return Facts(
        migrations,
        rows,
        str(shop[0]) if shop else "",
        _newest_sheet(database, tables),
        _photos(database, tables),
    )


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _newest_sheet(database: sqlite3.Connection, tables: list[str]) -> NewestSheet | None:
    if "builds_sealedsheet" not in tables:
        return None
    row = database.execute(
        "SELECT number, digest FROM builds_sealedsheet ORDER BY number DESC LIMIT 1"
    ).fetchone()
    return NewestSheet(int(row[0]), str(row[1])) if row else None


def _photos(database: sqlite3.Connection, tables: list[str]) -> tuple[PhotoRow, ...]:
    if "builds_photo" not in tables:
        return ()
    rows = database.execute(
        "SELECT photo.path, photo.size, photo.sha256, photo.name, build.job_number FROM builds_photo AS photo "
        "LEFT JOIN builds_build AS build ON build.id = photo.build_id ORDER BY photo.path"
    )
    return tuple(
        PhotoRow(str(path), int(size), str(sha256), f"Photo {name} of job {job}")
        for path, size, sha256, name, job in rows
    )
