"""A backup with any harm to it is refused before anything is written: by accident, and by somebody who knows how."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from builds.keeping import manifest as form
from builds.keeping import restore
from builds.keeping.book import Book
from tests.builds.keeping import scene
from tests.builds.keeping.test_restore import refused


def flipped(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def shortened(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1])


def lengthened(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"\n")


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def removed(path: Path) -> None:
    path.unlink()


def linked(path: Path) -> None:
    """The same content, but elsewhere: it could be changed after it was looked at."""
    path.rename(path.parent.parent / "elsewhere")
    path.symlink_to(path.parent.parent / "elsewhere")


def piped(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


@pytest.mark.parametrize("harm", [flipped, shortened, lengthened, emptied, removed, linked, piped])
def test_harm_to_any_file_is_found_and_named(
    written_backup: Path, tmp_path: Path, target: Book, harm: Callable[[Path], None]
) -> None:
    """Each file of the backup in turn, the manifest and its digests among them."""
    names = list(scene.everything_in(written_backup))
    assert len(names) == 8
    for number, name in enumerate(names):
        folder = scene.copied(written_backup, tmp_path / f"{number}" / "backup")
        harm(folder / name)
        refused(target, folder, Path(name).name.replace(".", r"\."))


@pytest.mark.parametrize("name", ["note.txt", "photos/00/more.jpg", "photos/.DS_Store", ".hidden"])
def test_what_the_manifest_does_not_name_is_refused(kept: Path, target: Book, name: str) -> None:
    (kept / name).parent.mkdir(parents=True, exist_ok=True)
    (kept / name).write_bytes(b"more")
    refused(target, kept, f"what it does not name itself: {name}. Take that out")


def test_an_empty_folder_too_many_is_refused(kept: Path, target: Book) -> None:
    (kept / "photos" / "zz").mkdir()
    refused(target, kept, "what it does not name itself: photos/zz/")


def test_a_linked_folder_is_refused(kept: Path, target: Book, tmp_path: Path) -> None:
    (kept / "photos").rename(tmp_path / "photos elsewhere")
    (kept / "photos").symlink_to(tmp_path / "photos elsewhere")
    refused(target, kept, "photos is a link")


def test_a_photo_left_out_by_one_who_knows_how_is_missed(kept: Path, target: Book) -> None:
    path = scene.told(kept).photos[0].path
    (kept / path).unlink()
    (kept / path).parent.rmdir()
    scene.seal_again(kept)
    refused(target, kept, r"Photo mark\.\w+ of job .* cannot be read .* The backup does not say so")


def test_a_photo_changed_by_one_who_knows_how_is_found(kept: Path, target: Book) -> None:
    flipped(kept / scene.told(kept).photos[0].path)
    scene.seal_again(kept)
    refused(target, kept, r"Photo mark\.\w+ of job .* has changed .* The backup does not say so")


@pytest.mark.parametrize(
    "more",
    [{"rows": {}}, {"migrations": {}}, {"shop": "Another"}, {"newest_sheet": None}],
    ids=lambda more: next(iter(more)),
)
def test_a_manifest_that_tells_of_another_database_is_refused(
    kept: Path, target: Book, more: dict[str, Any]
) -> None:
    scene.seal_again(kept, **more)
    refused(target, kept, "does not tell of the database beside it")


def test_a_damaged_database_is_refused(kept: Path, target: Book) -> None:
    with (kept / form.DATABASE).open("r+b") as file:
        file.seek(8192)
        file.write(b"\xff" * 8192)
    written = scene.told(kept)
    files = [scene.kept_file(kept, each.path) for each in written.files]
    scene.write_manifest(kept, form.Manifest(**{**vars(written), "files": tuple(files)}))
    refused(target, kept, "The database in the backup is damaged: ")


def test_references_that_lead_nowhere_are_refused_unless_the_book_had_them(kept: Path, target: Book) -> None:
    scene.alter(kept / form.DATABASE, "UPDATE builds_engine SET customer_id = 4711 WHERE id = 1")
    scene.seal_again(kept)
    refused(target, kept, "Table builds_engine holds references that lead nowhere")
    known = form.Fault("reference", "builds_engine", "Table builds_engine")
    scene.seal_again(kept, faults=(known,))
    assert restore.put_back(target, kept).manifest.faults == (known,)
