"""The people, the job and the kind that the tests of sealing share, as a fixture to import."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from builds.models import Build, Customer, Engine, Person, SealedSheet, Signing
from builds.sealing import authority
from tests.builds import a_sheet
from tests.builds.a_sheet import NOON, TestKind


@dataclass
class Scene:
    """A job with two readings, who measured, who checks, and the kind of its sheet."""

    job: Build
    tech: Person
    checker: Person
    kind: TestKind
    data: Path

    def put_up(self, **other: Any) -> Signing:
        """The sheet, put up by who measured."""
        return a_sheet.put_up(self.job, self.tech, **other)

    def signed(self, **other: Any) -> Signing:
        """The sheet, signed once."""
        signing = self.put_up(**other)
        a_sheet.sign(signing, self.tech, other.get("at", NOON))
        return signing

    def seal(self, **other: Any) -> SealedSheet:
        """The sheet through all of it."""
        return a_sheet.sealed(self.job, self.tech, self.checker, **other)


@pytest.fixture
def scene(
    db: None,
    settings: Any,
    tmp_path: Path,
    photo_folder: Path,
    builder: Person,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Scene]:
    """Nora measured, Ylva checks; the passphrase lies in a folder of the test's own."""
    settings.DATA_DIR = tmp_path
    settings.SIGNING_PASSPHRASE = ""
    # Slow on purpose; the tests of the PDF open their keys as a shop does.
    monkeypatch.setitem(authority.SCRYPT, "n", 2**10)
    with make_scene(tmp_path, builder) as made:
        yield made


@contextmanager
def make_scene(folder: Path, builder: Person) -> Iterator[Scene]:
    """The scene, without a fixture's wrapping."""
    checker = Person.objects.create_user(
        "ylva", name="Ylva Norrgard", password="four gauge blocks", may_check=True
    )
    engine = Engine.objects.create(
        customer=Customer.objects.create(name="Harbour Racing"), name="V8 drag engine", serial="HR-0417"
    )
    job = Build.objects.create(engine=engine, job_number="2026-001", title="set up valvetrain")
    with a_sheet.a_kind() as kind:
        a_sheet.read(job, builder, "0.024")
        a_sheet.read(job, builder, "0.0251", "1I")
        yield Scene(job, builder, checker, kind, folder)
