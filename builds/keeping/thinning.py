"""Taking away the oldest of the backups that the book made by itself.

The book's own list says which those are, in the order of making, whatever the clock said; a folder counts as long as the
manifest in it is the one that was written. So what a person made, renamed, copied there or put a note into stays.
"""

import os
import shutil
from collections.abc import Sequence
from pathlib import Path

from builds.keeping import backup, examine
from builds.keeping import manifest as form
from builds.keeping.book import Book
from builds.keeping.files import KeepingRefused, digest_of, settle, why
from builds.keeping.nights import KEPT, Automatic
from builds.setting_up import locked


def surplus(there: Sequence[Automatic]) -> list[Automatic]:
    """Which of the backups that are there may go: the oldest beyond `KEPT`, and none from the last sound one on."""
    sound = [number for number, each in enumerate(there) if each.sound]
    count = min(max(len(there) - KEPT, 0), sound[-1] if sound else len(there))
    return list(there[:count])


def thin(book: Book, place: Path, made: Sequence[Automatic]) -> tuple[set[Automatic], list[str]]:
    """Take away what may go. Which are gone, and a sentence for each that stays because something is wrong with it."""
    there = [each for each in made if Path(each.folder).parent == place and _is_as_made(each)]
    gone, notes = set(), []
    for old in surplus(there):
        try:
            examine.examine(Path(old.folder))
            _take_away(book, Path(old.folder))
            gone.add(old)
        except KeepingRefused as found:
            notes.append(f"The old backup {old.folder} is not whole, so it was left where it is: {found}")
        except OSError as error:
            notes.append(f"The old backup {old.folder} could not be taken away: {why(error)}.")
    return gone, notes


def digest(folder: Path) -> str:
    """By what a backup is known again."""
    return digest_of(folder / form.NAME)[1]


def _is_as_made(each: Automatic) -> bool:
    folder = Path(each.folder)
    try:
        return not folder.is_symlink() and digest(folder) == each.digest
    except OSError:
        return False


def _take_away(book: Book, folder: Path) -> None:
    with locked(
        book.data / backup.LOCK, waiting="Another backup of this book is being made; waiting for it."
    ):
        # First it loses its name: what a stop in the middle leaves looks like no backup, and the next one clears it.
        going = folder.with_name(f"{backup.unfinished_name(book)}{os.getpid()}-old")
        folder.rename(going)
        settle(folder.parent)
        shutil.rmtree(going)
