"""`manage.py authority`: the shop's signing keys, told; and made anew when their passphrase is lost."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from builds.sealing.authority import KeyTrouble, passphrase_file
from builds.sealing.canonical import digest_words
from builds.sealing.keys_anew import AnewRefused, make_anew, roots


class Command(BaseCommand):
    """Say which roots this book has; with `--new REASON`, make a new one that signs from now on."""

    help = (
        "Tell the shop's signing keys. With --new REASON make new ones, when the passphrase is lost or known to others: "
        "the old ones stay, and what they signed is verified as before."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What may be asked for."""
        parser.add_argument("--new", metavar="REASON", help="make new keys, and say why")

    def handle(self, *args: Any, **options: Any) -> None:
        """Tell, or make and tell."""
        if options["new"] is not None:
            self._make(options["new"])
        found = roots()
        if not found:
            self.stdout.write("No keys yet. They are made by themselves with the first signature.")
        for line in found:
            state = "signs" if line.signs else "verifies what it signed"
            why = f" Made anew: {line.root.reason}." if line.root.reason else ""
            shut = "" if line.opens else " The passphrase of this book does not open it."
            self.stdout.write(f"Root of {line.root.made_at:%d %b %Y %H:%M}, {state}.{why}{shut}")
            self.stdout.write(f"  SHA-256 {digest_words(line.fingerprint)}")

    def _make(self, reason: str) -> None:
        try:
            made = make_anew(reason, timezone.now())
        except (AnewRefused, KeyTrouble) as refused:
            raise CommandError(refused.sentence) from None
        self.stdout.write(
            "New keys are made. What was signed once and not sealed has to be put up and signed anew."
        )
        if made.put_aside is not None:
            self.stdout.write(f"The passphrase that did not open the old keys is put aside: {made.put_aside}")
        self.stdout.write(f"Write the passphrase on paper and put it into the safe: {passphrase_file()}")
