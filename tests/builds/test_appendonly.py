"""A record may be added and read, and nothing else, whoever asks."""

import uuid
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction

from builds import appendonly
from builds.appendonly import RecordIsPermanent
from builds.models import Build, Customer, Engine, Person, Reading

pytestmark = pytest.mark.django_db


@pytest.fixture
def build(builder: Person) -> Build:
    """An open job."""
    engine = Engine.objects.create(customer=Customer.objects.create(name="Ketil Brandvold"), name="V8")
    return Build.objects.create(job_number="26-014", engine=engine, opened_by=builder)


@pytest.fixture
def reading(build: Build, builder: Person) -> Reading:
    """A reading that stands on disk."""
    return Reading.objects.create(
        build=build,
        position="1E",
        characteristic="gap",
        text="0.024",
        unit="in",
        value="0.024",
        taken_by=builder,
    )


def refused() -> Any:
    """The database itself refuses; the savepoint lets the test go on."""
    return pytest.raises(DatabaseError, match="never changed or deleted")


def test_the_orm_refuses_to_change_a_reading(reading: Reading) -> None:
    reading.text = "0.042"
    with pytest.raises(RecordIsPermanent, match="add a correction"):
        reading.save()


def test_the_orm_refuses_to_delete_a_reading(reading: Reading) -> None:
    with pytest.raises(RecordIsPermanent, match="never deleted"):
        reading.delete()


@pytest.mark.parametrize("act", ["update", "delete", "bulk_update"])
def test_query_sets_refuse(reading: Reading, act: str) -> None:
    acts = {
        "update": lambda: Reading.objects.update(text="0.042"),
        "delete": lambda: Reading.objects.all().delete(),
        "bulk_update": lambda: Reading.objects.bulk_update([reading], ["text"]),
    }
    with pytest.raises(RecordIsPermanent):
        acts[act]()


def test_a_plain_query_set_is_stopped_by_the_database(reading: Reading) -> None:
    with refused(), transaction.atomic():
        models.QuerySet(Reading).update(text="0.042")
    with refused(), transaction.atomic():
        models.QuerySet(Reading).filter(pk=reading.pk)._raw_delete("default")


def test_an_upsert_is_stopped_by_the_database(reading: Reading) -> None:
    twin = Reading(
        client_id=reading.client_id, build=reading.build, position="1E", characteristic="gap", text="0.042",
        unit="in", value="0.042", taken_by=reading.taken_by,
    )  # fmt: skip
    with refused(), transaction.atomic():
        Reading.objects.bulk_create(
            [twin], update_conflicts=True, unique_fields=["client_id"], update_fields=["text", "value"]
        )


def insert_or_replace(table: str) -> str:
    """SQL that writes a row over itself, with all its columns."""
    return f'INSERT OR REPLACE INTO "{table}" SELECT * FROM "{table}"'


@pytest.mark.parametrize(
    "sql", ["UPDATE {table} SET text = 'x'", "DELETE FROM {table}", insert_or_replace("{table}")]
)
def test_sql_is_stopped_by_the_database(reading: Reading, sql: str) -> None:
    before = list(Reading.objects.values())
    with refused(), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql.format(table="builds_reading"))
    assert list(Reading.objects.values()) == before


def test_another_program_that_opens_the_file_is_stopped_too() -> None:
    # The guard is in the file, not in this program: the trigger's own text is what any program runs into.
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        found = dict(cursor.fetchall())
    assert {"builds_reading", "builds_photo", "builds_photofiling"} <= set(appendonly.append_only_tables())
    for table in appendonly.append_only_tables():
        assert "BEFORE UPDATE" in found[f"{table}_no_update"]
        assert "BEFORE DELETE" in found[f"{table}_no_delete"]


@pytest.mark.parametrize("event", ["update", "delete"])
def test_every_append_only_table_is_guarded(event: str) -> None:
    """One row in each table, whatever its columns: foreign keys and checks step aside for that."""
    for model in append_only_models():
        with refused(), transaction.atomic(), connection.cursor() as cursor:
            put_one_row_into(model, cursor)
            table, key = model._meta.db_table, model._meta.pk.column
            sql = f'UPDATE "{table}" SET "{key}" = "{key}"' if event == "update" else f'DELETE FROM "{table}"'
            cursor.execute(sql)


def append_only_models() -> list[type[models.Model]]:
    """Every model that may only grow."""
    from django.apps import apps

    return [model for model in apps.get_models() if issubclass(model, appendonly.AppendOnly)]


def put_one_row_into(model: type[models.Model], cursor: Any) -> None:
    """Insert a row of harmless values, straight into the table."""
    values = {}
    for field in model._meta.local_fields:
        if isinstance(field, models.UUIDField):
            values[field.column] = uuid.uuid4().hex
        elif field.primary_key:
            values[field.column] = 10**6  # beside the rows that are there
        elif isinstance(field, models.JSONField):
            values[field.column] = "{}"
        elif isinstance(field, models.DateTimeField | models.DateField):
            values[field.column] = "2026-03-02 09:00:00"
        elif isinstance(field, models.OneToOneField) and field.null:
            values[field.column] = None
        else:
            values[field.column] = 1
    cursor.execute("PRAGMA ignore_check_constraints = ON")
    columns = ", ".join(f'"{column}"' for column in values)
    marks = ", ".join(["%s"] * len(values))
    cursor.execute(
        f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES ({marks})', list(values.values())
    )


def test_missing_names_what_is_lacking() -> None:
    assert appendonly.missing() == []
    with connection.cursor() as cursor:
        cursor.execute('DROP TRIGGER "builds_reading_no_delete"')
    assert appendonly.missing() == ["builds_reading_no_delete"]


@pytest.mark.django_db(transaction=True)
def test_a_rebuilt_table_has_its_triggers_back_after_migrate(reading: Reading) -> None:
    field = Reading._meta.get_field("note")
    longer = field.clone()
    longer.max_length = 300
    longer.set_attributes_from_name("note")
    longer.model = Reading
    with connection.schema_editor() as editor:
        editor._remake_table(
            Reading, alter_fields=[(field, longer)]
        )  # as a migration that alters a field does
    assert appendonly.missing() == ["builds_reading_no_update", "builds_reading_no_delete"]
    call_command("migrate", verbosity=0)
    assert appendonly.missing() == []
    with refused(), transaction.atomic():
        models.QuerySet(Reading).update(text="0.042")


@pytest.mark.django_db(transaction=True)
def test_a_test_that_commits_starts_on_an_empty_book(builder: Person) -> None:
    assert Reading.objects.count() == 0
    assert appendonly.missing() == []
