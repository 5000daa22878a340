"""What the book does by itself at night, as it is set and as it went: for the check-up, the shop's page, the owner.

What the nights leave behind is a small file beside the book. It is no record: without it the next night begins anew, and
no older backup is taken away.
"""

import json
import re
from dataclasses import asdict, dataclass
from datetime import datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from builds.keeping.book import OWN_PLACE
from builds.keeping.files import KeepingRefused, write_over
from builds.sealing import checking

NAME = "last-night.json"
KEPT = 14
OLD = timedelta(days=3)
MOST_KNOWN = 400
SAME_DISK = (
    "That folder lies on the disk of the book: it saves from mistakes, and not from a dead disk or a thief. Set "
    "STANDBOOK_BACKUPS to a folder on another disk or another machine."
)
_TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])")


@dataclass(frozen=True)
class Automatic:
    """A backup that the book made by itself: where, the digest of its manifest, and whether that night was sound."""

    folder: str
    digest: str
    sound: bool = False


@dataclass(frozen=True)
class Night:
    """How the last night went. `made` holds every backup that the book made by itself, in the order of making."""

    done: str = ""
    failure: str = ""
    faults: int = 0
    notes: tuple[str, ...] = ()
    made: tuple[Automatic, ...] = ()

    @property
    def done_at(self) -> datetime | None:
        """When the work was begun that came to its end, well or not."""
        return datetime.fromisoformat(self.done) if self.done else None


@dataclass(frozen=True)
class Standing:
    """How it stands with the nights: a sentence, and what somebody should do. `wrong`: the setting cannot be read."""

    sentence: str
    warnings: tuple[str, ...] = ()
    wrong: bool = False


@dataclass(frozen=True)
class Trouble:
    """What the owner should know first: a sentence, the page that tells more (and where on it), the words on the way."""

    sentence: str
    page: str
    words: str
    part: str = ""


def hour() -> time | None:
    """When the night's work is done, by the book's clock; nothing when it is switched off."""
    text = str(settings.NIGHTLY).strip()
    if text.casefold() == "off":
        return None
    if not (found := _TIME.fullmatch(text)):
        raise KeepingRefused(f"STANDBOOK_NIGHTLY is “{text}”. Write a time of the day such as 03:30, or off.")
    return time(int(found[1]), int(found[2]))


def place() -> Path:
    """Where the backups go that the book makes by itself."""
    named = str(settings.BACKUPS).strip()
    return Path(named).resolve() if named else Path(settings.DATA_DIR).resolve() / OWN_PLACE


def read() -> Night:
    """How the last night went; nothing known when its file is not there, or was spoilt."""
    try:
        plain = json.loads((Path(settings.DATA_DIR) / NAME).read_bytes())
        made = tuple(Automatic(str(a["folder"]), str(a["digest"]), a["sound"] is True) for a in plain["made"])
        notes = tuple(str(note) for note in plain["notes"])
        night = Night(str(plain["done"]), str(plain["failure"]), int(plain["faults"]), notes, made)
        if night.done_at and not timezone.is_aware(night.done_at):
            return Night()
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return Night()
    return night


def keep(night: Night) -> None:
    """Write down how it went. Raises `OSError`."""
    plain = asdict(night) | {"made": [asdict(each) for each in night.made[-MOST_KNOWN:]]}
    text = json.dumps(plain, indent=1, ensure_ascii=False)
    write_over(Path(settings.DATA_DIR) / NAME, text.encode(errors="replace"))


def look(now: datetime | None = None) -> Standing:
    """How it stands with the nights of this book."""
    try:
        at = hour()
    except KeepingRefused as refused:
        return Standing(str(refused), wrong=True)
    if at is None:
        return Standing("Switched off by STANDBOOK_NIGHTLY: the book is backed up and checked by hand alone.")
    night, where = read(), place()
    told = (
        f"Every night at {at:%H:%M}, while it is served, the book backs itself up into {where}, keeps the last {KEPT} of "
        "these, and checks everything that is sealed and every photo."
    )
    warnings = list(night.notes)
    if night.done_at is None:
        told += " It has not done so yet."
    elif night.failure:
        warnings.append(_not_made(night.done_at, night.failure))
    else:
        told += f" Last done {_day(night.done_at)}."
        if night.faults:
            warnings.append(_not_well(night))
    age = (now or timezone.now()) - (night.done_at or timezone.now())
    if age >= OLD:
        warnings.append(f"That is {age.days} days ago. Is the book served at night, or for an hour by day?")
    if _is_at_home(where):
        warnings.append(SAME_DISK)
    return Standing(told, tuple(warnings))


def _is_at_home(where: Path) -> bool:
    data = Path(settings.DATA_DIR)
    try:
        return where.stat().st_dev == data.stat().st_dev
    except OSError:
        return where.is_relative_to(data.resolve())


def troubles() -> list[Trouble]:
    """What did not match or was not backed up, until a later run is sound. Asks the database nothing."""
    found, check = [], checking.look()
    if check.unsound_at:
        sentence = (
            f"Something in this book is not what was sealed or kept; the check of {_day(check.unsound_at)} "
            "names it."
        )
        found.append(Trouble(sentence, "verify-page", "See what does not match"))
    elif check.broke_off:
        found.append(Trouble(check.sentence, "verify-page", "See the check"))
    night = read() if _is_on() else Night()
    if night.done_at and night.failure:
        sentence = _not_made(night.done_at, night.failure)
        found.append(Trouble(sentence, "shop", "See the backups", "#backup"))
    elif night.done_at and night.faults and not found:
        found.append(Trouble(_not_well(night), "shop", "See the backups", "#backup"))
    return found


def _is_on() -> bool:
    try:
        return hour() is not None
    except KeepingRefused:
        return False


def _not_made(when: datetime, failure: str) -> str:
    return f"The book did not back itself up in the night ({_day(when)}): {failure}"


def _not_well(night: Night) -> str:
    return (
        f"{night.faults} of the book's files or tables were not well at the last backup; the manifest.json in it names "
        "them. An older backup may still hold what is not well here."
    )


def _day(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%d %b %Y %H:%M}"
