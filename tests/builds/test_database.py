"""Which journal a book gets, by the SQLite that Python is linked with.

The versions are from SQLite's own release notes for 3.51.3, 3.50.7 and 3.44.6 and its page on write-ahead
logging ("the WAL reset bug"), at second hand: as several projects quote them that moved to a fixed version.
"""

import sqlite3

import pytest
from django.db import connection

from builds import database


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False),  # Debian 12
        ((3, 44, 5), False),
        ((3, 44, 6), True),  # backport
        ((3, 45, 3), False),
        ((3, 46, 1), False),  # Debian 13
        ((3, 50, 6), False),
        ((3, 50, 7), True),  # backport
        ((3, 51, 0), False),
        ((3, 51, 2), False),
        ((3, 51, 3), True),  # the fix
        ((3, 52, 0), True),
        ((4, 0, 0), True),
    ],
)
def test_write_ahead_logging_only_where_its_reset_is_mended(
    version: tuple[int, int, int], safe: bool
) -> None:
    assert database.wal_is_safe(version) is safe
    assert database.journal_for(version) == (("WAL", "FULL") if safe else ("DELETE", "EXTRA"))


@pytest.mark.django_db
def test_the_connection_is_kept_as_chosen() -> None:
    journal, synchronous = database.journal_for(sqlite3.sqlite_version_info[:3])
    with connection.cursor() as cursor:
        answers = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers")
        }
    assert answers == {
        "journal_mode": journal.lower(),
        "synchronous": {"FULL": 2, "EXTRA": 3}[synchronous],
        "foreign_keys": 1,
        "recursive_triggers": 1,
    }


@pytest.mark.django_db(transaction=True)
def test_a_transaction_takes_the_write_lock_at_its_start() -> None:
    from django.db import transaction

    other = sqlite3.connect(connection.settings_dict["NAME"], timeout=0, isolation_level=None)
    try:
        with transaction.atomic():
            connection.ensure_connection()
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                other.execute("BEGIN IMMEDIATE")
    finally:
        other.close()
