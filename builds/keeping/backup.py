"""Backing a book up while it is in use: one dated folder, complete or not there.

First the database as it stood at one moment, then the photos that it names: a photo's file is written before its row and
never changes, so every photo of that moment is there. All of it goes into a folder with an unfinished name, is read
back from the disk and looked at as a restore would, and only then gets its own name.

The passphrase of the signing keys is left out, and there is no option to put it in: in one folder with the keys it
would let whoever finds a lost stick sign in the shop's name. It fits on a slip of paper in the safe, and never changes.
"""

import contextlib
import hashlib
import os
import platform
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from django.utils import timezone

from builds.keeping import examine, last, readme, snapshot
from builds.keeping import manifest as form
from builds.keeping.book import OWN_PLACE, Book, version
from builds.keeping.files import (
    KeepingRefused,
    SourceUnreadable,
    copy,
    digest,
    open_plain,
    room,
    settle,
    settle_all,
    why,
    write,
)
from builds.keeping.manifest import Kept, Manifest
from builds.setting_up import locked

LOCK = ".backing-up"
UNFINISHED = "unfinished-standbook-"
# At the end of the name of a backup that the book makes by itself.
NIGHTLY = "-nightly"
SPARE = 5_000_000
# What is left of the book's own disk by a backup that nobody watches: a full disk takes no readings.
SPARE_AT_HOME = 500 * 1024**2

Say = Callable[[str], None]


@dataclass(frozen=True)
class Made:
    """A backup that is complete: its folder, what is in it, and what else its owner should know."""

    folder: Path
    manifest: Manifest
    notes: tuple[str, ...]


def make(
    book: Book,
    where: Path,
    *,
    now: datetime | None = None,
    say: Say = lambda line: None,
    nightly: bool = False,
) -> Made:
    """Make one more backup inside a folder. `KeepingRefused` says why there is none; nothing is left of it then.

    A `nightly` one says so in its name, and may lie in the book's own place for them, which is made for it.
    """
    now = (now or timezone.now()).replace(microsecond=0)
    try:
        if not (nightly and _is_own_place(book, where)):
            check_place(book, where)
        _check_book(book)
        with locked(book.data / LOCK, waiting="Another backup of this book is being made; waiting for it."):
            _clear_unfinished(book, where)
            spare = SPARE_AT_HOME if nightly and is_on_its_disk(book, where) else SPARE
            _check_room(where, book.database.stat().st_size, spare)
            unfinished = where / f"{unfinished_name(book)}{os.getpid()}"
            try:
                unfinished.mkdir(mode=0o700)
                manifest = _fill(book, unfinished, now, say, spare)
                folder = _name(unfinished, where, now, NIGHTLY if nightly else "")
            except BaseException:
                shutil.rmtree(unfinished, ignore_errors=True)
                raise
    except OSError as error:
        raise KeepingRefused(
            f"{error.filename or where} cannot be written: {why(error)}. Nothing of this backup is left; the older ones "
            "are as they were."
        ) from None
    return Made(folder, manifest, tuple(_notes(book, where, folder, manifest, nightly)))


def _is_own_place(book: Book, where: Path) -> bool:
    own = book.data / OWN_PLACE
    if where != own:
        return False
    own.mkdir(mode=0o700, exist_ok=True)
    return own.resolve() == own


def is_on_its_disk(book: Book, where: Path) -> bool:
    """Whether a folder lies on the disk of the book, as far as the system tells disks apart."""
    return where.stat().st_dev == book.data.stat().st_dev


def check_place(book: Book, where: Path) -> None:
    """Refuse a place where a backup is no use, or cannot be."""
    where = where.resolve()
    if not where.exists():
        raise KeepingRefused(f"There is no folder {where}. Is the stick in? Make the folder, then try again.")
    if not where.is_dir():
        raise KeepingRefused(f"{where} is a file. Name a folder to put the backup in.")
    for own in (book.data, book.photos):
        if where.is_relative_to(own):
            raise KeepingRefused(
                f"{where} lies inside the book's own folder {own}, and would be lost together with it. Name a folder "
                "on a stick or another machine."
            )


def _check_book(book: Book) -> None:
    if not book.database.is_file() or book.database.stat().st_size == 0:
        raise KeepingRefused(f"There is no book in {book.data} yet, so there is nothing to back up.")


def _check_room(where: Path, needed: int, spare: int) -> None:
    free = shutil.disk_usage(where).free
    if free < needed + spare:
        raise KeepingRefused(
            f"The backup needs {room(needed + spare)} more, and {where} has {room(free)} left. Nothing of this backup is "
            "left; make room, or use another stick."
        )


def unfinished_name(book: Book) -> str:
    """How the unfinished folders of this book begin; those of another machine's book are not touched."""
    mark = hashlib.sha256(f"{platform.node()}\0{book.data}".encode()).hexdigest()[:8]
    return f"{UNFINISHED}{mark}-"


def _clear_unfinished(book: Book, where: Path) -> None:
    """Take away what a killed backup has left. Nobody is working on it: the lock is held."""
    for left in where.glob(f"{unfinished_name(book)}*"):
        shutil.rmtree(left)


def _fill(book: Book, folder: Path, now: datetime, say: Say, spare: int) -> Manifest:
    database = folder / form.DATABASE
    snapshot.take(book.database, database)
    database.chmod(0o600)
    if fault := snapshot.damage(database):
        raise KeepingRefused(snapshot.damaged_sentence(book.database, fault))
    facts = snapshot.facts(database)
    size = sum(photo.size for photo in facts.photos)
    _check_room(folder.parent, size, spare)
    say(f"The database is copied; {len(facts.photos)} photos follow ({room(size)}).")
    files = [_kept(database, folder), *_copy_photos(book, folder, facts.photos)]
    faults = sorted([*examine.loose(database), *examine.unlike(facts.photos, tuple(files))])
    manifest = Manifest(
        version(), now, facts.shop, facts.migrations, facts.rows, facts.newest_sheet, (), tuple(faults)
    )
    write(folder / form.README, readme.written(manifest, len(files) - 1))
    manifest = replace(manifest, files=tuple(sorted([*files, _kept(folder / form.README, folder)])))
    write(folder / form.NAME, manifest.written())
    write(folder / form.SUMS, manifest.sums())
    settle_all(folder)
    say("Everything is written; reading it back.")
    try:
        return examine.examine(folder)
    except KeepingRefused as found:
        raise KeepingRefused(
            f"Read back from {folder.parent}, the backup is not what was written: {found} Nothing of it is left. Use "
            "another stick, and do not trust this one."
        ) from None


def _kept(path: Path, folder: Path) -> Kept:
    with open_plain(path) as file:
        size, sha256 = digest(file)
    return Kept(path.relative_to(folder).as_posix(), size, sha256)


def _copy_photos(book: Book, folder: Path, photos: tuple[snapshot.PhotoRow, ...]) -> list[Kept]:
    """Copy the file of every photo that has one; a changed one as it is, since it may show something all the same."""
    copied = []
    for photo in photos:
        path = form.PHOTOS + photo.path
        if not form.is_plain_path(photo.path):
            continue
        # One that cannot be opened, or not read to its end, is told by name among the faults.
        try:
            source = open_plain(book.photos / photo.path)
        except OSError:
            continue
        with source, contextlib.suppress(SourceUnreadable):
            copied.append(Kept(path, *copy(source, folder / path)))
    return copied


def _name(unfinished: Path, where: Path, now: datetime, ending: str) -> Path:
    """Give a complete folder its name: the day and time of the shop, and a number where that is taken."""
    stem = f"standbook-{timezone.localtime(now):%Y-%m-%dT%H%M}"
    for name in (stem + ending, *(f"{stem}-{number}{ending}" for number in range(2, 100))):
        with contextlib.suppress(FileExistsError):
            folder = where / name
            if folder.exists():
                continue
            unfinished.rename(folder)
            settle(where)
            return folder
    raise KeepingRefused(f"{where} holds a hundred backups of this minute. Wait for the next one.")


def _notes(book: Book, where: Path, folder: Path, manifest: Manifest, nightly: bool) -> list[str]:
    notes = []
    if is_on_its_disk(book, where):
        notes.append(
            "It lies on the same disk as the book: one dead disk takes both. Copy it to a stick or another machine."
        )
        if nightly:
            return notes  # it takes no place of the one that lies elsewhere, which is still asked for
    try:
        last.note(book.data, manifest.made_at, folder, len(manifest.faults))
    except OSError as error:
        notes.append(f"That it was made could not be written down in {book.data}: {why(error)}.")
    return notes
