"""When this book was last backed up, by hand or to another disk: a small file beside it, and a sentence about it."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from builds.keeping.files import write_over

NAME = "last-backup.json"
OLD = timedelta(days=7)
HOW = "manage.py backup FOLDER, with FOLDER on a stick or another machine, makes one."


@dataclass(frozen=True)
class LastBackup:
    """How it stands with the backups, and whether somebody should do something."""

    due: bool
    sentence: str


def note(data: Path, made_at: datetime, folder: Path, faults: int) -> None:
    """Write down that a backup was made."""
    plain = {"made_at": made_at.isoformat(timespec="seconds"), "folder": str(folder), "faults": faults}
    write_over(data / NAME, json.dumps(plain, indent=2).encode() + b"\n")


def look(now: datetime | None = None) -> LastBackup:
    """How it stands with the backups of this book."""
    now = now or timezone.now()
    try:
        plain = json.loads((Path(settings.DATA_DIR) / NAME).read_text(encoding="utf-8"))
        made_at = datetime.fromisoformat(plain["made_at"])
        age, folder, faults = now - made_at, str(plain["folder"]), int(plain["faults"])
    except FileNotFoundError:
        return LastBackup(True, f"No backup of this book lies anywhere else yet. {HOW}")
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return LastBackup(True, f"When the last backup was made cannot be read. {HOW}")
    told = f"Last made {timezone.localtime(made_at):%d %b %Y %H:%M}, in {folder}."
    if age < -timedelta(days=1):
        return LastBackup(True, f"{told} That is in the future: is this machine's clock right?")
    if faults:
        told += f" {faults} of the book's files or tables were not well then; the backup named them."
    if age >= OLD:
        return LastBackup(True, f"{told} That is {age.days} days ago: make another. {HOW}")
    return LastBackup(bool(faults), told)
