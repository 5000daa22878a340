"""Checks a folder of sealed PDFs by itself: needs Python and pyHanko, no database and nothing else of this book.

    python standalone.py FOLDER [--witness OLD.pdf ...] [--root ROOT.pem] [--json]

Each file must hold two signatures that are whole, valid and by certificates of one root, the last over the entire file;
the entry inside must name the snapshot inside, the certificates, and the sheet and the PDF before it. The files together
must be a chain without a gap. A witness is a sealed PDF from elsewhere, an older one from a customer or a backup: a chain
that was made anew, or cut off, cannot agree with it. Exit code 0: nothing wrong; 1: something does not match; 2: it could
not look.
"""

import argparse
import hashlib
import json
import logging
import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from asn1crypto import cms, pem
from asn1crypto import x509 as asn1_x509
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko.sign.validation.status import PdfSignatureStatus, SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

SNAPSHOT, ENTRY = "snapshot.json", "entry.json"
ROLES = ("measured", "checked")
MOST_ZEROS = 4
CHANGED = "what it covers was changed after signing"
SHA256 = {"algorithm": "sha256", "parameters": None}
FRAME = [
    "signed_data", "v1", [SHA256], {"content_type": "data", "content": None},
    "v1", SHA256, {"algorithm": "sha256_ecdsa", "parameters": None}, None, None,
]  # fmt: skip
HEXADECIMALS = re.compile(rb"<[0-9A-F]+>")


@dataclass(frozen=True)
class Fault:
    """One thing that does not match: where, and what."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


@dataclass
class Sheet:
    """A sealed PDF as it was found."""

    name: str
    sha256: str
    entry: dict[str, Any] = field(default_factory=dict)
    digest: str = ""
    root: str = ""
    snapshot: bytes = b""
    entry_bytes: bytes = b""
    faults: list[Fault] = field(default_factory=list)

    @property
    def number(self) -> int:
        """Its number in the chain; 0 where it has no entry."""
        number = self.entry.get("number")
        return number if isinstance(number, int) else 0

    def blame(self, what: str) -> None:
        """Note a fault."""
        self.faults.append(Fault(self.name, what))


def examine(name: str, data: bytes, roots: Iterable[asn1_x509.Certificate] = ()) -> Sheet:
    """Look at one PDF by itself. `roots` are those that are trusted; without any, the root inside it is."""
    sheet = Sheet(name, hashlib.sha256(data).hexdigest())
    try:
        _examine(sheet, data, list(roots))
    except Exception as error:  # a file that was touched may fail in any way that a reader can fail
        sheet.blame(f"it cannot be read as a sealed PDF ({type(error).__name__}: {str(error)[:120]})")
    return sheet


def _examine(sheet: Sheet, data: bytes, roots: list[asn1_x509.Certificate]) -> None:
    reader = PdfFileReader(BytesIO(data))
    signatures = list(reader.embedded_signatures)
    if [signature.field_name for signature in signatures] != list(ROLES):
        names = ", ".join(str(signature.field_name) for signature in signatures) or "none"
        sheet.blame(
            f"it should be signed by the one who measured, then by the checker; its signatures: {names}"
        )
        return
    _read_inside(sheet, reader)
    root = _root_inside(signatures[-1])
    sheet.root = "" if root is None else root.sha256.hex()
    # The last first: where that one is broken, what came after the first one need not be weighed as well.
    for place, signature in reversed(list(enumerate(signatures))):
        trusted = roots or ([] if root is None else [root])
        for what in _signature_faults(signature, data, trusted, place, weigh=not _says(sheet, CHANGED)):
            sheet.blame(f"signature “{ROLES[place]}”: {what}")
    _hold_against_entry(sheet, signatures)


def _read_inside(sheet: Sheet, reader: PdfFileReader) -> None:
    inside = attachments(reader)
    if sorted(inside) != sorted((SNAPSHOT, ENTRY)):
        sheet.blame(
            f"it should hold {SNAPSHOT} and {ENTRY}; it holds {', '.join(sorted(inside)) or 'nothing'}"
        )
        return
    sheet.entry_bytes, sheet.snapshot = inside[ENTRY], inside[SNAPSHOT]
    sheet.digest = hashlib.sha256(sheet.entry_bytes).hexdigest()
    sheet.entry = json.loads(sheet.entry_bytes)
    if hashlib.sha256(sheet.snapshot).hexdigest() != sheet.entry["snapshot"]:
        sheet.blame(f"{SNAPSHOT} is not the one that {ENTRY} names")


def attachments(reader: PdfFileReader) -> dict[str, bytes]:
    """Every file inside a PDF, by name."""
    try:
        names = reader.root["/Names"]["/EmbeddedFiles"]["/Names"]
    except KeyError:
        return {}
    return {str(names[at]): bytes(names[at + 1]["/EF"]["/F"].data) for at in range(0, len(names), 2)}


def _root_inside(signature: EmbeddedPdfSignature) -> asn1_x509.Certificate | None:
    issued = [each for each in signature.other_embedded_certs if each.self_issued]
    return issued[0] if issued else None


def _says(sheet: Sheet, what: str) -> bool:
    return any(fault.what.endswith(what) for fault in sheet.faults)


def _signature_faults(
    signature: EmbeddedPdfSignature,
    data: bytes,
    roots: Sequence[asn1_x509.Certificate],
    place: int,
    *,
    weigh: bool,
) -> Iterable[str]:
    last = place == len(ROLES) - 1
    yield from _container_faults(signature, data, last)
    trust = ValidationContext(
        trust_roots=list(roots), allow_fetching=False, moment=signature.self_reported_timestamp
    )
    status: PdfSignatureStatus = validate_pdf_signature(signature, trust, skip_diff=not weigh)
    if not status.intact:
        yield CHANGED
    elif not status.valid:
        yield "it is not a signature by the key of its certificate"
    elif not status.trusted:
        yield "its certificate is not from the shop’s authority"
    elif weigh and not status.docmdp_ok:
        yield "something was changed after it that it does not allow"
    elif weigh and not status.bottom_line:
        yield "it is not good"
    if last and status.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        yield "it does not cover the entire file: something was added after the last signature"
    if not last and status.coverage is not None and status.coverage < SignatureCoverageLevel.ENTIRE_REVISION:
        yield "it does not cover the whole of what was there when it was made"


def _container_faults(signature: EmbeddedPdfSignature, data: bytes, last: bool) -> Iterable[str]:
    """The only bytes that a signature cannot cover are its own: nothing may hide there."""
    start, before, after, rest = (int(number) for number in signature.byte_range)
    own = data[before:after]
    if start != 0 or (last and after + rest != len(data)):
        yield "it does not cover the file from its first byte to its last"
    if not HEXADECIMALS.fullmatch(own):
        yield "the place of the signature itself holds something else"
        return
    held = bytes.fromhex(own[1:-1].decode())
    length = _der_length(held)
    # Its last bytes may themselves be 0, but hardly so many.
    if any(held[length:]) or length - len(held.rstrip(b"\0")) > MOST_ZEROS:
        yield "something was written behind the signature, in its own place"
    elif _frame(cms.ContentInfo.load(held[:length], strict=True)) != FRAME:
        yield "what stands around the signature is not as this book writes it"


def _der_length(held: bytes) -> int:
    if held[1] < 0x80:
        return 2 + held[1]
    count = held[1] & 0x7F
    return 2 + count + int.from_bytes(held[2 : 2 + count], "big")


def _frame(container: cms.ContentInfo) -> list[Any]:
    """What stands around a signature and is not covered by it."""
    signed = container["content"]
    parts = [
        container["content_type"],
        signed["version"],
        signed["digest_algorithms"],
        signed["encap_content_info"],
    ]
    for signer in signed["signer_infos"]:
        parts += [
            signer["version"],
            signer["digest_algorithm"],
            signer["signature_algorithm"],
            signer["unsigned_attrs"],
        ]
    return [json.loads(json.dumps(part.native)) for part in [*parts, signed["crls"]]]


def _hold_against_entry(sheet: Sheet, signatures: list[EmbeddedPdfSignature]) -> None:
    if not sheet.entry:
        return
    named = sheet.entry["signatures"]
    if [each["role"] for each in named] != list(ROLES):
        sheet.blame("its entry does not name two signatures")
        return
    for signature, each in zip(signatures, named, strict=True):
        found = signature.signer_cert.sha256.hex()
        if found != each["certificate"]:
            sheet.blame(f"signature “{each['role']}” is by another certificate than its entry names")
    if sheet.root != sheet.entry["authority"]:
        sheet.blame("the root certificate inside is not the one that its entry names")


def chain_faults(
    sheets: Sequence[Sheet], witnesses: Sequence[Sheet] = (), trusted: Iterable[str] = ()
) -> list[Fault]:
    """Whether sheets that were looked at make one chain, and whether it agrees with the witnesses.

    `trusted` are the SHA-256 of the shop's roots, where the shop made its keys anew: then there is more than one.
    """
    faults: list[Fault] = []
    found = sorted((sheet for sheet in sheets if sheet.number), key=lambda sheet: sheet.number)
    by_number: dict[int, Sheet] = {}
    for sheet in found:
        if sheet.number in by_number:
            faults.append(
                Fault(sheet.name, f"it has the number {sheet.number}, as {by_number[sheet.number].name} has")
            )
        by_number.setdefault(sheet.number, sheet)
    newest = max(by_number, default=0)
    gone = [number for number in range(1, newest) if number not in by_number]
    faults += [Fault(f"sheet {number}", "it is missing: the chain has a gap here") for number in gone]
    for number in sorted(by_number):
        faults += _link_faults(by_number[number], by_number.get(number - 1))
    roots = {sheet.root for sheet in found if sheet.root}
    if len(roots) > 1 and not roots <= set(trusted):
        faults.append(
            Fault("chain", f"the sheets are from {len(roots)} different roots: {', '.join(sorted(roots))}")
        )
    for witness in witnesses:
        faults += _witness_faults(witness, by_number, newest)
    return faults


def _link_faults(sheet: Sheet, before: Sheet | None) -> Iterable[Fault]:
    entry = sheet.entry
    if sheet.number == 1:
        if entry["previous_digest"] or entry["previous_pdf"]:
            yield Fault(sheet.name, "it is the first sheet, yet it names one before it")
    elif before is not None:
        if entry["previous_digest"] != before.digest:
            yield Fault(
                sheet.name, f"the entry before it is not the one that it was linked to ({before.name})"
            )
        if entry["previous_pdf"] != before.sha256:
            yield Fault(
                before.name, f"it is not, byte for byte, the PDF that sheet {sheet.number} was linked to"
            )
        if entry["sealed_at"] < before.entry["sealed_at"]:
            yield Fault(sheet.name, f"it was sealed before sheet {before.number}, its forerunner")


def _witness_faults(witness: Sheet, by_number: dict[int, Sheet], newest: int) -> Iterable[Fault]:
    if not witness.number:
        yield Fault(witness.name, "it cannot bear witness: it has no entry")
    elif witness.number > newest:
        cut = f"the chain ends at {newest}, but the witness is sheet {witness.number}: the end was cut off"
        yield Fault(witness.name, cut)
    elif witness.number in by_number and by_number[witness.number].digest != witness.digest:
        other = by_number[witness.number].name
        yield Fault(
            other,
            f"sheet {witness.number} is another one than the witness {witness.name}: the chain was made anew",
        )
    elif witness.number in by_number and by_number[witness.number].sha256 != witness.sha256:
        yield Fault(by_number[witness.number].name, f"it is not, byte for byte, the witness {witness.name}")


def examine_folder(
    folder: Path, witnesses: Sequence[Path] = (), given: Sequence[Path] = ()
) -> tuple[list[Sheet], list[Fault]]:
    """Look at every PDF in a folder, and at the chain that they make. `given` are the shop's root certificates."""
    roots = [_load(path) for path in given]
    sheets = [examine(path.name, path.read_bytes(), roots) for path in sorted(folder.glob("*.pdf"))]
    seen = [examine(path.name, path.read_bytes(), roots) for path in witnesses]
    faults = [fault for sheet in [*sheets, *seen] for fault in sheet.faults]
    return sheets, faults + chain_faults(sheets, seen, [root.sha256.hex() for root in roots])


def _load(path: Path) -> asn1_x509.Certificate:
    data = path.read_bytes()
    return asn1_x509.Certificate.load(pem.unarmor(data)[2] if pem.detect(data) else data)


def main(arguments: Sequence[str] | None = None) -> int:
    """Look, say what was found, and give back the exit code."""
    parser = argparse.ArgumentParser(description="Checks a folder of sealed PDFs.")
    parser.add_argument("folder", type=Path)
    parser.add_argument(
        "--witness", type=Path, action="append", default=[], help="a sealed PDF from elsewhere"
    )
    parser.add_argument(
        "--root", type=Path, action="append", default=[],
        help="the shop's root certificate, from the shop itself; each of them, where it made its keys anew",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="say it as JSON")
    given = parser.parse_args(arguments)
    logging.disable(logging.CRITICAL)
    try:
        sheets, faults = examine_folder(given.folder, given.witness, given.root)
    except (OSError, ValueError) as error:
        print(f"Cannot look: {error}", file=sys.stderr)
        return 2
    if not sheets:
        print(f"There is no PDF in {given.folder}.", file=sys.stderr)
        return 2
    if given.json:
        found = [
            {"name": each.name, "number": each.number, "digest": each.digest, "root": each.root}
            for each in sheets
        ]
        print(json.dumps({"sheets": found, "faults": [asdict(fault) for fault in faults]}, indent=1))
    else:
        for line in _lines(sheets, faults):
            print(line)
    return 1 if faults else 0


def _lines(sheets: Sequence[Sheet], faults: Sequence[Fault]) -> Iterable[str]:
    for sheet in sheets:
        yield f"{'ok  ' if not sheet.faults else 'BAD '} {sheet.name}  sheet {sheet.number or '?'}  {sheet.digest}"
    for root in sorted({sheet.root for sheet in sheets if sheet.root}):
        yield f"Root certificate, SHA-256 {root}: ask the shop whether it is theirs."
    yield from (f"DOES NOT MATCH  {fault}" for fault in faults)
    yield (
        f"{len(sheets)} sheets, {len(faults)} faults." if faults else f"{len(sheets)} sheets, nothing wrong."
    )


if __name__ == "__main__":
    sys.exit(main())
