"""The chain of sealed sheets, and in each entry what it says about the job's readings and photos.

Each entry names the digest of the entry before it and of the PDF before it; the digest of an entry is the SHA-256 of its
canonical JSON. The readings of a job make a chain of their own: h(i) = SHA-256(h(i−1) + canonical(all columns of
reading i)), with nothing before the first; the entry holds its length and head. Beside the head stand the first
hexadecimals of each reading's own digest, so that a change is not only found but named.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from builds.models import Acceptance, Build, Person, Photo, Reading, SealedSheet, Signature, Signing
from builds.sealing.canonical import canonical, digest, time_text
from builds.sealing.rows import (
    PHOTO_COLUMNS,
    PHOTOS_NOW,
    READING_COLUMNS,
    READINGS_NOW,
    plain_row,
    row_digest,
)

FORM = 1
SHORT = 16  # hexadecimals of a row's own digest


@dataclass(frozen=True)
class ReadingChain:
    """How many readings a job has, the head of their chain, and each one's own short digest."""

    count: int
    head: str
    rows: tuple[tuple[int, str], ...]

    def plain(self) -> dict[str, Any]:
        """As it stands in an entry."""
        return {
            "columns": READINGS_NOW,
            "count": self.count,
            "head": self.head,
            "rows": list(map(list, self.rows)),
        }


def reading_chain(readings: Iterable[Reading], columns: int = READINGS_NOW) -> ReadingChain:
    """The chain of these readings, which come oldest first."""
    head, rows = b"", []
    for reading in readings:
        written = canonical(plain_row(reading, READING_COLUMNS[columns]))
        head = hashlib.sha256(head + written).digest()
        rows.append((reading.pk, digest(written)[:SHORT]))
    return ReadingChain(len(rows), head.hex(), tuple(rows))


def chain_of(build: Build) -> ReadingChain:
    """The chain of all readings of a job, as they stand now."""
    return reading_chain(Reading.objects.filter(build=build).order_by("pk").iterator())


def photo_rows(build: Build) -> list[list[Any]]:
    """Each photo of a job: its number, the digest of its file, and the short digest of its row."""
    photos = Photo.objects.filter(build=build).order_by("pk")
    return [
        [photo.pk, photo.sha256, row_digest(photo, PHOTO_COLUMNS[PHOTOS_NOW])[:SHORT]] for photo in photos
    ]


def person_plain(person: Person) -> dict[str, Any]:
    """A person as an entry names them."""
    return {"id": person.pk, "name": str(person)}


def signature_plain(signature: Signature, certificate: str) -> dict[str, Any]:
    """A signature as an entry holds it, with the fingerprint of the certificate that signs the PDF."""
    return {
        "role": str(signature.role),
        "client_id": str(signature.client_id),
        "person": person_plain(signature.person),
        "typed_name": signature.typed_name,
        "meaning": signature.meaning,
        "strokes_sha256": digest(signature.strokes.encode()),
        "seen_digest": signature.seen_digest,
        "signed_at": time_text(signature.signed_at),
        "certificate": certificate,
    }


def acceptance_plain(acceptance: Acceptance) -> dict[str, Any]:
    """An acceptance as an entry holds it."""
    return {
        "client_id": str(acceptance.client_id),
        "key": acceptance.key,
        "value_text": acceptance.value_text,
        "words": acceptance.words,
        "reason": acceptance.reason,
        "accepted_by": person_plain(acceptance.accepted_by),
        "accepted_at": time_text(acceptance.accepted_at),
    }


def signing_plain(signing: Signing) -> dict[str, Any]:
    """What an entry says about how the sheet was put up for signing."""
    return {
        "client_id": str(signing.client_id),
        "begun_by": person_plain(signing.begun_by),
        "begun_at": time_text(signing.begun_at),
        "unit": signing.unit,
        "paper": signing.paper,
        "readings": signing.readings,
        "readings_head": signing.readings_head,
    }


def sheet_plain(signing: Signing) -> dict[str, Any]:
    """What an entry says about the sheet itself, from its signing alone."""
    revises = signing.revises
    return {
        "kind": signing.kind,
        "subject": signing.subject,
        "schema": signing.schema,
        "snapshot": digest(bytes(signing.snapshot)),
        "signing": signing_plain(signing),
        "revision": 0 if revises is None else revises.revision + 1,
        "revises": None if revises is None else {"number": revises.number, "digest": revises.digest},
        "reason": signing.reason,
    }


@dataclass(frozen=True)
class Head:
    """The newest sealed sheet: the next one is linked to it."""

    number: int = 0
    digest: str = ""
    pdf_sha256: str = ""

    @classmethod
    def now(cls) -> "Head":
        """The head of the chain; all empty where nothing is sealed yet."""
        newest = SealedSheet.objects.order_by("-number").values_list("number", "digest", "pdf_sha256").first()
        return cls() if newest is None else cls(*newest)
