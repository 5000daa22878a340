"""Tables that only ever grow: the rule is kept by the model, and by triggers in the database itself.

A model that inherits `AppendOnly` can be inserted and read. UPDATE and DELETE fail in the database, whoever
asks: the ORM, the shell, another program with the file open. SQLite drops a table's triggers whenever Django rebuilds
the table, so they are put back after every migrate and looked for at every start.
"""

from typing import Any, TypeVar

from django.apps import apps
from django.db import connection, models

_Record = TypeVar("_Record", bound=models.Model, covariant=True)


class RecordIsPermanent(Exception):
    """Somebody tried to change or delete a record that may only be added to."""


class AppendOnlyQuerySet(models.QuerySet[_Record]):
    """A query set that refuses every way of changing what is written."""

    def update(self, **kwargs: Any) -> int:
        raise RecordIsPermanent("A record is never changed: add a correction that names it.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise RecordIsPermanent("A record is never deleted: add a correction that names it.")

    def bulk_update(self, *args: Any, **kwargs: Any) -> int:
        raise RecordIsPermanent("A record is never changed: add a correction that names it.")


class AppendOnly(models.Model):
    """Base of the records that may be added and read, and nothing else."""

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Insert this record; refuse if it is already written."""
        if not self._state.adding:
            raise RecordIsPermanent("A record is never changed: add a correction that names it.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """Refuse."""
        raise RecordIsPermanent("A record is never deleted: add a correction that names it.")


def append_only_tables() -> list[str]:
    """Names of the database tables that may only grow."""
    return sorted(model._meta.db_table for model in apps.get_models() if issubclass(model, AppendOnly))


def _names(table: str) -> tuple[str, str]:
    return f"{table}_no_update", f"{table}_no_delete"


def install(tables: list[str] | None = None) -> None:
    """Put the triggers on every append-only table that exists; harmless when they are there already."""
    existing = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION standbook_permanent() RETURNS trigger AS $$ BEGIN "
                "RAISE EXCEPTION 'a record in % is never changed or deleted', TG_TABLE_NAME; "
                "END $$ LANGUAGE plpgsql"
            )
        for table in append_only_tables() if tables is None else tables:
            if table in existing:
                _install_on(cursor, table)


def _install_on(cursor: Any, table: str) -> None:
    for name, event in zip(_names(table), ("UPDATE", "DELETE"), strict=True):
        if connection.vendor == "postgresql":
            cursor.execute(f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"')
            scope = "UPDATE" if event == "UPDATE" else "DELETE OR TRUNCATE"
            cursor.execute(
                f'CREATE TRIGGER "{name}" BEFORE {scope} ON "{table}" '
                "FOR EACH STATEMENT EXECUTE FUNCTION standbook_permanent()"
            )
        else:
            cursor.execute(
                f'CREATE TRIGGER IF NOT EXISTS "{name}" BEFORE {event} ON "{table}" '
                f"BEGIN SELECT RAISE(ABORT, 'a record in {table} is never changed or deleted'); END"
            )


def remove() -> None:
    """Lift the triggers. Only for emptying a test database."""
    with connection.cursor() as cursor:
        for table in append_only_tables():
            for name in _names(table):
                on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def missing(wanted: list[str] | None = None) -> list[str]:
    """Names of triggers that should be in the database and are not; the append-only ones when none are given."""
    if wanted is None:
        wanted = [name for table in append_only_tables() for name in _names(table)]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        present = {row[0] for row in cursor.fetchall()}
    return [name for name in wanted if name not in present]
