"""One sealed sheet held against its own entry: every column, its PDF, its signatures, its acceptances."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from asn1crypto import pem
from asn1crypto import x509 as asn1_x509

from builds.models import Acceptance, Authority, SealedSheet, Signature, SignerCertificate
from builds.sealing import chain, standalone
from builds.sealing.authority import certificate_of, fingerprint
from builds.sealing.canonical import NotPlain, canonical, digest, time_text
from builds.sealing.standalone import Fault


@dataclass(frozen=True)
class Checked:
    """A sheet that was looked at: what is wrong with it, what its entry says, and its link in the chain."""

    faults: tuple[Fault, ...]
    entry: Mapping[str, Any]
    link: standalone.Sheet


class SheetChecker:
    """Looks at sheets one by one; knows the book's certificates."""

    def __init__(self) -> None:
        self._roots = list(_roots())
        self._people = dict(_people_by_certificate())

    @property
    def trusted(self) -> list[str]:
        """SHA-256 of the shop's roots: more than one where the keys were made anew."""
        return [root.sha256.hex() for root in self._roots]

    def check(self, sheet: SealedSheet) -> Checked:
        """Look at one sheet, fetched whole with its signing."""
        where = f"sheet {sheet.number}"
        pdf, kept = bytes(sheet.pdf), bytes(sheet.entry)
        seen = standalone.examine(where, pdf, self._roots)
        found = list(seen.faults)
        # What two people signed outranks what stands in a row, for as long as their signatures are whole.
        entry = seen.entry if not seen.faults else _read(kept)
        found += [Fault(where, what) for what in self._faults(sheet, entry, seen, kept, pdf)]
        link = standalone.Sheet(where, hashlib.sha256(pdf).hexdigest(), dict(entry), root=seen.root)
        link.digest = seen.digest if not seen.faults else digest(kept)
        return Checked(tuple(found), entry, link)

    def _faults(
        self, sheet: SealedSheet, entry: Mapping[str, Any], seen: standalone.Sheet, kept: bytes, pdf: bytes
    ) -> Iterator[str]:
        if digest(pdf) != sheet.pdf_sha256:
            yield f"its PDF is not the one that was issued: SHA-256 {digest(pdf)}, kept beside it {sheet.pdf_sha256}"
        if digest(kept) != sheet.digest:
            yield f"its entry in the chain does not have its digest: {digest(kept)}, kept beside it {sheet.digest}"
        if seen.entry_bytes and seen.entry_bytes != kept:
            yield "its entry in the book is not the one inside its PDF"
        if seen.snapshot and seen.snapshot != bytes(sheet.signing.snapshot):
            yield "what it shows, as kept in the book, is not what is inside its PDF"
        if not entry:
            yield "its entry cannot be read, so nothing can be held against it"
            return
        try:
            if canonical(_read(kept)) != kept:
                yield "its entry is not written canonically"
            yield from _column_faults(sheet, entry)
            yield from self._signature_faults(sheet, entry)
            yield from _acceptance_faults(sheet, entry)
        except (KeyError, TypeError, NotPlain) as error:
            yield f"its entry lacks something ({error})"

    def _signature_faults(self, sheet: SealedSheet, entry: Mapping[str, Any]) -> Iterator[str]:
        named = {each["role"]: each for each in entry["signatures"]}
        rows = Signature.objects.filter(signing=sheet.signing).select_related("person").order_by("pk")
        for row in rows:
            if row.role not in named:
                yield f"a signature “{row.role}” ({row.person}) stands in the book that its entry does not name"
        by_role = {row.role: row for row in rows}
        for role, told in named.items():
            if role not in by_role:
                yield f"its signature “{role}” by {told['person']['name']} is gone from the book"
                continue
            now = _by_id(chain.signature_plain(by_role[role], told["certificate"]))
            for name, value in _by_id(told).items():
                if now.get(name) != value:
                    yield f"signature “{role}”: {_column(name)} in the book is {now.get(name)}, was sealed as {value}"
            if self._people.get(told["certificate"]) != told["person"]["id"]:
                yield f"signature “{role}”: its certificate is not in the book as that of {told['person']['name']}"


def _roots() -> Iterator[asn1_x509.Certificate]:
    for pem_text in Authority.objects.values_list("certificate", flat=True):
        try:
            yield asn1_x509.Certificate.load(pem.unarmor(pem_text.encode())[2])
        except ValueError:
            continue  # told where the keys are looked at


def _people_by_certificate() -> Iterator[tuple[str, int]]:
    for record in SignerCertificate.objects.all():
        try:
            yield fingerprint(certificate_of(record)), record.person_id
        except ValueError:
            continue


def _read(entry: bytes) -> dict[str, Any]:
    try:
        found = json.loads(entry)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _column_faults(sheet: SealedSheet, entry: Mapping[str, Any]) -> Iterator[str]:
    signing = sheet.signing
    now = _flat(
        {
            "number": sheet.number,
            "revision": sheet.revision,
            "previous_digest": sheet.previous_digest,
            "sealed_at": time_text(sheet.sealed_at),
            "job": {"id": signing.build_id},
            **{name: value for name, value in chain.sheet_plain(signing).items() if name != "revision"},
        }
    )
    told = _flat(entry)
    for name, value in now.items():
        if told.get(name) != value:
            yield f"{_column(name)} in the book is {_said(value)}, was sealed as {_said(told.get(name))}"
    if signing.revises_id is not None and signing.revises is None:
        yield f"the sheet that it revises (row {signing.revises_id}) is not in the book"
    if signing.digest != entry["snapshot"]:
        yield f"the digest of what it shows is {signing.digest} in the book, was sealed as {entry['snapshot']}"


def _acceptance_faults(sheet: SealedSheet, entry: Mapping[str, Any]) -> Iterator[str]:
    told = {each["client_id"]: each for each in entry["acceptances"]}
    rows = Acceptance.objects.filter(client_id__in=list(told)).select_related("accepted_by")
    found = {str(row.client_id): row for row in rows}
    for client_id, each in told.items():
        row = found.get(client_id)
        if row is None:
            yield f"the acceptance of “{each['words']}” is gone from the book"
            continue
        now = {**_by_id(chain.acceptance_plain(row)), "job": row.build_id}
        for name, value in {**_by_id(each), "job": entry["job"]["id"]}.items():
            if now.get(name) != value:
                yield f"acceptance of “{each['words']}”: {_column(name)} is {now.get(name)}, was sealed as {value}"


def _by_id(plain: Mapping[str, Any]) -> dict[str, Any]:
    """People by their number alone: a name may change, the person does not."""
    return {name: value["id"] if isinstance(value, dict) else value for name, value in plain.items()}


def _flat(plain: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in plain.items():
        if isinstance(value, dict) and "id" in value and "name" in value:
            found[f"{before}{name}.id"] = value["id"]
        elif isinstance(value, dict):
            found |= _flat(value, f"{before}{name}.")
        elif not isinstance(value, list):
            found[before + name] = value
    return found


def _column(name: str) -> str:
    return name.removesuffix(".id").replace(".", ", ").replace("_", " ")


def _said(value: Any) -> str:
    return "nothing" if value in (None, "") else str(value)
