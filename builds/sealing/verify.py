"""Rehash everything that is sealed, and name exactly what does not match.

A chain proves nothing against one who can rewrite all of it. So give it witnesses: sealed PDFs that left the shop. What
was rewritten or cut off since cannot agree with them.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from builds.models import Photo, Reading, SealedSheet
from builds.sealing import standalone
from builds.sealing.chain import Head
from builds.sealing.key_check import key_faults, loose_faults
from builds.sealing.record_check import photo_faults, photo_file_faults, reading_faults
from builds.sealing.sheet_check import Checked, SheetChecker
from builds.sealing.standalone import Fault


@dataclass
class Report:
    """What was looked at, and what does not match."""

    sheets: int = 0
    readings: int = 0
    readings_sealed: int = 0
    photos: int = 0
    head: Head = field(default_factory=Head)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def is_sound(self) -> bool:
        """Whether everything matches."""
        return not self.faults

    def plain(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "sound": self.is_sound,
            "sheets": self.sheets,
            "readings": self.readings,
            "readings_sealed": self.readings_sealed,
            "photos": self.photos,
            "head": {"number": self.head.number, "digest": self.head.digest},
            "faults": [{"where": fault.where, "what": fault.what} for fault in self.faults],
            "notes": self.notes,
        }


Told = Callable[[str, int, int], None]


def nobody(words: str, done: int, of: int) -> None:
    """For a look that nobody waits for."""


def verify_book(witnesses: Sequence[Path] = (), told: Told = nobody) -> Report:
    """Look at every sealed sheet, reading chain, photo and certificate of the book. `told` hears how far it is."""
    seen = [standalone.examine(path.name, path.read_bytes()) for path in witnesses]
    report = Report(readings=Reading.objects.count(), photos=Photo.objects.count(), head=Head.now())
    checker, links, sealed = SheetChecker(), [], set()
    found: list[Fault] = []
    numbers = list(SealedSheet.objects.order_by("number").values_list("number", flat=True))
    for sheet in _whole_sheets(numbers):
        told("Sealed sheets", report.sheets, len(numbers))
        checked = checker.check(sheet)
        report.sheets += 1
        links.append(checked.link)
        found += [*checked.faults, *_record_faults(sheet, checked)]
        sealed |= {row[0] for row in _told(checked, "readings").get("rows", [])}
    found += _lost_faults(numbers, {int(link.name.removeprefix("sheet ")) for link in links})
    found += [fault for witness in seen for fault in witness.faults]
    found += standalone.chain_faults(links, seen, checker.trusted)
    found += [*key_faults(report.notes), *loose_faults(), *_photo_files(report.photos, told)]
    report.readings_sealed = len(sealed)
    report.faults = list(dict.fromkeys(found))
    return report


def _photo_files(count: int, told: Told) -> list[Fault]:
    return list(photo_file_faults(lambda done: told("Files of photos", done, count)))


def verify_sheet(sheet: SealedSheet) -> list[Fault]:
    """Look at one sealed sheet alone, and at the readings and photos that it was sealed over."""
    whole = SealedSheet.objects.select_related("signing__build", "signing__begun_by", "signing__revises").get(
        pk=sheet.pk
    )
    checked = SheetChecker().check(whole)
    return list(dict.fromkeys([*checked.faults, *_record_faults(whole, checked)]))


def _whole_sheets(numbers: Sequence[int]) -> Iterator[SealedSheet]:
    """Every sheet with its PDF, each asked for by itself: an open question would hold up whoever writes."""
    sheets = SealedSheet.objects.select_related("signing__build", "signing__begun_by", "signing__revises")
    for number in numbers:
        yield from sheets.filter(number=number)


def _lost_faults(numbers: Sequence[int], seen: set[int]) -> list[Fault]:
    """Sheets that are there, but what they were signed as is not."""
    lost = [number for number in numbers if number not in seen]
    return [
        Fault(f"sheet {number}", "what two people signed under it is gone from the book") for number in lost
    ]


def _told(checked: Checked, name: str) -> dict[str, Any]:
    told = checked.entry.get(name)
    return told if isinstance(told, dict) else {}


def _record_faults(sheet: SealedSheet, checked: Checked) -> list[Fault]:
    """Readings and photos, if the entry can still be read."""
    where, build = f"sheet {sheet.number}", sheet.signing.build
    try:
        return [
            *reading_faults(build, where, _told(checked, "readings")),
            *photo_faults(build, _told(checked, "photos")),
        ]
    except (KeyError, TypeError, ValueError):
        return [Fault(where, "what its entry says about readings and photos cannot be read")]
