"""`manage.py restore FOLDER`: a backup into an empty folder of the book."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.db import connection

from builds import health, serving
from builds.keeping import restore
from builds.keeping.book import PASSPHRASE, Book
from builds.keeping.files import KeepingRefused
from builds.management.commands._keeping import NOT_ALL_WELL, KeepingCommand, contents


class Command(KeepingCommand):
    """Put a backup back."""

    help = (
        "Put a backup back into an empty folder of the book (STANDBOOK_DATA). Everything is looked at before anything is "
        "written. Exit code 0 when all is well, 3 when it is restored and something needs somebody, 1 when it is not."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where from."""
        parser.add_argument("source", metavar="SOURCE", type=Path, help="The dated folder of the backup.")

    def handle(self, *args: Any, **options: Any) -> None:
        """Look, write, bring the tables up to this version, look at the book, and say what was restored."""
        # Looking at a folder makes an empty file of a database in it; nobody may hold that one open.
        connection.close()
        with self.told("Stopped. Nothing was restored; the backup is as it was."):
            book = Book.here()
            done = restore.put_back(book, options["source"].expanduser(), say=self.say)
        manifest = done.manifest
        shop = manifest.shop or "a shop without a name"
        self.say(f"Restored in {book.data}: the book of {shop} as of {manifest.made_at:%d %b %Y %H:%M} UTC.")
        self.say(f"In it: {contents(manifest)}.")
        with self.told("Stopped. The book is restored; the next start goes on with its tables."):
            self.bring_up_to_date(done.pending)
        for fault in manifest.faults:
            self.say(f"Not well when it was backed up: {fault.sentence}")
        if restore.passphrase_is_lacking(book, manifest):
            self.say(
                f"The shop's signing keys are in it, locked. Put the passphrase that you kept on paper into "
                f"{book.data / PASSPHRASE}, or into STANDBOOK_SIGNING_PASSPHRASE, before the next sheet is signed."
            )
        not_well = health.unwell(health.look())
        if not_well:
            told = "\n".join(f"Not well: {finding.what}: {finding.sentence}" for finding in not_well)
            raise CommandError(f"{told}\nThe book is restored; look at these first.", returncode=NOT_ALL_WELL)
        self.say("The book is sound. Everybody logs in anew; manage.py serve opens it.")

    def bring_up_to_date(self, pending: int) -> None:
        """Let this version make its changes of the tables, and put the guards back where a trigger is lacking."""
        if pending:
            self.say(f"It is from an older version: making {pending} changes of its tables, after a copy.")
        try:
            serving.migrate()
        except (
            Exception
        ) as error:  # a migration is code of any kind; the person needs a sentence, and the book is there
            raise KeepingRefused(
                f"The book is restored, but its tables could not be brought up to this version: {error}. The backup is "
                "as it was; restore it with the version that made it."
            ) from error
