"""A book to back up: the invented shop, four photos, two sealed sheets and a key. Run in a process of its own."""

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from uuid import uuid4

from builds.keeping import manifest as form
from builds.keeping import snapshot
from builds.keeping.book import Book
from builds.keeping.manifest import Kept, Manifest

BASE = Path(__file__).resolve().parents[3]


def environment(data: Path) -> dict[str, str]:
    """The environment of a Standbook with a book of its own."""
    plain = {k: v for k, v in os.environ.items() if not k.startswith(("STANDBOOK", "PYTEST", "DJANGO"))}
    return {**plain, "STANDBOOK_NO_VENV": "1", "STANDBOOK_DATA": str(data), "PYTHONPATH": str(BASE)}


def run(data: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run `manage.py`, or a module of the tests, on a book."""
    return subprocess.run(
        [sys.executable, *command],
        cwd=BASE,
        env=environment(data),
        capture_output=True,
        text=True,
        timeout=120,
    )


def book_in(data: Path) -> Book:
    """The book in a folder."""
    return Book(data, data / "standbook.sqlite3", data / "photos")


def told(folder: Path) -> Manifest:
    """The manifest of a backup."""
    return form.read((folder / form.NAME).read_bytes())


def kept_file(folder: Path, path: str) -> Kept:
    """A file as a manifest names it."""
    data = (folder / path).read_bytes()
    return Kept(path, len(data), sha256(data).hexdigest())


def seal_again(folder: Path, **more: object) -> None:
    """Write a backup's manifest anew from what lies in it, as somebody would who changes it and knows how."""
    old = told(folder)
    facts = snapshot.facts(folder / form.DATABASE)
    photos = sorted((folder / "photos").rglob("*.*")) if (folder / "photos").exists() else []
    paths = [form.DATABASE, form.README, *(path.relative_to(folder).as_posix() for path in photos)]
    plain = {
        "standbook": old.standbook, "made_at": old.made_at, "shop": facts.shop, "migrations": facts.migrations,
        "rows": facts.rows, "newest_sheet": facts.newest_sheet, "faults": old.faults,
        "files": tuple(sorted(kept_file(folder, path) for path in paths)),
    }  # fmt: skip
    write_manifest(folder, Manifest(**{**plain, **more}))  # type: ignore[arg-type]


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """Put a manifest, and the digests that go with it, in the place of a backup's own."""
    (folder / form.NAME).write_bytes(manifest.written())
    (folder / form.SUMS).write_bytes(manifest.sums())


def everything_in(folder: Path) -> dict[str, str]:
    """Every file below a folder, with its digest."""
    return {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def dump(database: Path) -> list[str]:
    """All tables, rows and triggers of a database, as the statements that make it."""
    with closing(sqlite3.connect(database)) as connection:
        return list(connection.iterdump())


def alter(database: Path, *statements: str) -> None:
    """Change a database behind the book's back."""
    with closing(sqlite3.connect(database, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)


def copied(folder: Path, target: Path) -> Path:
    """A copy of a book or a backup, to do harm to."""
    return Path(shutil.copytree(folder, target))


def write_the_book() -> None:
    """Fill the book that Django is set up for."""
    from django.core.management import call_command
    from django.utils import timezone

    from valvetrain import demo

    call_command("migrate", verbosity=0)
    # The photos and the sheets of this book are its own, below; so nothing is found that leans on the demo's.
    demo.add_photos = demo.seal_some = demo.find_out = lambda *_shop: None
    call_command("load_demo")
    from builds.models import Authority, Build, Person, PhotoKind, SealedSheet, Signing
    from builds.photos.filing import Filing
    from builds.photos.intake import Sent, take_in
    from tests.builds.photo_files import KINDS, picture

    person = Person.objects.order_by("pk")[0]
    build = next(build for build in Build.objects.order_by("pk") if build.takes_readings)
    for kind in KINDS:
        sent = Sent(uuid4(), f"mark.{kind}", picture(kind), Filing(kind=PhotoKind.OTHER))
        take_in(build, person, sent)
    now = timezone.now()
    Authority.objects.create(certificate="invented", wrapped_key="invented", made_at=now)
    for number in (1, 2):
        signing = Signing.objects.create(
            build=build, kind="setup", schema=1, snapshot=b"{}", digest="0" * 64, readings=0, readings_head="0" * 64,
            unit="in", paper="A4", begun_by=person, begun_at=now,
        )  # fmt: skip
        SealedSheet.objects.create(
            signing=signing, number=number, entry=b"{}", digest=f"{number:064x}", pdf=b"%PDF-", sealed_at=now,
            pdf_sha256=f"{number:064x}",
        )  # fmt: skip


def read_pages() -> None:
    """Start the book, then open the list of jobs, the job with the photos and each photo; print what comes."""
    from django.test import Client
    from django.urls import reverse

    from builds import serving
    from builds.models import Person, Photo

    serving.prepare()
    client = Client(headers={"host": "localhost"})
    client.force_login(Person.objects.order_by("pk")[0])
    print(client.get("/", follow=True).status_code)
    for photo in Photo.objects.select_related("build"):
        print(client.get(photo.build.get_absolute_url()).status_code, photo.build.job_number)
        print(client.get(reverse("photo-file", args=[photo.client_id, "thumb"])).status_code, photo.name)


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django

    django.setup()
    {"write": write_the_book, "read": read_pages}[sys.argv[1]]()
