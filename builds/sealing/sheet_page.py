"""What the page of a sealed sheet shows, from its own entry and the drawn signatures."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from uuid import UUID, uuid4

from builds.models import SealedSheet, Signature
from builds.sealing.board import WHOLE_JOB, titled
from builds.sealing.canonical import digest_lines
from builds.sealing.differences import Difference, differences
from builds.sealing.marks import code_drawing, strokes_drawing
from builds.sealing.rules import SealRefused, typed_instead

MOST_DIFFERENCES = 200


@dataclass(frozen=True)
class SignedLine:
    """One signature as the page shows it."""

    signature: Signature
    drawing: str
    typed: bool


@dataclass(frozen=True)
class SheetPage:
    """A sealed sheet as its page shows it."""

    name: str
    place: str
    digest: tuple[str, str]
    code: str
    signatures: Sequence[SignedLine]
    accepted: Sequence[dict[str, str]]
    revises: SealedSheet | None
    superseded_by: SealedSheet | None
    changed: Sequence[Difference]
    more_changed: int
    fresh_id: UUID = field(default_factory=uuid4)


def sheet_page(sheet: SealedSheet, address: str) -> SheetPage:
    """The page of a sheet that comes from `for_list`; `address` is the page's own."""
    signing = sheet.signing
    former = signing.revises
    changed = [] if former is None else _between(former, sheet)
    return SheetPage(
        name=titled(signing.build, [sheet])[0].title,
        place=signing.subject or WHOLE_JOB,
        digest=digest_lines(sheet.digest),
        code=code_drawing(address),
        signatures=[_signed(each) for each in signing.signatures.all()],
        accepted=_accepted(sheet),
        revises=former,
        superseded_by=sheet.superseded_by,
        changed=changed[:MOST_DIFFERENCES],
        more_changed=max(len(changed) - MOST_DIFFERENCES, 0),
    )


def _between(former: SealedSheet, sheet: SealedSheet) -> list[Difference]:
    before, after = former.signing.snapshot, sheet.signing.snapshot
    return differences(json.loads(bytes(before)), json.loads(bytes(after)))


def _signed(signature: Signature) -> SignedLine:
    try:
        drawing = strokes_drawing(signature.strokes)
    except SealRefused:  # touched since: the check below names it
        drawing = ""
    return SignedLine(signature, drawing, bool(typed_instead(signature.strokes)))


def _accepted(sheet: SealedSheet) -> list[dict[str, str]]:
    try:
        found = json.loads(bytes(sheet.entry))["acceptances"]
        return [{**each, "by": each["accepted_by"]["name"]} for each in found]
    except (ValueError, KeyError, TypeError):
        return []
