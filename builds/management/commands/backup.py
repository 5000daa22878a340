"""`manage.py backup FOLDER`: the whole book into one dated folder, while it is in use."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from builds.keeping import backup
from builds.keeping.book import PASSPHRASE, Book
from builds.keeping.files import room
from builds.management.commands._keeping import NOT_ALL_WELL, KeepingCommand, contents


class Command(KeepingCommand):
    """Make one more backup."""

    help = (
        "Back the whole book up while it is in use: database, photos, sealed sheets, keys (locked), in a dated folder "
        "inside DEST. Exit code 0 when all is well, 3 when the backup is made and something in the book is not well, "
        "1 when there is none."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to."""
        parser.add_argument("dest", metavar="DEST", type=Path, help="A folder on a stick or another machine.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make it, and say what is in it, what is not, and what was not well."""
        with self.told("Stopped. Nothing of this backup is left; the older ones are as they were."):
            book = Book.here()
            made = backup.make(book, options["dest"].expanduser(), say=self.say)
        manifest = made.manifest
        self.say(
            f"Backed up in {made.folder}: {contents(manifest)}; {room(manifest.size)}, each file read back."
        )
        if manifest.newest_sheet:
            self.say(
                f"Newest sealed sheet: {manifest.newest_sheet.number}, SHA-256 {manifest.newest_sheet.digest}."
            )
        self.say(
            f"Not in it, on purpose: the passphrase of the signing keys ({book.data / PASSPHRASE}, or "
            "STANDBOOK_SIGNING_PASSPHRASE). Keep that on paper, away from the backups."
        )
        for note in made.notes:
            self.say(f"Note: {note}")
        if manifest.faults:
            told = "\n".join(fault.sentence for fault in manifest.faults)
            raise CommandError(
                f"{told}\nThe backup is made and keeps all the rest. An older one may still hold what is not well here.",
                returncode=NOT_ALL_WELL,
            )
