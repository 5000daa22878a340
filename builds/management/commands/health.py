"""`manage.py health`: is this book sound? In words, and as an exit code."""

from typing import Any

from django.core.management.base import BaseCommand

from builds import health


class Command(BaseCommand):
    """Print every finding; exit 1 when something needs somebody."""

    help = "Say in words whether this book is sound; exit code 1 when it is not."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        """Look at everything and print it."""
        findings = health.look()
        width = max(len(finding.what) for finding in findings)
        for finding in findings:
            word = ("note    " if finding.note else "ok      ") if finding.well else "NOT WELL"
            self.stdout.write(f"{word}  {finding.what:<{width}}  {finding.sentence}")
        not_well = health.unwell(findings)
        if not_well:
            self.stdout.write(f"\n{len(not_well)} of {len(findings)} need somebody.")
            raise SystemExit(1)
        self.stdout.write("\nThis book is sound.")
