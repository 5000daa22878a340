"""Where a photo is filed: checked against the job, added to what was filed before, and safe to repeat."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from builds.models import Build, PartFitted, Person, Photo, PhotoFiling, PhotoKind
from builds.positions import positions_of
from builds.recording import EntryRefused

LONGEST = 200


@dataclass(frozen=True)
class Filing:
    """Where a person says that a photo belongs, and what it shows."""

    position: str = ""
    part: PartFitted | None = None
    kind: str = PhotoKind.OTHER
    note: str = ""
    set_aside: bool = False
    reason: str = ""

    def columns(self) -> dict[str, Any]:
        """What is written of it."""
        return {
            "position": self.position, "part": self.part, "kind": self.kind, "note": self.note.strip(),
            "set_aside": self.set_aside, "reason": self.reason.strip() if self.set_aside else "",
        }  # fmt: skip


def check_filing(build: Build, filing: Filing) -> None:
    """Refuse an address that the job does not have, another job's part, and what is too long to write."""
    if filing.position and filing.position not in positions_of(build):
        raise EntryRefused(
            "position",
            f"There is no “{filing.position[:40]}” on job {build.job_number}. Use an address of this job, such as 3E, "
            "L.stand2 or cyl4, or none.",
        )
    if filing.part is not None and filing.part.build_id != build.pk:
        raise EntryRefused(
            "part", f"This part is not fitted to job {build.job_number}. Choose one of its parts."
        )
    if filing.kind not in PhotoKind.values:
        raise EntryRefused(
            "kind", f"“{filing.kind[:40]}” is nothing that a photo shows here. Choose one from the list."
        )
    for name, what, text in (("note", "The note", filing.note), ("reason", "The reason", filing.reason)):
        if len(text.strip()) > LONGEST:
            raise EntryRefused(name, f"{what} is longer than {LONGEST} characters. Say it shorter.")
        if "\0" in text:
            raise EntryRefused(name, f"{what} holds a character that cannot be written. Type it again.")
    if filing.set_aside and not filing.reason.strip():
        raise EntryRefused(
            "reason", "Say why the photo is set aside: taken by mistake, blurred, wrong valve …"
        )


def file_again(photo: Photo, person: Person, *, client_id: UUID, filing: Filing) -> tuple[PhotoFiling, bool]:
    """File a photo anew, beside what was filed before. Returns the filing that holds and whether it is new."""
    with transaction.atomic():
        build = Build.objects.select_for_update().get(pk=photo.build_id)
        newest = photo.filings.order_by("-pk").select_related("part").first()
        assert newest is not None
        asked = filing.columns()
        known = PhotoFiling.objects.filter(client_id=client_id).first()
        if known is not None:
            if known.photo_id != photo.pk or _told(known) != asked:
                raise EntryRefused(
                    "note", "This page was sent before with something else in it. Load it again."
                )
            return known, False
        if not build.takes_readings:
            raise EntryRefused("build", build.closed_sentence)
        check_filing(build, filing)
        if _told(newest) == asked:
            return newest, False
        return PhotoFiling.objects.create(photo=photo, client_id=client_id, filed_by=person, **asked), True


def _told(filing: PhotoFiling) -> dict[str, Any]:
    return Filing(
        filing.position, filing.part, filing.kind, filing.note, filing.set_aside, filing.reason
    ).columns()
