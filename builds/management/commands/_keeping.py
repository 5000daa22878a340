"""What `backup` and `restore` have in common. The underscore keeps it from being a command."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management.base import BaseCommand, CommandError

from builds.keeping.files import KeepingRefused
from builds.keeping.manifest import Manifest
from builds.setting_up import CannotStart

# Done, but something in the book needs somebody. One is for what was not done; two is argparse's own.
NOT_ALL_WELL = 3
COUNTED = {"builds_build": "job", "builds_reading": "reading", "builds_sealedsheet": "sealed sheet"}


class KeepingCommand(BaseCommand):
    """Runs without looking at the tables first: they may be old, or not there yet."""

    requires_migrations_checks = False
    requires_system_checks: list[str] = []

    @contextmanager
    def told(self, interrupted: str) -> Iterator[None]:
        """Turn a refusal into its sentence, and Ctrl-C into one too."""
        try:
            yield
        except (KeepingRefused, CannotStart) as refused:
            raise CommandError(str(refused)) from None
        except KeyboardInterrupt:
            raise CommandError(interrupted, returncode=130) from None

    def say(self, line: str) -> None:
        """A line for whoever waits."""
        self.stdout.write(line)
        self.stdout.flush()


def contents(manifest: Manifest) -> str:
    """What is in a backup, counted."""
    counts = [(manifest.rows.get(table, 0), word) for table, word in COUNTED.items()]
    counts.append((len(manifest.photos), "photo"))
    return ", ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in counts)
