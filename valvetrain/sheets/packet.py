"""The customer packet: every sheet of a job in one PDF, with a table of contents.

To put PDFs together changes them, and a digital signature says so of any change. So what is sealed goes in twice: its
pages for reading, and the sealed file itself, byte for byte, as an attachment.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from django.template.loader import render_to_string
from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, StreamObject

from builds.models import Build, Person, SealedSheet, Shop
from builds.printing.background import Progress
from builds.printing.paper import Paper, ground
from builds.printing.press import SHEET, to_pdf
from builds.sealing.kinds import Plain, SheetKind, kind_of, sheet_kinds
from valvetrain.sheets import facts
from valvetrain.sheets.foot import foot
from valvetrain.sheets.snapshot import Fact
from valvetrain.sheets.words import CAUTIONS, when

STYLE = "css/build_sheet.css"
SECONDS = 150.0


@dataclass(frozen=True)
class PacketSheet:
    """One sheet of a packet: the sealed file, or what a draft is printed from."""

    kind: str
    title: str
    number: int = 0
    revision: int = 0
    sealed_at: str = ""
    digest: str = ""
    pdf: bytes = b""
    plain: Plain = field(default_factory=dict)

    @property
    def is_sealed(self) -> bool:
        """Whether it is signed and sealed."""
        return self.number > 0

    @property
    def file_name(self) -> str:
        """What a sealed one is called as an attachment."""
        return f"sheet-{self.number}.pdf"

    @property
    def sha256(self) -> str:
        """Digest of the attached file."""
        return hashlib.sha256(self.pdf).hexdigest()


@dataclass(frozen=True)
class Packet:
    """A packet before it is printed: nothing more is asked of the database."""

    shop: list[str]
    job: str
    title: list[Fact]
    sheets: list[PacketSheet]
    cautions: list[str]
    unit: str
    printed: str
    printed_by: str

    @property
    def unit_name(self) -> str:
        """The unit of the drafts' lengths, as a word."""
        return "millimetres" if self.unit == "mm" else "inches"

    @property
    def sealed(self) -> list[PacketSheet]:
        """Those that are signed and sealed."""
        return [sheet for sheet in self.sheets if sheet.is_sealed]

    @property
    def drafts(self) -> list[PacketSheet]:
        """Those that are not."""
        return [sheet for sheet in self.sheets if not sheet.is_sealed]


@dataclass(frozen=True)
class Entry:
    """A line of the table of contents."""

    sheet: PacketSheet
    pages: int
    begins: int


def packet_of(build: Build, person: Person, now: str) -> Packet:
    """Gather every sheet of a job: the newest sealed one of each, else what its draft shows now."""
    unit, sealed = person.length_unit, sealed_of(build)
    return Packet(
        shop=facts.letterhead(Shop.get()),
        job=build.job_number,
        title=facts.title(build),
        sheets=[
            _sheet(kind, build, subject, title, unit, sealed.get((kind.key, subject)))
            for kind, subject, title in sheets_of(build)
        ],
        cautions=CAUTIONS,
        unit=unit,
        printed=now,
        printed_by=str(person),
    )


def sheets_of(build: Build) -> list[tuple[SheetKind, str, str]]:
    """Every sheet that a job has: its kind, its subject, and its title."""
    return [
        (kind, subject, f"{kind.name.capitalize()}, {words}" if words else kind.name.capitalize())
        for kind in sheet_kinds()
        for subject, words in kind.subjects(build)
    ]


def sealed_of(build: Build) -> dict[tuple[str, str], SealedSheet]:
    """The newest sealed revision of each sheet of a job, by kind and subject."""
    found: dict[tuple[str, str], SealedSheet] = {}
    for sheet in SealedSheet.objects.for_list().filter(signing__build=build):
        found.setdefault((sheet.signing.kind, sheet.signing.subject), sheet)
    return found


def _sheet(
    kind: SheetKind, build: Build, subject: str, title: str, unit: str, sealed: SealedSheet | None
) -> PacketSheet:
    if sealed is None:
        return PacketSheet(kind.key, title, plain=kind.taken(build, subject, unit))
    pdf = SealedSheet.objects.values_list("pdf", flat=True).get(pk=sealed.pk)
    return PacketSheet(
        kind.key, title, sealed.number, sealed.revision, when(sealed.sealed_at), sealed.digest, bytes(pdf)
    )


def packet_pdf(packet: Packet, paper: Paper, progress: Progress) -> bytes:
    """The packet as PDF, sheet by sheet. Raises `PrintingFailed` with a sentence."""
    steps = len(packet.sheets) + 1
    bodies = []
    for number, sheet in enumerate(packet.sheets, start=1):
        progress(sheet.title, number, steps)
        bodies.append(PdfReader(BytesIO(sheet.pdf if sheet.is_sealed else draft_pdf(sheet, paper))))
    progress("Cover and table of contents", steps, steps)
    cover = _cover(packet, bodies, paper)
    return _together(packet, cover, bodies)


def draft_pdf(sheet: PacketSheet, paper: Paper) -> bytes:
    """A sheet that is not sealed, marked as the draft that it is."""
    page = kind_of(sheet.kind).render(sheet.plain, None, paper)
    return to_pdf(
        page.html,
        drawings=page.drawings,
        pictures=page.pictures,
        stylesheets=page.stylesheets,
        seconds=SECONDS,
    )


def _cover(packet: Packet, bodies: Sequence[PdfReader], paper: Paper) -> PdfReader:
    """The cover; printed once more where it takes more pages than was thought, since all that follows moves."""
    counts = [len(body.pages) for body in bodies]
    taken = 1
    while True:
        cover = PdfReader(BytesIO(_cover_pdf(packet, counts, taken, paper)))
        if len(cover.pages) <= taken:
            return cover
        taken = len(cover.pages)


def _cover_pdf(packet: Packet, counts: Sequence[int], taken: int, paper: Paper) -> bytes:
    entries, begins = [], taken + 1
    for sheet, pages in zip(packet.sheets, counts, strict=True):
        entries.append(Entry(sheet, pages, begins))
        begins += pages
    html = render_to_string(
        "sheets/packet.html",
        {"packet": packet, "entries": entries, "total": begins - 1, "paper": paper},
    )
    engine = next((fact.text for fact in packet.title if fact.name == "engine"), "")
    cells = foot(
        packet.shop[0], packet.job, ("engine", engine), "customer packet", packet.unit_name,
        printed=packet.printed, draft=False, seal=None,
    )  # fmt: skip
    return to_pdf(html, drawings={"ground": ground(paper, cells=cells)}, stylesheets=(*SHEET, STYLE))


def _together(packet: Packet, cover: PdfReader, bodies: Sequence[PdfReader]) -> bytes:
    writer = PdfWriter()
    writer.append(cover, outline_item="Contents", import_outline=False)
    for sheet, body in zip(packet.sheets, bodies, strict=True):
        first = len(writer.pages)
        writer.append(body, import_outline=False)
        writer.add_outline_item(title=sheet.title, page_number=first)
        for page in writer.pages[first:]:
            flatten(page)
    writer.root_object.pop(NameObject("/AcroForm"), None)
    for sheet in packet.sealed:
        writer.add_attachment(sheet.file_name, sheet.pdf)
    writer.add_metadata(
        {"/Title": f"Customer packet, job {packet.job}", "/Author": packet.shop[0], "/Producer": "Standbook"}
    )
    told = BytesIO()
    writer.write(told)
    return told.getvalue()


def flatten(page: Any) -> None:
    """Make what a page's form fields show a part of the page, and take the fields away.

    A signature's field on a copy would be shown as a broken signature; what it says in words stays.
    """
    kept, drawn = ArrayObject(), []
    for each in page.get("/Annots", ArrayObject()):
        field_ = each.get_object()
        if field_.get("/Subtype") != "/Widget":
            kept.append(each)
            continue
        look = _look_of(field_)
        if look is not None and isinstance(look.get_object(), StreamObject):
            drawn.append((look, [float(side) for side in field_["/Rect"]]))
    page[NameObject("/Annots")] = kept
    if drawn:
        _draw(page, drawn)


def _look_of(widget: Any) -> Any:
    """The drawing of a field, as the reference to it."""
    looks = widget.get("/AP", DictionaryObject()).get_object()
    return looks.raw_get("/N") if "/N" in looks else None


def _draw(page: Any, drawn: Sequence[tuple[Any, list[float]]]) -> None:
    """Add what the fields show behind the page's own content, which may leave its axes turned."""
    resources = page.setdefault(NameObject("/Resources"), DictionaryObject()).get_object()
    objects = resources.setdefault(NameObject("/XObject"), DictionaryObject()).get_object()
    commands = ["Q"]
    for number, (look, (left, bottom, right, top)) in enumerate(drawn):
        box = look.get_object().get("/BBox", (0, 0, right - left, top - bottom))
        (x0, x1), (y0, y1) = (sorted(float(box[at]) for at in pair) for pair in ((0, 2), (1, 3)))
        across, up = (right - left) / ((x1 - x0) or 1.0), (top - bottom) / ((y1 - y0) or 1.0)
        objects[NameObject(f"/Field{number}")] = look
        place = (across, 0.0, 0.0, up, left - x0 * across, bottom - y0 * up)
        commands.append(f"q {' '.join(f'{value:.4f}' for value in place)} cm /Field{number} Do Q")
    content = page.raw_get("/Contents")
    parts = content.get_object() if isinstance(content.get_object(), ArrayObject) else ArrayObject([content])
    before, after = _stream(page, "q\n"), _stream(page, "\n" + "\n".join(commands))
    page[NameObject("/Contents")] = ArrayObject([before, *parts, after])


def _stream(page: Any, commands: str) -> Any:
    """A piece of a page's content, as the reference to it."""
    stream = StreamObject()
    stream.set_data(commands.encode())
    return page.indirect_reference.pdf._add_object(stream)
