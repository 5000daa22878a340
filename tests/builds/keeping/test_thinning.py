"""Which of the book's own backups go, and all that stays."""

import json
from datetime import timedelta
from pathlib import Path

import pytest

from builds.keeping import backup, nights, thinning
from builds.keeping import manifest as form
from builds.keeping.book import Book
from builds.keeping.nights import KEPT, Automatic
from tests.builds.keeping import scene
from tests.builds.keeping.conftest import NOON


def row(sound: str) -> list[Automatic]:
    """Backups in the order of making: `s` of a sound night, `u` of another."""
    return [Automatic(f"/b/{number}", str(number), each == "s") for number, each in enumerate(sound)]


@pytest.mark.parametrize(
    ("nights_of", "go"),
    [
        # hand-worked: fourteen stay
        ("s" * 14, 0),
        ("s" * 15, 1),
        ("s" * 20, 6),
        ("u" * 16, 2),  # none was ever sound: there is no last sound one to keep
        ("s" + "u" * 20, 0),  # the last sound one, and so all that are younger
        ("sss" + "u" * 14, 2),
        ("u" * 6 + "s" * 14, 6),
        ("s" * 5 + "u" * 20 + "s", 12),
        ("", 0),
    ],
)
def test_the_oldest_go_and_never_the_last_sound_one(nights_of: str, go: int) -> None:
    made = row(nights_of)
    assert thinning.surplus(made) == made[:go]


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two stay."""
    monkeypatch.setattr(thinning, "KEPT", 2)


def backed_up(book: Book, where: Path, count: int, *, back: bool = False) -> tuple[Automatic, ...]:
    """Some nights, all sound; `back`: each with a clock that stands a day before the last."""
    found = []
    for number in range(count):
        now = NOON + timedelta(days=-number if back else number)
        folder = backup.make(book, where, now=now, nightly=True).folder
        found.append(Automatic(str(folder), thinning.digest(folder), True))
    return tuple(found)


def names(where: Path) -> list[str]:
    return sorted(path.name for path in where.iterdir())


def test_what_a_person_made_stays_and_the_book_names_its_own(book: Book, stick: Path, few: None) -> None:
    made = backed_up(book, stick, 3)
    backup.make(book, stick, now=NOON)
    gone, notes = thinning.thin(book, stick, made)
    assert (gone, notes) == ({made[0]}, [])
    assert names(stick) == [
        "standbook-2026-11-01T1200",
        "standbook-2026-11-25T1230",
        "standbook-2026-11-26T1230-nightly",
        "standbook-2026-11-27T1230-nightly",
    ]


def test_the_order_of_making_counts_and_not_the_clock(book: Book, stick: Path, few: None) -> None:
    made = backed_up(book, stick, 3, back=True)
    assert thinning.thin(book, stick, made)[0] == {made[0]}
    assert names(stick)[1:] == ["standbook-2026-11-23T1230-nightly", "standbook-2026-11-24T1230-nightly"]


@pytest.mark.parametrize("what", ["renamed", "rewritten", "linked", "elsewhere", "forgotten"])
def test_one_that_is_not_as_it_was_made_is_nobodys_to_take(
    book: Book, stick: Path, few: None, what: str
) -> None:
    made = backed_up(book, stick, 3)
    oldest = Path(made[0].folder)
    if what == "renamed":
        oldest.rename(stick / "standbook-before-the-fair")
    elif what == "rewritten":
        scene.seal_again(oldest, shop="Another")
    elif what == "linked":
        oldest.rename(stick.parent / "moved")
        oldest.symlink_to(stick.parent / "moved")
    elif what == "elsewhere":
        made = (
            Automatic(str(scene.copied(oldest, stick.parent / oldest.name)), made[0].digest, True),
            *made[1:],
        )
    else:
        made = made[1:]
    before = names(stick)
    assert thinning.thin(book, stick, made) == (set(), [])
    assert names(stick) == before


@pytest.mark.parametrize("what", ["note", "rot"])
def test_one_that_is_not_whole_stays_and_is_named(book: Book, stick: Path, few: None, what: str) -> None:
    made = backed_up(book, stick, 4)
    oldest = Path(made[0].folder)
    path = oldest / ("keep this one.txt" if what == "note" else form.DATABASE)
    path.write_text("because of the fair")
    gone, notes = thinning.thin(book, stick, made)
    assert gone == {made[1]}
    assert oldest.exists()
    assert notes[0].startswith(f"The old backup {oldest} is not whole, so it was left where it is: ")


def test_one_that_cannot_be_taken_away_is_named(
    book: Book, stick: Path, few: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = backed_up(book, stick, 3)

    def fail(*_: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(Path, "rename", fail)
    gone, notes = thinning.thin(book, stick, made)
    assert gone == set()
    assert notes == [f"The old backup {made[0].folder} could not be taken away: Read-only file system."]


def test_one_half_taken_away_is_no_backup_and_is_cleared_by_the_next(
    book: Book, stick: Path, few: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = backed_up(book, stick, 3)
    with monkeypatch.context() as patch:
        patch.setattr(thinning.shutil, "rmtree", lambda path: (path / form.DATABASE).unlink())
        thinning.thin(book, stick, made)
    assert [name for name in names(stick) if name.startswith("unfinished-")]
    backup.make(book, stick, now=NOON)
    assert not [name for name in names(stick) if name.startswith("unfinished-")]


def test_what_the_book_remembers_is_read_as_written(tmp_path: Path, settings: object) -> None:
    settings.DATA_DIR = tmp_path  # type: ignore[attr-defined]
    night = nights.Night("2026-11-25T03:30:00+00:00", "", 2, ("a note",), tuple(row("su")))
    nights.keep(night)
    assert nights.read() == night
    assert [path.name for path in tmp_path.iterdir()] == [nights.NAME]
    nights.keep(nights.Night(made=tuple(row("s" * 500))))
    assert len(nights.read().made) == nights.MOST_KNOWN > KEPT


@pytest.mark.parametrize(
    "change", [{"done": "yesterday"}, {"done": "2026-11-25T03:30:00"}, {"made": 3}, {"faults": "x"}]
)
def test_a_note_that_was_spoilt_remembers_nothing(
    tmp_path: Path, settings: object, change: dict[str, object]
) -> None:
    settings.DATA_DIR = tmp_path  # type: ignore[attr-defined]
    nights.keep(nights.Night("2026-11-25T03:30:00+00:00", "", 2, (), tuple(row("su"))))
    path = tmp_path / nights.NAME
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    assert nights.read() == nights.Night()
    path.write_text("[" * 100_000)
    assert nights.read() == nights.Night()
