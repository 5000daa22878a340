"""Loading the invented shop: once, never over a real book, and whole or not at all."""

from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from builds.models import (
    Authority,
    Build,
    Customer,
    Person,
    Photo,
    Reading,
    Signature,
    SignerCertificate,
)
from builds.sealing import authority
from valvetrain import demo, demo_seals
from valvetrain.models import FittedPack

pytestmark = pytest.mark.django_db


def files_in(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


@pytest.fixture(autouse=True)
def data(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own, for the passphrase."""
    settings.DATA_DIR, settings.SIGNING_PASSPHRASE = tmp_path / "data", ""
    settings.DATA_DIR.mkdir()
    monkeypatch.setitem(authority.SCRYPT, "n", 2**10)
    return settings.DATA_DIR


def test_it_is_loaded_once_and_says_nothing(
    photo_folder: Path, data: Path, capsys: pytest.CaptureFixture[str]
):
    call_command("load_demo")
    before = [model.objects.count() for model in (Person, Build, Reading, FittedPack, Photo)]
    files = files_in(photo_folder)

    call_command("load_demo")

    assert before == [model.objects.count() for model in (Person, Build, Reading, FittedPack, Photo)]
    # The file itself, and two smaller pictures of it.
    assert len(files) == 3 * Photo.objects.count()
    assert files_in(photo_folder) == files
    assert capsys.readouterr().out == ""
    assert (data / "signing-passphrase").stat().st_mode & 0o777 == 0o600


def test_a_book_that_has_people_is_left_alone(builder: Person, photo_folder: Path):
    assert not demo.load()
    assert not Customer.objects.exists()
    assert files_in(photo_folder) == []


def test_a_loading_that_fails_leaves_neither_rows_nor_files(photo_folder: Path, data: Path, monkeypatch):
    # At the second signature under the first sheet: by then there are photos, an authority, a key and its passphrase.
    def fail(*_anything: object, **_more: object) -> None:
        assert files_in(photo_folder)
        assert files_in(data)
        assert Signature.objects.count() == SignerCertificate.objects.count() == 1
        raise RuntimeError("the disk went away")

    monkeypatch.setattr(demo_seals.service, "seal", fail)
    with pytest.raises(RuntimeError, match="the disk went away"):
        demo.load()
    assert files_in(photo_folder) == files_in(data) == []
    assert not Authority.objects.exists()
    assert not Photo.objects.exists()
    assert not Person.objects.exists()
