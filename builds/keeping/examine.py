"""Whether a backup is whole: every file there, every digest right, nothing besides, and a sound database in it.

A backup looks at itself in this way before it gets its name; a restore looks again before it writes anything.
"""

import os
import stat
from pathlib import Path

from builds.keeping import manifest as form
from builds.keeping import snapshot
from builds.keeping.files import KeepingRefused, digest_of, read_plain, why
from builds.keeping.manifest import Fault, Kept, Manifest

MOST_NAMED = 3


def examine(folder: Path) -> Manifest:
    """Look at a whole backup; its manifest when all of it is well. `KeepingRefused` says what is not."""
    try:
        found = _names(folder)
        if form.NAME not in found:
            raise KeepingRefused(f"{folder} is no backup of a Standbook: there is no {form.NAME} in it.")
        told = form.read(read_plain(folder / form.NAME, form.MOST_BYTES))
        _compare_names(told, found)
        if read_plain(folder / form.SUMS, form.MOST_BYTES) != told.sums():
            raise KeepingRefused(
                f"{form.NAME} and {form.SUMS} do not agree: one of them was changed. Use another backup."
            )
        wrong = [
            kept.path for kept in told.files if digest_of(folder / kept.path) != (kept.size, kept.sha256)
        ]
    except OSError as error:
        raise KeepingRefused(f"{error.filename or folder} cannot be read: {why(error)}.") from None
    if wrong:
        raise KeepingRefused(
            f"Changed since the backup was made: {listed(wrong)}. Use another backup: this one is not what was kept."
        )
    _look_into(folder / form.DATABASE, told)
    return told


def listed(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _names(folder: Path) -> set[str]:
    """Every file below a folder. A link, or anything else that is neither file nor folder, is refused."""
    found = set()

    def fail(error: OSError) -> None:
        raise error

    for where, folders, files in os.walk(folder, onerror=fail):
        for name in [*folders, *files]:
            path = Path(where, name)
            kind = path.lstat().st_mode
            told = path.relative_to(folder).as_posix()
            if stat.S_ISLNK(kind):
                raise KeepingRefused(f"{told} is a link. A backup has none; use another backup.")
            if stat.S_ISREG(kind):
                found.add(told)
            elif not stat.S_ISDIR(kind):
                raise KeepingRefused(f"{told} is neither a file nor a folder. Use another backup.")
            elif not any(path.iterdir()):
                found.add(told + "/")
    return found


def _compare_names(told: Manifest, found: set[str]) -> None:
    wanted = {kept.path for kept in told.files} | {form.NAME, form.SUMS}
    if lacking := sorted(wanted - found):
        raise KeepingRefused(f"Not in the backup any more: {listed(lacking)}. Use another backup.")
    if besides := sorted(found - wanted):
        raise KeepingRefused(
            f"In the backup there is what it does not name itself: {listed(besides)}. Take that out and try again."
        )


def _look_into(database: Path, told: Manifest) -> None:
    if fault := snapshot.damage(database):
        raise KeepingRefused(f"The database in the backup is damaged: {fault}. Use another backup.")
    facts = snapshot.facts(database)
    if (facts.migrations, facts.rows, facts.shop, facts.newest_sheet) != (
        told.migrations, told.rows, told.shop, told.newest_sheet,
    ):  # fmt: skip
        raise KeepingRefused(f"{form.NAME} does not tell of the database beside it. Use another backup.")
    known = set(told.faults)
    new = sorted({*loose(database), *unlike(facts.photos, told.files)} - known)
    if new:
        raise KeepingRefused(f"{new[0].sentence} The backup does not say so; use another one.")


def loose(database: Path) -> list[Fault]:
    """A fault for each table with references that lead nowhere."""
    return [Fault("reference", table, f"Table {table}") for table in snapshot.loose_references(database)]


def unlike(photos: tuple[snapshot.PhotoRow, ...], files: tuple[Kept, ...]) -> list[Fault]:
    """A fault for each photo of the database whose file is not there, or is another one."""
    kept = {each.path: each for each in files}
    faults = []
    for photo in photos:
        file = kept.get(form.PHOTOS + photo.path)
        if file is None:
            faults.append(Fault("missing", photo.path, photo.label))
        elif (file.size, file.sha256) != (photo.size, photo.sha256):
            faults.append(Fault("different", photo.path, photo.label))
    return faults
