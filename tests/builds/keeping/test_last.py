"""When the book was last backed up, on the shop's page and in its check-up."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from builds.keeping import last
from tests.builds.keeping.conftest import NOON


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of the book."""
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    return tmp_path


def test_a_book_that_was_never_backed_up_says_so(data: Path) -> None:
    told = last.look(NOON)
    assert told.due
    assert told.sentence.startswith("No backup of this book lies anywhere else yet. manage.py backup FOLDER")


@pytest.mark.parametrize(
    ("days", "faults", "due", "words"),
    [
        (6, 0, False, "Last made 25 Nov 2026 12:30, in /media/stick/x."),
        (7, 0, True, "That is 7 days ago: make another."),
        (1, 2, True, "2 of the book's files or tables were not well then"),
        (-3, 0, True, "That is in the future: is this machine's clock right?"),
    ],
)
def test_its_age_is_told(data: Path, days: int, faults: int, due: bool, words: str) -> None:
    last.note(data, NOON, Path("/media/stick/x"), faults)
    told = last.look(NOON + timedelta(days=days))
    assert (told.due, words in told.sentence) == (due, True)
    assert [path.name for path in data.iterdir()] == [last.NAME]


@pytest.mark.parametrize(
    "text", ["", "[]", "null", "{}", '{"made_at": 1, "folder": "", "faults": 0}', '{"made_at": "2026-11-25"}', "\udcff",
             '{"made_at": "2026-11-25T12:30:15", "folder": "", "faults": 0}', "[" * 100_000],
)  # fmt: skip
def test_a_note_that_was_written_over_is_said_in_words(data: Path, text: str) -> None:
    (data / last.NAME).write_bytes(text.encode(errors="surrogateescape"))
    assert last.look(NOON).sentence.startswith("When the last backup was made cannot be read.")


@pytest.mark.django_db
def test_the_check_up_notes_it_and_still_calls_the_book_sound(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("health")
    said = capsys.readouterr().out
    assert "note      backup" in said
    assert "This book is sound." in said


def test_the_shops_page_says_it(data: Path, bench_client: Client) -> None:
    assert "No backup of this book lies anywhere else yet." in bench_client.get(reverse("shop")).text
