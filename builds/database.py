"""How this book keeps its SQLite file: chosen by the SQLite library that Python is linked with.

Write-ahead logging had a fault in which resetting the log at the wrong moment could damage the database; 3.51.3 is
named as the fix, with backports 3.44.6 and 3.50.7 (read at second hand, not in the release notes). Where the
linked library is older, the book uses the rollback journal with synchronous EXTRA, which is slower and safe.
`manage.py health` says which.
"""

import sqlite3

WAL_SAFE_FROM = (3, 51, 3)
WAL_BACKPORTS = {(3, 44): 6, (3, 50): 7}


def wal_is_safe(version: tuple[int, int, int]) -> bool:
    """Say whether write-ahead logging in this SQLite version has the reset fix."""
    if version >= WAL_SAFE_FROM:
        return True
    patch = WAL_BACKPORTS.get(version[:2])
    return patch is not None and version[2] >= patch


def journal_for(version: tuple[int, int, int]) -> tuple[str, str]:
    """Return (journal_mode, synchronous) for a SQLite version: always one that survives a power cut."""
    return ("WAL", "FULL") if wal_is_safe(version) else ("DELETE", "EXTRA")


def sqlite_options() -> dict[str, object]:
    """Options for Django's SQLite backend, with foreign keys and triggers that REPLACE cannot get around."""
    journal, synchronous = journal_for(sqlite3.sqlite_version_info)
    return {
        "timeout": 20,
        # Taking the write lock at the start means a busy book waits its turn instead of failing half-way.
        "transaction_mode": "IMMEDIATE",
        "init_command": (
            f"PRAGMA journal_mode={journal}; PRAGMA synchronous={synchronous}; PRAGMA recursive_triggers=ON;"
        ),
    }
