"""Whether a book is sound, in words."""

from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from builds import database, health


@pytest.mark.django_db
def test_a_sound_book_says_so_and_says_which_journal_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("health")
    said = capsys.readouterr().out
    assert "This book is sound." in said
    assert "NOT WELL" not in said
    assert "journal, synchronous" in said
    assert "write-ahead reset fix" in said


@pytest.mark.django_db
def test_an_unguarded_book_is_named_and_exits_with_one(capsys: pytest.CaptureFixture[str]) -> None:
    with connection.cursor() as cursor:
        cursor.execute('DROP TRIGGER "builds_reading_no_update"')
    with pytest.raises(SystemExit, match="1"):
        call_command("health")
    said = capsys.readouterr().out
    assert "Not guarded in the database: builds_reading_no_update." in said
    assert "1 of" in said


@pytest.mark.django_db
def test_a_journal_other_than_chosen_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "journal_for", lambda version: ("WAL", "NORMAL"))
    journal = health.sqlite_mode()[0]
    assert not journal.well
    assert "It should be WAL, NORMAL" in journal.sentence


@pytest.mark.django_db
def test_a_reference_that_leads_nowhere_is_found() -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA defer_foreign_keys = ON")
        cursor.execute("INSERT INTO builds_engine (customer_id, name, serial, cylinders, mains, firing_order, note) "
                       "VALUES (4711, 'V8', '', 8, 5, '', '')")  # fmt: skip
        assert health.sqlite_content()[0].sentence == "References lead nowhere in: builds_engine."
        cursor.execute("DELETE FROM builds_engine")


def test_a_data_folder_that_cannot_be_written_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A file where the folder should be: unlike a missing right, that stops root too.
    (tmp_path / "book").write_text("")
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path / "book")
    finding = health.data_folder()
    assert not finding.well
    assert "cannot be written" in finding.sentence


def test_a_network_disk_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nnas:/book {tmp_path} nfs4 rw 0 0\n")
    assert health.file_system_of(tmp_path / "book", mounts) == "nfs4"
    assert health.file_system_of(tmp_path.parent, mounts) == "ext4"
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(health, "file_system_of", lambda folder: "nfs4")
    assert "lies on a network disk (nfs4)" in health.data_folder().sentence


@pytest.mark.django_db
def test_a_book_of_a_newer_version_is_not_touched() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO django_migrations (app, name, applied) VALUES ('builds', '9999_later', '2030-01-01')"
        )
    assert (
        health.migrations()[0].sentence
        == "This book was written by a newer Standbook (builds.9999_later). Start that one."
    )
