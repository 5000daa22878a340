"""A token for the present state of the slowly changing records: heads, rockers, cam cards, gauges, limits.

What a stand is judged by is read at every saved reading and written a few times a year. A process may keep what it
has read for as long as the token stays the same. The database changes the token in triggers on every watched
table, so no way of writing gets around it: the ORM, `update()`, a loaded fixture, the shell. The token is random, so that
neither a rolled back change nor a restored book ever meets something kept under the same one.
"""

from typing import Any

from django.db import connection, models

from builds.models import Edition

# Other floors add theirs in AppConfig.ready().
watched_models: list[type[models.Model]] = []

EVENTS = ("INSERT", "UPDATE", "DELETE")
_CHANGE = (
    "INSERT INTO builds_edition (id, token) VALUES (1, {token}) "
    "ON CONFLICT (id) DO UPDATE SET token = excluded.token"
)


def current() -> str:
    """The token now; empty before anything watched was ever written, when nothing may be kept."""
    return Edition.objects.values_list("token", flat=True).first() or ""


def _names(table: str) -> list[str]:
    return [f"{table}_edition_{event.lower()}" for event in EVENTS]


def _tables() -> list[str]:
    return [model._meta.db_table for model in watched_models]


def install() -> None:
    """Put the triggers on every watched table that exists; harmless when they are there already."""
    existing = set(connection.introspection.table_names())
    if Edition._meta.db_table not in existing:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION standbook_edition() RETURNS trigger AS $$ BEGIN "
                + _CHANGE.format(token="md5(random()::text || clock_timestamp()::text)")
                + "; RETURN NULL; END $$ LANGUAGE plpgsql"
            )
        for table in _tables():
            if table in existing:
                _install_on(cursor, table)


def _install_on(cursor: Any, table: str) -> None:
    for name, event in zip(_names(table), EVENTS, strict=True):
        if connection.vendor == "postgresql":
            cursor.execute(f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"')
            cursor.execute(
                f'CREATE TRIGGER "{name}" AFTER {event} ON "{table}" '
                "FOR EACH STATEMENT EXECUTE FUNCTION standbook_edition()"
            )
        else:
            change = _CHANGE.format(token="hex(randomblob(16))")
            cursor.execute(
                f'CREATE TRIGGER IF NOT EXISTS "{name}" AFTER {event} ON "{table}" BEGIN {change}; END'
            )


def names() -> list[str]:
    """Names of all the triggers that should be in the database."""
    return [name for table in _tables() for name in _names(table)]
