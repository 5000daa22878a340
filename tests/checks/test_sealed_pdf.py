"""A sealed PDF by outside readers, and every place in it touched.

pdfsig (poppler, with trust from an NSS database) and qpdf look at the file without any of this book's code; the
standalone verifier stands on pyHanko. What is flipped: bytes spread over the whole file, and every region that has a role
of its own.
"""

import json
import random
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pypdf import PdfReader

from builds.models import Authority, Person
from builds.sealing import authority, standalone
from builds.sealing.canonical import digest, digest_words
from tests.builds.a_sheet import NOON, read
from tests.builds.sealing_scene import make_scene

# The database is set up for those who ask for it; the sheets below are sealed in one.
pytestmark = pytest.mark.django_db

BASE = Path(__file__).resolve().parent.parent.parent
SPREAD = 200
IN_A_REGION = 1


@dataclass(frozen=True)
class Issued:
    """What left the shop: its PDFs, and its root certificate.

    `remade` is a first sheet by the same keys over another reading, as of a shop that seals everything anew.
    """

    pdfs: tuple[bytes, ...]
    remade: bytes
    root: str


@pytest.fixture(scope="module")
def issued(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> Issued:
    """Three sheets, sealed once for all tests here; the book that sealed them is forgotten."""
    folder = tmp_path_factory.mktemp("book")
    shop = override_settings(DATA_DIR=folder, SIGNING_PASSPHRASE="a passphrase of the test")
    with django_db_blocker.unblock(), shop, transaction.atomic():
        builder = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
        with make_scene(folder, builder) as scene:
            for person in (scene.tech, scene.checker):
                authority.certificate_for(person, NOON)
            with transaction.atomic():
                read(scene.job, scene.tech, "0.021")
                remade = scene.seal().pdf
                transaction.set_rollback(True)
            pdfs = [
                scene.seal(at=NOON + timedelta(hours=count), **({"reason": "again"} if count else {})).pdf
                for count in range(3)
            ]
        root = Authority.objects.get().certificate
        transaction.set_rollback(True)
    return Issued(tuple(pdfs), remade, root)


@pytest.fixture
def pdf(issued: Issued) -> bytes:
    """The first sealed sheet."""
    return issued.pdfs[0]


def ran(*command: str | Path) -> str:
    """What a program says; it has to end well."""
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.fixture
def trusting(issued: Issued, tmp_path: Path) -> Any:
    """pdfsig with the shop's root trusted, as somebody outside would set it up."""

    def look(pdf: bytes) -> str:
        folder, root, path = tmp_path / "nss", tmp_path / "root.pem", tmp_path / "sheet.pdf"
        if not folder.exists():
            folder.mkdir()
            root.write_text(issued.root)
            ran("certutil", "-N", "-d", f"sql:{folder}", "--empty-password")
            ran("certutil", "-A", "-d", f"sql:{folder}", "-n", "root", "-t", "CT,C,C", "-i", root)
        path.write_bytes(pdf)
        return ran("pdfsig", "-nssdir", f"sql:{folder}", path)

    return look


def test_pdfsig_finds_two_valid_trusted_signatures_over_the_whole_file(pdf: bytes, trusting: Any) -> None:
    told = trusting(pdf)
    assert told.count("Signature is Valid.") == 2
    assert told.count("Certificate is Trusted.") == 2
    assert told.count("ETSI.CAdES.detached") == 2
    assert re.findall(r"Common Name: (.+)", told) == ["Nora Vesterlund", "Ylva Norrgard"]
    assert "Total document signed" in told.split("Signature #2")[1]


def test_pdfsig_finds_a_changed_figure(pdf: bytes, trusting: Any) -> None:
    place = pdf.index(b"stream") + 40
    touched = pdf[:place] + bytes([pdf[place] ^ 1]) + pdf[place + 1 :]
    assert "Signature is Valid." not in trusting(touched)


def test_qpdf_finds_nothing_to_complain_of(pdf: bytes, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    assert "No syntax or stream encoding errors found" in ran("qpdf", "--check", path)


def test_its_structure_is_that_of_pdf_a_3b(pdf: bytes, tmp_path: Path) -> None:
    """The structure only: no reader here gives a verdict on PDF/A as a whole."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    fonts = ran("pdffonts", path).splitlines()[2:]
    assert len(fonts) >= 4  # the page's two faces, and that of each signature block
    assert all("Plex" in line and " yes yes yes " in line for line in fonts)
    root: Any = PdfReader(BytesIO(pdf)).trailer["/Root"]
    metadata = root["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part\W+3\b", metadata)
    assert re.search(r"pdfaid:conformance\W+B\b", metadata)
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert "/Encrypt" not in PdfReader(BytesIO(pdf)).trailer
    beside = {each.get_object()["/UF"]: each.get_object()["/AFRelationship"] for each in root["/AF"]}
    assert beside == {"snapshot.json": "/Source", "entry.json": "/Source"}


def test_digest_number_and_figures_stand_on_the_pages(pdf: bytes) -> None:
    reader = PdfReader(BytesIO(pdf))
    entry, snapshot = (reader.attachments[name][0] for name in ("entry.json", "snapshot.json"))
    pages = [" ".join(page.extract_text().split()) for page in reader.pages]
    assert all(digest_words(digest(entry)) in page for page in pages)
    for line in json.loads(snapshot)["lines"]:
        assert line["value"] in pages[0]
    for signed in json.loads(entry)["signatures"]:
        assert signed["person"]["name"] in pages[-1]


def regions(pdf: bytes) -> dict[str, tuple[int, int]]:
    """Parts of the file that have a role of their own, by name: start and end."""
    found = {"header": (0, 15), "end": (len(pdf) - 30, len(pdf))}
    for count, match in enumerate(re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)):
        found[f"stream {count}"] = match.span(1)
    for count, match in enumerate(re.finditer(rb"\d+ \d+ obj\b(.{0,200})", pdf, re.DOTALL)):
        found[f"object {count}"] = match.span()
    for count, match in enumerate(re.finditer(rb"startxref\s+\d+", pdf)):
        found[f"startxref {count}"] = match.span()
    for count, match in enumerate(re.finditer(rb"\nxref\n.*?trailer.*?>>", pdf, re.DOTALL)):
        found[f"table {count}"] = match.span()
    for count, match in enumerate(re.finditer(rb"/Contents <([0-9A-F]+)>", pdf)):
        start, end = match.span(1)
        length = len(match[1].rstrip(b"0"))
        found[f"signature {count}"] = (start, start + length)
        found[f"signature {count} padding"] = (start + length, end)
        found[f"signature {count} edges"] = (start - 1, start + 1)
    for count, match in enumerate(re.finditer(rb"/ByteRange *\[[^\]]*\]", pdf)):
        found[f"byte range {count}"] = match.span()
    return found


def test_a_flipped_bit_anywhere_is_found_by_the_standalone_verifier_alone(pdf: bytes) -> None:
    """No place is left out, the signatures' own places included; the stored digest finds each of them as well."""
    chance = random.Random(5)
    places = {round(at * (len(pdf) - 1) / (SPREAD - 1)) for at in range(SPREAD)}
    for start, end in regions(pdf).values():
        if start == end:
            continue
        places |= {start, end - 1, *(chance.randrange(start, end) for _count in range(IN_A_REGION))}
    # What stands around the last signature is covered by nothing: it is held to how this book writes it.
    frame = regions(pdf)["signature 1"][0]
    places |= set(range(frame, frame + 100, 3))
    missed = []
    for place in sorted(places):
        touched = bytearray(pdf)
        touched[place] ^= 1 << chance.randrange(8)
        assert digest(bytes(touched)) != digest(pdf)
        if not standalone.examine("sheet", bytes(touched)).faults:
            missed.append((place, pdf[place - 10 : place + 10]))
    assert len(places) > SPREAD + 100
    assert missed == []


@pytest.mark.parametrize("junk", [b"\n", b" ", b"%%EOF", b"\n% a remark\n", b"1 0 obj\n<<>>\nendobj\n"])
def test_junk_after_the_last_signature_is_found(pdf: bytes, junk: bytes) -> None:
    told = [fault.what for fault in standalone.examine("sheet", pdf + junk).faults]
    assert told != []
    if junk != b"%%EOF":  # that one keeps a reader from finding the file's end at all
        assert any("it does not cover the file from its first byte to its last" in what for what in told)


def test_an_update_after_the_last_signature_is_found(pdf: bytes, trusting: Any) -> None:
    writer = IncrementalPdfFileWriter(BytesIO(pdf))
    page = writer.root["/Pages"]["/Kids"][0]
    page["/Rotate"] = generic.NumberObject(180)
    writer.update_container(page)
    out = BytesIO()
    writer.write(out)
    touched = out.getvalue()
    told = " ".join(fault.what for fault in standalone.examine("sheet", touched).faults)
    assert "something was changed after it that it does not allow" in told
    assert "something was added after the last signature" in told
    # An outside reader alone is not enough: it calls the signatures valid, and adds that they do not cover everything.
    assert "Total document signed" not in trusting(touched).replace("Not total document signed", "")


def test_a_cut_off_revision_is_found(pdf: bytes) -> None:
    first_end = pdf.index(b"%%EOF", pdf.index(b"/ByteRange")) + len(b"%%EOF\n")
    told = [fault.what for fault in standalone.examine("sheet", pdf[:first_end]).faults]
    assert told != []


# --- a folder of PDFs, by the one file alone ------------------------------------------------------------------------


@pytest.fixture
def folder(issued: Issued, tmp_path: Path) -> Path:
    """Three sealed sheets in a folder, and the verifier beside it, away from this book."""
    place = tmp_path / "sheets"
    place.mkdir()
    for count, pdf in enumerate(issued.pdfs, start=1):
        (place / f"{count}.pdf").write_bytes(pdf)
    (tmp_path / "root.pem").write_text(issued.root)
    shutil.copy(BASE / "builds/sealing/standalone.py", tmp_path / "verifier.py")
    return place


def verifier(folder: Path, *more: str | Path) -> tuple[int, str]:
    """Run the one file where nothing of this book can be imported."""
    command = [sys.executable, "-I", "verifier.py", folder, *more]
    done = subprocess.run(command, cwd=folder.parent, capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout + done.stderr


def test_the_one_file_finds_nothing_wrong_and_names_the_root(folder: Path) -> None:
    code, told = verifier(folder, "--root", folder.parent / "root.pem")
    assert (code, told.count("ok  ")) == (0, 3)
    assert "3 sheets, nothing wrong." in told
    assert "Root certificate, SHA-256" in told


def test_it_finds_an_edit(folder: Path) -> None:
    pdf = bytearray((folder / "2.pdf").read_bytes())
    pdf[pdf.index(b"stream") + 40] ^= 1
    (folder / "2.pdf").write_bytes(pdf)
    code, told = verifier(folder)
    assert code == 1
    assert "DOES NOT MATCH  2.pdf: " in told


def test_it_finds_a_deletion(folder: Path) -> None:
    (folder / "2.pdf").unlink()
    code, told = verifier(folder)
    assert code == 1
    assert "sheet 2: it is missing: the chain has a gap here" in told


def test_it_finds_two_with_one_number_and_another_book_s_sheet(folder: Path) -> None:
    shutil.copy(folder / "2.pdf", folder / "4.pdf")
    code, told = verifier(folder)
    assert code == 1
    assert "4.pdf: it has the number 2, as 2.pdf has" in told


def test_names_of_files_do_not_matter_their_entries_do(folder: Path) -> None:
    (folder / "1.pdf").rename(folder / "x.pdf")
    (folder / "2.pdf").rename(folder / "1.pdf")
    assert verifier(folder)[0] == 0


def test_it_finds_a_truncation_by_a_witness(folder: Path) -> None:
    witness = folder.parent / "witness.pdf"
    (folder / "3.pdf").rename(witness)
    assert verifier(folder)[0] == 0
    code, told = verifier(folder, "--witness", witness)
    assert code == 1
    assert "the chain ends at 2, but the witness is sheet 3: the end was cut off" in told


def test_it_finds_a_chain_made_anew_by_a_witness(folder: Path, issued: Issued) -> None:
    witness = folder.parent / "witness.pdf"
    (folder / "1.pdf").rename(witness)
    (folder / "1.pdf").write_bytes(issued.remade)
    for count in (2, 3):
        (folder / f"{count}.pdf").unlink()
    assert verifier(folder)[0] == 0  # by itself it is a chain like any
    code, told = verifier(folder, "--witness", witness)
    assert code == 1
    assert "1.pdf: sheet 1 is another one than the witness witness.pdf: the chain was made anew" in told


def test_it_finds_a_sheet_put_in_the_place_of_another(folder: Path, issued: Issued) -> None:
    (folder / "1.pdf").write_bytes(issued.remade)
    code, told = verifier(folder)
    assert code == 1
    assert "2.pdf: the entry before it is not the one that it was linked to (1.pdf)" in told
    assert "1.pdf: it is not, byte for byte, the PDF that sheet 2 was linked to" in told


def test_it_finds_sheets_of_another_root(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.pem"
    key = authority.ec.generate_private_key(authority.ec.SECP256R1())
    name = authority._name("Another shop", "Another shop")
    builder = authority._certificate(name, name, key.public_key(), NOON)
    other.write_text(authority._pem(builder.sign(key, authority.hashes.SHA256())))
    code, told = verifier(folder, "--root", other)
    assert code == 1
    assert "its certificate is not from the shop’s authority" in told


def test_it_says_it_as_json_and_says_when_it_cannot_look(folder: Path, tmp_path: Path) -> None:
    code, told = verifier(folder, "--json")
    assert (code, json.loads(told)["faults"]) == (0, [])
    assert [sheet["number"] for sheet in json.loads(told)["sheets"]] == [1, 2, 3]
    assert verifier(tmp_path / "nowhere")[0] == 2
    assert verifier(folder, "--witness", tmp_path / "nowhere.pdf")[0] == 2
