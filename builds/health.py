"""Whether this book is sound, in words: what `manage.py health` prints, and what a start looks at first."""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from builds import appendonly, database, editions, setting_up
from builds.keeping import last, nights
from builds.photos import checkup

ROOM_NEEDED = 500 * 1024**2
NETWORK_FILE_SYSTEMS = {
    "nfs",
    "nfs4",
    "cifs",
    "smb3",
    "smbfs",
    "ncpfs",
    "afs",
    "9p",
    "ceph",
    "glusterfs",
    "fuse.sshfs",
}


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at: what, whether it is well, and a sentence.

    A `note` is well and still asks for something; it stops no start.
    """

    what: str
    well: bool
    sentence: str
    note: bool = False


def look(*, thorough: bool = True) -> list[Finding]:
    """Look at everything. `thorough` also reads the whole database, which takes time in a big book."""
    findings = [data_folder(), room(), *migrations(), triggers(), pdf_libraries(), nightly(), backups()]
    if connection.vendor == "sqlite":
        findings += sqlite_mode()
        if thorough:
            findings += sqlite_content()
    if thorough:
        findings.append(photos())
    return findings


def data_folder() -> Finding:
    """The folder that holds the book: there, writable, and on a disk of this machine."""
    folder = Path(settings.DATA_DIR)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # Asking for the right to write is not enough: a read-only disk says yes to root.
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        return Finding("data folder", False, f"{folder} cannot be written: {error.strerror or error}.")
    kind = file_system_of(folder)
    if connection.vendor == "sqlite" and kind in NETWORK_FILE_SYSTEMS:
        return Finding(
            "data folder",
            False,
            f"{folder} lies on a network disk ({kind}), whose locks SQLite cannot rely on. Keep the book on "
            "a disk of this machine (STANDBOOK_DATA) and the backups on the network.",
        )
    return Finding("data folder", True, f"{folder} can be written.")


def file_system_of(folder: Path, mounts: Path = Path("/proc/mounts")) -> str:
    """The kind of file system under a folder, as Linux names it; empty where that is not told."""
    try:
        lines = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    where = str(folder.resolve())
    best, kind = "", ""
    for line in lines:
        fields = line.split(" ")
        # Spaces in a mount point are written as octal 040.
        point = fields[1].replace("\\040", " ")
        inside = where == point or where.startswith(point.rstrip("/") + "/")
        if inside and len(point) >= len(best):
            best, kind = point, fields[2]
    return kind


def room() -> Finding:
    """Space left on the disk of the book."""
    try:
        free = shutil.disk_usage(settings.DATA_DIR).free
    except OSError as error:
        return Finding(
            "room on disk", False, f"The disk does not say how much room is left: {error.strerror}."
        )
    sentence = f"{free / 1024**3:.1f} GB left."
    if free < ROOM_NEEDED:
        sentence += " Make room: a full disk takes no readings."
    return Finding("room on disk", free >= ROOM_NEEDED, sentence)


def migrations() -> list[Finding]:
    """Whether the tables are those that this version expects."""
    try:
        executor = MigrationExecutor(connection)
        pending = [str(step) for step, _ in executor.migration_plan(executor.loader.graph.leaf_nodes())]
        ahead = sorted(
            f"{app}.{name}"
            for app, name in set(executor.loader.applied_migrations) - set(executor.loader.disk_migrations)
            if app in {config for config, _ in executor.loader.disk_migrations}
        )
    except DatabaseError as error:
        return [
            Finding(
                "tables",
                False,
                f"The database cannot be read: {error}. Put back the latest good copy of the data folder.",
            )
        ]
    if ahead:
        return [
            Finding(
                "tables",
                False,
                f"This book was written by a newer Standbook ({', '.join(ahead)}). Start that one.",
            )
        ]
    if pending:
        return [
            Finding(
                "tables",
                False,
                f"{len(pending)} changes wait: `manage.py migrate` makes them, and so does a start.",
            )
        ]
    return [Finding("tables", True, "As this version expects them.")]


def triggers() -> Finding:
    """Whether the database itself guards the append-only tables, and tells of changes to what is kept in memory."""
    try:
        lacking = appendonly.missing() + appendonly.missing(editions.names())
    except DatabaseError as error:
        return Finding("append-only", False, f"The database cannot be read: {error}.")
    if lacking:
        return Finding(
            "append-only",
            False,
            f"Not guarded in the database: {', '.join(lacking)}. `manage.py migrate` puts them back.",
        )
    return Finding(
        "append-only", True, f"{', '.join(appendonly.append_only_tables())} are guarded in the database."
    )


def pdf_libraries() -> Finding:
    """The system's text libraries, without which no sheet can be printed."""
    lacking = setting_up.missing_packages()
    if lacking:
        return Finding(
            "sheets", False, f"No sheet can be printed: sudo apt-get install -y {' '.join(lacking)}"
        )
    return Finding("sheets", True, "The text libraries are there.")


def backups() -> Finding:
    """When the book was last backed up. An old backup is a note: it is no reason to keep the book closed."""
    found = last.look()
    return Finding("backup", True, found.sentence, note=found.due)


def nightly() -> Finding:
    """What the book does by itself at night. What went wrong is a note; a setting that cannot be read is more."""
    found = nights.look()
    return Finding(
        "nightly", not found.wrong, " ".join([found.sentence, *found.warnings]), note=bool(found.warnings)
    )


def pragma(name: str) -> object:
    """The answer to one of SQLite's pragmas."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {name}")
        return cursor.fetchone()[0]


def sqlite_mode() -> list[Finding]:
    """Journal, durability and guards of this connection, and why they are what they are."""
    version = sqlite3.sqlite_version_info[:3]
    journal, synchronous = database.journal_for(version)
    why = (
        "has the write-ahead reset fix"
        if database.wal_is_safe(version)
        else "is older than the write-ahead reset fix (3.51.3; also in 3.50.7 and 3.44.6)"
    )
    try:
        found = str(pragma("journal_mode")).upper()
        durability = ["OFF", "NORMAL", "FULL", "EXTRA"][int(str(pragma("synchronous")))]
        guards = {name: pragma(name) == 1 for name in ("foreign_keys", "recursive_triggers")}
    except DatabaseError as error:
        return [
            Finding(
                "journal",
                False,
                f"The database cannot be read: {error}. Put back the latest good copy of the data folder.",
            )
        ]
    # A database in memory, as in tests, keeps its journal there whatever it is asked.
    as_wanted = found in (journal, "MEMORY") and durability == synchronous
    sentence = f"SQLite {sqlite3.sqlite_version} {why}: {found} journal, synchronous {durability}."
    if not as_wanted:
        sentence += f" It should be {journal}, {synchronous}: is another program holding the file open?"
    return [
        Finding("journal", as_wanted, sentence),
        *(
            Finding(name, on, "On." if on else "Off: the book's rules are not kept.")
            for name, on in guards.items()
        ),
    ]


def sqlite_content() -> list[Finding]:
    """Read the whole file: every page sound, every reference leading somewhere."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            faults = [row[0] for row in cursor.fetchall()]
            cursor.execute("PRAGMA foreign_key_check")
            orphans = {row[0] for row in cursor.fetchall()}
    except DatabaseError as error:
        return [
            Finding(
                "integrity",
                False,
                f"The file is damaged: {error}. Put back the latest good copy of the data folder.",
            )
        ]
    if faults != ["ok"]:
        return [
            Finding(
                "integrity",
                False,
                f"The file is damaged: {'; '.join(faults[:3])}. Put back the latest good copy of the data folder.",
            )
        ]
    if orphans:
        return [Finding("integrity", False, f"References lead nowhere in: {', '.join(sorted(orphans))}.")]
    return [Finding("integrity", True, "Every page of the file is sound, every reference leads somewhere.")]


def photos() -> Finding:
    """Whether the files of photos are what they were, of the newest and of some others."""
    try:
        wrong, strays = checkup.faults(), len(checkup.strays())
    except (DatabaseError, OSError) as error:
        return Finding("photos", False, f"The photos cannot be looked at: {error}.")
    if wrong:
        return Finding(
            "photos",
            False,
            f"Not as they were kept: {', '.join(wrong[:3])}{' …' if len(wrong) > 3 else ''}. Put the files back from the "
            "latest good copy of the data folder.",
        )
    sentence = "Those looked at are as they were kept."
    if strays:
        sentence += f" Files of no photo, left by a cut while saving: {strays}; they do no harm."
    return Finding("photos", True, sentence)


def unwell(findings: Iterable[Finding]) -> list[Finding]:
    """Those that need somebody."""
    return [finding for finding in findings if not finding.well]
