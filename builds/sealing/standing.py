"""How a sheet that was put up for signing stands now: what changed since, and whether it can still be signed."""

import json
from dataclasses import dataclass

from builds.models import Build, Reading, SealedSheet, Signing
from builds.sealing.canonical import canonical, digest
from builds.sealing.differences import Difference, differences
from builds.sealing.kinds import kind_of


@dataclass(frozen=True)
class Standing:
    """What changed since a sheet was put up for signing. Anything voids every signature on it."""

    differences: tuple[Difference, ...] = ()
    new_readings: tuple[str, ...] = ()
    newer: bool = False

    @property
    def is_void(self) -> bool:
        """Whether it can no longer be signed or sealed."""
        return bool(self.differences or self.new_readings or self.newer)

    @property
    def sentence(self) -> str:
        """Why, in words; empty where it still holds."""
        if self.newer:
            return "This sheet was put up for signing anew since. Sign the new one."
        if self.differences:
            count = len(self.differences)
            figures = "1 figure" if count == 1 else f"{count} figures"
            return f"{figures} changed since this sheet was put up, so its signatures are void. Look, and sign anew."
        if self.new_readings:
            where = ", ".join(dict.fromkeys(self.new_readings))
            return f"A reading came in since this sheet was put up ({where}), so its signatures are void. Sign anew."
        return ""


def standing(signing: Signing) -> Standing:
    """Take the sheet down once more and hold it against what was put up. Asks the database as often as the sheet does."""
    build, kind = signing.build, kind_of(signing.kind)
    newest = (
        Signing.objects.of_sheet(build, signing.kind, signing.subject).values_list("pk", flat=True).first()
    )
    now = canonical(kind.taken(build, signing.subject, signing.unit))
    found: tuple[Difference, ...] = ()
    if digest(now) != signing.digest:
        found = tuple(differences(json.loads(bytes(signing.snapshot)), json.loads(now)))
        found = found or (Difference("sheet", "written otherwise", "the same figures"),)
    return Standing(found, tuple(_new_readings(signing)), newest != signing.pk)


def _new_readings(signing: Signing) -> list[str]:
    """Addresses of the readings that came since and concern the sheet."""
    since = Reading.objects.filter(build=signing.build).order_by("pk")[signing.readings :]
    places = list(since.values_list("position", flat=True))
    addresses = kind_of(signing.kind).addresses
    if addresses is None or not places:
        return places
    wanted = addresses(signing.build, signing.subject)
    return [place for place in places if place in wanted]


def newest_sealed(build: Build, kind: str, subject: str) -> SealedSheet | None:
    """The revision of a sheet that holds now, if it was ever sealed."""
    found: SealedSheet | None = SealedSheet.objects.of_sheet(build, kind, subject).first()
    return found
