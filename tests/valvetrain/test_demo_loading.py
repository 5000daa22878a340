"""Loading the invented shop: once, never over a real book, and whole or not at all."""

from pathlib import Path

import pytest
from django.core.management import call_command

from builds.models import Build, Customer, Person, Photo, Reading
from valvetrain import demo
from valvetrain.models import FittedPack

pytestmark = pytest.mark.django_db


def files_in(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_it_is_loaded_once_and_says_nothing(photo_folder: Path, capsys: pytest.CaptureFixture[str]):
    call_command("load_demo")
    before = [model.objects.count() for model in (Person, Build, Reading, FittedPack, Photo)]
    files = files_in(photo_folder)

    call_command("load_demo")

    assert before == [model.objects.count() for model in (Person, Build, Reading, FittedPack, Photo)]
    # The file itself, and two smaller pictures of it.
    assert len(files) == 3 * Photo.objects.count()
    assert files_in(photo_folder) == files
    assert capsys.readouterr().out == ""


def test_a_book_that_has_people_is_left_alone(builder: Person, photo_folder: Path):
    assert not demo.load()
    assert not Customer.objects.exists()
    assert files_in(photo_folder) == []


def test_a_loading_that_fails_leaves_neither_rows_nor_files(photo_folder: Path, monkeypatch):
    def fail(*_anything: object) -> None:
        assert files_in(photo_folder)
        raise RuntimeError("the disk went away")

    monkeypatch.setattr(demo, "_close", fail)
    with pytest.raises(RuntimeError, match="the disk went away"):
        demo.load()
    assert files_in(photo_folder) == []
    assert not Photo.objects.exists()
    assert not Person.objects.exists()
