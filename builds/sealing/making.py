"""Making a sealed sheet: its entry in the chain, its page, its signed PDF. Slow, and writes nothing into the book."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from builds.models import Acceptance, Build, Person, Role, SealedSheet, Signature, Signing
from builds.printing.paper import PAPERS
from builds.sealing import authority, chain, standalone
from builds.sealing.acceptance import accepted_of, standing_acceptances
from builds.sealing.authority import SigningKey
from builds.sealing.canonical import canonical, digest, time_text
from builds.sealing.kinds import kind_of
from builds.sealing.marks import marks_from, when
from builds.sealing.pdf import Block, print_sheet, sign_twice
from builds.sealing.rows import PHOTOS_NOW
from builds.sealing.rules import Mark, SealRefused

PageAddress = Callable[[int], str]


def no_page(number: int) -> str:
    """For a sheet that has no page to lead to."""
    return ""


@dataclass(frozen=True)
class Made:
    """A sealed sheet and its second signature, ready to be written; and what held when they were made."""

    sheet: SealedSheet
    signature: Signature
    signing: Signing
    head: chain.Head
    readings_head: str
    photos: list[list[Any]]
    acceptances: list[Acceptance]

    def is_stale(self, build: Build) -> bool:
        """Whether a reading, a photo or an acceptance came in since."""
        return (
            chain.chain_of(build).head != self.readings_head
            or chain.photo_rows(build) != self.photos
            or _acceptances(self.signing, build) != self.acceptances
        )


def make(signing: Signing, checker: Person, mark: Mark, head: chain.Head, page: PageAddress) -> Made:
    """Make the sheet that comes after `head`. The signing comes looked over, with its build and its first signature."""
    _refuse_clock(mark)
    first = Signature.objects.select_related("person").get(signing=signing, role=Role.MEASURED)
    second = Signature(
        client_id=mark.client_id, signing=signing, role=Role.CHECKED, person=checker, typed_name=mark.typed_name.strip(),
        meaning=mark.meaning_as(Role.CHECKED), strokes=mark.strokes, seen_digest=mark.seen_digest,
        signed_at=mark.signed_at,
    )  # fmt: skip
    signatures = [first, second]
    keys = [authority.open_key(authority.certificate_for(each.person, each.signed_at)) for each in signatures]
    if any(each.certificate.not_valid_before_utc > mark.signed_at for each in keys):
        raise SealRefused(
            "A certificate is younger than this signature. Set the clock right, and sign again."
        )
    _refuse_new_root(signatures, keys)
    readings, photos = chain.chain_of(signing.build), chain.photo_rows(signing.build)
    acceptances = _acceptances(signing, signing.build)
    plain = json.loads(bytes(signing.snapshot))
    entry_plain = {
        "form": chain.FORM,
        "number": head.number + 1,
        "previous_digest": head.digest,
        "previous_pdf": head.pdf_sha256,
        "job": {"id": signing.build.pk, "number": signing.build.job_number},
        "engine": {"name": signing.build.engine.name, "serial": signing.build.engine.serial},
        **chain.sheet_plain(signing),
        "geometry_version": plain.get("geometry_version", ""),
        "readings": readings.plain(),
        "photos": {"columns": PHOTOS_NOW, "rows": photos},
        "acceptances": [chain.acceptance_plain(each) for each in acceptances],
        "signatures": [
            chain.signature_plain(each, key.fingerprint) for each, key in zip(signatures, keys, strict=True)
        ],
        "authority": authority.fingerprint(keys[-1].root),
        "sealed_at": time_text(mark.signed_at),
        "time_zone": timezone.get_current_timezone_name(),
        "page": page(head.number + 1),
    }
    entry = canonical(entry_plain)
    pdf = _pdf(signing, signatures, keys, entry, plain)
    sheet = SealedSheet(
        signing=signing, number=head.number + 1, revision=entry_plain["revision"], previous_digest=head.digest,
        entry=entry, digest=digest(entry), pdf=pdf, pdf_sha256=digest(pdf), sealed_at=mark.signed_at,
    )  # fmt: skip
    return Made(sheet, second, signing, head, readings.head, photos, acceptances)


def _refuse_new_root(signatures: list[Signature], keys: list[SigningKey]) -> None:
    """What somebody signed before the keys were made anew is not sealed with the new ones."""
    for signature, key in zip(signatures, keys, strict=True):
        if key.root.not_valid_before_utc > signature.signed_at:
            raise SealRefused(
                f"The shop’s keys were made anew since {signature.person} signed this. Put the sheet up anew, and sign "
                "it again. Nothing is sealed."
            )


def _acceptances(signing: Signing, build: Build) -> list[Acceptance]:
    return standing_acceptances(kind_of(signing.kind).readiness(build, signing.subject), accepted_of(build))


def _refuse_clock(mark: Mark) -> None:
    """A sheet is never sealed before the one that it follows: then some clock was wrong."""
    newest = SealedSheet.objects.order_by("-number").values_list("number", "sealed_at").first()
    if newest is not None and mark.signed_at < newest[1]:
        raise SealRefused(
            f"The clock says {mark.signed_at:%d %b %Y %H:%M}, but sheet {newest[0]} was sealed at "
            f"{newest[1]:%d %b %Y %H:%M}. Set the clock of this computer right, then sign again. Nothing is sealed."
        )


def _pdf(
    signing: Signing, signatures: list[Signature], keys: list[SigningKey], entry: bytes, plain: dict[str, Any]
) -> bytes:
    """Print, sign twice, and look at the result as a stranger would before it is called sealed."""
    paper, told = PAPERS[signing.paper], json.loads(entry)
    marks = marks_from(told, digest(entry), {str(each.role): each.strokes for each in signatures})
    page = kind_of(signing.kind).render(plain, marks, paper)
    at = signatures[-1].signed_at
    blocks = [
        Block(
            role=str(each.role), name=str(each.person), meaning=each.meaning, key=key, at=each.signed_at,
            at_words=when(time_text(each.signed_at), told["time_zone"]),
        )
        for each, key in zip(signatures, keys, strict=True)
    ]  # fmt: skip
    pdf = sign_twice(print_sheet(page, bytes(signing.snapshot), entry, at), blocks, paper)
    looked = standalone.examine("the sheet", pdf)
    if looked.faults:
        raise SealRefused(f"The signed PDF is not sound: {looked.faults[0].what}. Nothing is sealed.")
    return pdf
