"""`manage.py verify`: is everything that was sealed still what it was? In words or as JSON, and as an exit code."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.db import DatabaseError

from builds.sealing.canonical import digest_words
from builds.sealing.verify import Report, verify_book


class Command(BaseCommand):
    """Print what does not match. Exit code 0: all of it does; 1: something does not; 2: it could not look."""

    help = "Rehash every sealed sheet, reading chain and photo; exit code 1 when something does not match."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What may be asked for."""
        parser.add_argument(
            "--witness", type=Path, action="append", default=[], metavar="PDF",
            help="a sealed PDF that left the shop: the chain must agree with it",
        )  # fmt: skip
        parser.add_argument("--json", action="store_true", help="say it as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        """Look at everything and print what was found."""
        try:
            report = verify_book(options["witness"])
        except (OSError, DatabaseError) as error:
            self.stderr.write(f"Cannot look: {error}")
            raise SystemExit(2) from None
        if options["json"]:
            self.stdout.write(json.dumps(report.plain(), indent=1, ensure_ascii=False))
        else:
            self._say(report)
        if not report.is_sound:
            raise SystemExit(1)

    def _say(self, report: Report) -> None:
        for fault in report.faults:
            self.stdout.write(f"DOES NOT MATCH  {fault}")
        for note in report.notes:
            self.stdout.write(f"Note: {note}")
        self.stdout.write(
            f"{report.sheets} sealed sheets, {report.readings_sealed} of {report.readings} readings under seal, "
            f"{report.photos} photos."
        )
        if report.head.number:
            self.stdout.write(f"Newest sheet {report.head.number}: {digest_words(report.head.digest)}")
        count = len(report.faults)
        self.stdout.write("Everything matches." if report.is_sound else f"{count} things do not match.")
