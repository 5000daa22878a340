"""The PDF of a sealed sheet: printed as PDF/A-3b with snapshot and entry inside, then signed twice.

Both signature fields go in first. The one who measured certifies the file and allows only fields to be filled; the
checker signs what then stands, in a revision of its own. Times are given, never asked of the clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from asn1crypto import keys as asn1_keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from django.conf import settings
from pyhanko.pdf_utils.font.api import FontEngineFactory
from pyhanko.pdf_utils.font.opentype import GlyphAccumulator
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.layout import AxisAlignment, InnerScaling, Margins, SimpleBoxLayoutRule
from pyhanko.pdf_utils.text import TextBoxStyle
from pyhanko.pdf_utils.writer import BasePdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko.stamp import TextStampStyle
from pyhanko_certvalidator.registry import SimpleCertificateStore

from builds.models import Role
from builds.printing.paper import Paper
from builds.printing.press import to_pdf
from builds.sealing.authority import SigningKey
from builds.sealing.kinds import SealedPage
from builds.sealing.places import block

SNAPSHOT, ENTRY = "snapshot.json", "entry.json"
FACE = Path(settings.BASE_DIR) / "static/fonts/IBMPlexSans-Regular.ttf"
INK = (0.15, 0.16, 0.17)
MOST_SECONDS = 120.0
LETTERING = 8


class _HouseFace(FontEngineFactory):
    """The house's own font for a block, embedded; pyHanko's own factory leaves the file open."""

    def create_font_engine(self, writer: BasePdfFileWriter, obj_stream: Any = None) -> GlyphAccumulator:
        """The font, for one writer."""
        return GlyphAccumulator(
            writer, BytesIO(FACE.read_bytes()), font_size=LETTERING, obj_stream=obj_stream
        )


STYLE = TextStampStyle(
    border_width=0,
    stamp_text="%(words)s",
    text_box_style=TextBoxStyle(font=_HouseFace(), font_size=LETTERING, text_color=INK),
    inner_content_layout=SimpleBoxLayoutRule(
        x_align=AxisAlignment.ALIGN_MIN, y_align=AxisAlignment.ALIGN_MID, margins=Margins(3, 6, 4, 4),
        inner_content_scaling=InnerScaling.SHRINK_TO_FIT,
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Block:
    """One signature for the PDF: whose, with which key, when, and what its block says."""

    role: str
    name: str
    meaning: str
    key: SigningKey
    at: datetime
    at_words: str

    @property
    def words(self) -> str:
        """What stands in the visible block."""
        print_of_key = self.key.fingerprint
        lines = [
            f"{Role(self.role).label.capitalize()} {self.name}",
            self.at_words,
            *_wrapped(self.meaning, 52),
            f"Certificate {print_of_key[:32]}",
            f"                     {print_of_key[32:]}".replace("  ", "\u2002"),
        ]
        return "\n".join(lines)


def print_sheet(page: SealedPage, snapshot: bytes, entry: bytes, at: datetime) -> bytes:
    """Print a sheet with its snapshot and its entry inside."""
    return to_pdf(
        page.html,
        drawings=page.drawings,
        pictures=page.pictures,
        stylesheets=page.stylesheets,
        attachments={SNAPSHOT: snapshot, ENTRY: entry},
        attached_at=at,
        seconds=MOST_SECONDS,
    )


def sign_twice(pdf: bytes, blocks: Sequence[Block], paper: Paper) -> bytes:
    """Put both fields in, then sign them in their order, each in a revision of its own."""
    out = IncrementalPdfFileWriter(BytesIO(pdf))
    for each in blocks:
        box = block(paper, each.role).right_half().in_points(paper)
        fields.append_signature_field(
            out,
            fields.SigFieldSpec(
                each.role, on_page=-1, box=box, readable_field_name=Role(each.role).label.capitalize()
            ),
        )
    for place, each in enumerate(blocks):
        signed = _PunctualSigner(_meta(each, certify=place == 0), _signer(each.key), each.at).sign_pdf(
            out, existing_fields_only=True, appearance_text_params={"words": each.words}
        )
        pdf = signed.getvalue()
        out = IncrementalPdfFileWriter(BytesIO(pdf))
    return pdf


class _PunctualSigner(signers.PdfSigner):
    """Signs at the time that it is told."""

    def __init__(self, meta: signers.PdfSignatureMetadata, signer: signers.Signer, at: datetime) -> None:
        super().__init__(meta, signer=signer, stamp_style=STYLE)
        self._at = at

    def init_signing_session(self, pdf_out: Any, existing_fields_only: bool = False) -> PdfSigningSession:
        """A session whose time is the signature's own."""
        session = super().init_signing_session(pdf_out, existing_fields_only)
        session.system_time = self._at
        return session


def _meta(each: Block, *, certify: bool) -> signers.PdfSignatureMetadata:
    return signers.PdfSignatureMetadata(
        field_name=each.role,
        name=each.name,
        reason=each.meaning,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        certify=certify,
        docmdp_permissions=fields.MDPPerm.FILL_FORMS,
    )


def _signer(key: SigningKey) -> signers.SimpleSigner:
    registry = SimpleCertificateStore()  # type: ignore[no-untyped-call]
    registry.register(_asn1(key.root))
    der = key.key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return signers.SimpleSigner(
        signing_cert=_asn1(key.certificate),
        signing_key=asn1_keys.PrivateKeyInfo.load(der),
        cert_registry=registry,
    )


def _asn1(certificate: x509.Certificate) -> asn1_x509.Certificate:
    return asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER))


def _wrapped(text: str, width: int) -> list[str]:
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + len(word) >= width:
            lines.append(line)
            line = ""
        line = f"{line} {word}".strip()
    return [*lines, line][:3]
