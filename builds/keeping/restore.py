"""Putting a backup back into an empty folder: everything is looked at before anything is written.

What is written lies in a folder `.restoring` until it is complete and its digests are right; then the photos get their
name, and the database last. Until that last moment there is no book, and a restore that was killed can be begun again.
"""

import contextlib
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.migrations.loader import MigrationLoader

from builds import health
from builds.keeping import last
from builds.keeping import manifest as form
from builds.keeping.book import OWN_PLACE, PASSPHRASE, Book
from builds.keeping.examine import examine, listed
from builds.keeping.files import KeepingRefused, copy, open_plain, room, settle_all, why
from builds.keeping.manifest import Manifest
from builds.setting_up import locked

LOCK = ".starting"
STAGE = ".restoring"
SPARE = 20_000_000
# What a first start leaves behind, a killed restore, a disk of its own, the invented shop of `demo`; the passphrase
# that somebody has put where it belongs; and the book's own backups, one of which may be what is put back.
NO_BOOK = {
    "secret-key", LOCK, STAGE, ".backing-up", "static", "demo", "lost+found", PASSPHRASE, OWN_PLACE,
}  # fmt: skip

Say = Callable[[str], None]


@dataclass(frozen=True)
class Restored:
    """What was put back, and how many changes of the tables are still to be made for this version."""

    manifest: Manifest
    pending: int


def put_back(book: Book, source: Path, *, say: Say = lambda line: None) -> Restored:
    """Put a backup back. `KeepingRefused` says why not; nothing of it is written then."""
    try:
        return _put_back(book, source, say)
    except OSError as error:
        raise KeepingRefused(
            f"{error.filename or book.data}: {why(error)}. Nothing was restored; the backup is as it was."
        ) from None


def _put_back(book: Book, source: Path, say: Say) -> Restored:
    check_source(source)
    check_empty(book)
    say("Looking at every file of the backup.")
    manifest = examine(source)
    pending = pending_migrations(manifest)
    folder = health.data_folder()
    if not folder.well:
        raise KeepingRefused(folder.sentence)
    # The database once more: it is copied before its tables are changed.
    needed = manifest.size + SPARE + next(kept.size for kept in manifest.files if kept.path == form.DATABASE)
    free = shutil.disk_usage(book.data).free
    if free < needed:
        raise KeepingRefused(
            f"The book needs {room(needed)}, and {book.data} has {room(free)} left. Nothing was written; make room first."
        )
    with locked(book.data / LOCK, waiting="Standbook is being started in this folder; waiting for it."):
        check_empty(book)
        _place(book, source, manifest)
    with contextlib.suppress(OSError):
        last.note(book.data, manifest.made_at, source.resolve(), len(manifest.faults))
    return Restored(manifest, pending)


def check_source(source: Path) -> None:
    """Refuse what is no folder of a backup, with the name of one where it can be seen which is meant."""
    if not source.exists():
        raise KeepingRefused(f"There is no folder {source}. Is the stick in?")
    if not source.is_dir():
        raise KeepingRefused(
            f"{source} is a file. Name the folder of the backup, the one with {form.README} in it."
        )
    if (source / form.NAME).exists():
        return
    made = sorted(each.name for each in source.glob("standbook-*") if (each / form.NAME).exists())
    if made:
        raise KeepingRefused(
            f"{source} is the folder that the backups lie in. Name one of them; the newest is {source / made[-1]}."
        )
    if source.name.startswith("unfinished-"):
        raise KeepingRefused(f"{source} was never finished: it is no backup. Use another one.")


def check_empty(book: Book) -> None:
    """Refuse a folder with anything in it that a restore could harm."""
    harmless = NO_BOOK | ({book.photos.name} if _has_placed_photos(book) else set())
    found = [
        path for path in sorted(book.data.iterdir()) if path.name not in harmless and not _is_nothing(path)
    ]
    if found:
        raise KeepingRefused(
            f"{book.data} is not empty: {listed([path.name for path in found])}. A restore never writes over a book. "
            "Name an empty folder with STANDBOOK_DATA, or move away what is there."
        )


def _is_nothing(path: Path) -> bool:
    """A file without a byte, as one gets from looking at a book that is not there; or an empty folder."""
    if path.is_symlink():
        return False
    return not any(path.iterdir()) if path.is_dir() else path.is_file() and path.stat().st_size == 0


def pending_migrations(manifest: Manifest) -> int:
    """How many changes of the tables this version makes on a restored book. Refuses the book of a newer version."""
    here = set(MigrationLoader(None).disk_migrations)
    there = {(app, name) for app, names in manifest.migrations.items() for name in names}
    apps = {app for app, _name in here}
    newer = sorted(f"{app}.{name}" for app, name in there - here if app in apps)
    if newer:
        raise KeepingRefused(
            f"This backup was made by a newer Standbook ({manifest.standbook}; it has {listed(newer)}). Use that one, or "
            "a newer one still."
        )
    return len(here - there)


def _place(book: Book, source: Path, manifest: Manifest) -> None:
    stage = book.data / STAGE
    _take_away(book)
    try:
        stage.mkdir(mode=0o700)
        for kept in manifest.files:
            with open_plain(source / kept.path) as file:
                copied = copy(file, stage / kept.path)
            # Looked at once already; but a stick may be changed, or fail, while it is read.
            if copied != (kept.size, kept.sha256):
                raise KeepingRefused(
                    f"{kept.path} changed while it was copied. Nothing was restored; try again."
                )
        settle_all(stage)
        if (stage / form.PHOTOS).exists():
            (stage / form.PHOTOS).rename(book.photos)
        (stage / form.DATABASE).replace(book.database)
    except BaseException:
        _take_away(book)
        raise
    # From here on the book is there: nothing that fails now may say otherwise.
    shutil.rmtree(stage, ignore_errors=True)
    settle_all(book.data)


def _has_placed_photos(book: Book) -> bool:
    """Whether a restore ended between the photos and the database: its photos stand in their place, without a book."""
    stage = book.data / STAGE
    return (
        (stage / form.DATABASE).exists() and not (stage / form.PHOTOS).exists() and _is_absent(book.database)
    )


def _is_absent(path: Path) -> bool:
    return not path.exists() or _is_nothing(path)


def _take_away(book: Book) -> None:
    """Take away what an unfinished restore has written, and nothing else."""
    stage = book.data / STAGE
    if _has_placed_photos(book) and book.photos.exists():
        book.photos.rename(stage / form.PHOTOS)
    if stage.exists():
        shutil.rmtree(stage)


def passphrase_is_lacking(book: Book, manifest: Manifest) -> bool:
    """Whether the restored book has signing keys, and nothing here opens them."""
    return (
        manifest.rows.get("builds_authority", 0) > 0
        and not getattr(settings, "SIGNING_PASSPHRASE", "")
        and not (book.data / PASSPHRASE).exists()
    )
