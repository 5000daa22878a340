"""The customer packet: every sheet of a job in one PDF, the sealed ones attached as they were sealed."""

import subprocess
import time
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from builds.models import Limit, Person, SealedSheet
from builds.printing import runs
from builds.printing.paper import PAPERS
from builds.sealing import authority
from builds.sealing.acceptance import accept
from builds.sealing.kinds import kind_of
from builds.sealing.verify import verify_book
from tests.builds import a_sheet
from tests.builds.a_sheet import NOON
from tests.scenes import Scene, make_scene
from tests.valvetrain.samples import text_of
from tests.valvetrain.test_photo_log import take
from valvetrain.sheets.packet import packet_of, packet_pdf

DRAFTS = "nobody has signed"


@pytest.fixture
def scene(
    builder: Person, photo_folder: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Scene:
    """The left head's heights are in; nothing else is measured, and one photo is taken."""
    settings.DATA_DIR = tmp_path
    settings.SIGNING_PASSPHRASE = ""
    monkeypatch.setitem(authority.SCRYPT, "n", 2**10)
    Limit.add_defaults()
    scene = make_scene(builder)
    for address in ("1E", "1I", "3E", "3I", "5E", "5I", "7E", "7I"):
        scene.read_gap(address, "0.001")
    take(scene, "1E")
    return scene


@pytest.fixture
def checker(db: None) -> Person:
    return Person.objects.create_user(
        "ylva", name="Ylva Norrgard", password="four gauge blocks", may_check=True
    )


@pytest.fixture
def sealed(scene: Scene, checker: Person) -> SealedSheet:
    """The left head's setup sheet, its unread steps accepted, sealed."""
    subject = str(scene.left.pk)
    for item in kind_of("setup").readiness(scene.build, subject).out:
        accept(
            scene.build,
            checker,
            item,
            client_id=uuid4(),
            reason="Measured at the customer’s",
            accepted_at=NOON,
        )
    return a_sheet.sealed(scene.build, scene.person, checker, kind="setup", subject=subject)


def made(scene: Scene, paper: str = "A4") -> bytes:
    said: list[str] = []
    packet = packet_of(scene.build, scene.person, "02 Mar 2026 13:00")
    pdf = packet_pdf(packet, PAPERS[paper], lambda words, done=0, of=0: said.append(f"{words} {done}/{of}"))
    assert said == [
        "Build sheet 1/5", "Setup sheet, Left head 2/5", "Setup sheet, Right head 3/5", "Photo log 4/5",
        "Cover and table of contents 5/5",
    ]  # fmt: skip
    return pdf


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_contents_say_where_each_sheet_begins(scene: Scene, sealed: SealedSheet, paper: str):
    pdf = made(scene, paper)
    pages = text_of(pdf)
    reader = PdfReader(BytesIO(pdf))
    outline = [(item.title, reader.get_destination_page_number(item)) for item in reader.outline]  # type: ignore[union-attr]
    assert [title for title, _page in outline] == [
        "Contents", "Build sheet", "Setup sheet, Left head", "Setup sheet, Right head", "Photo log",
    ]  # fmt: skip
    for title, at in outline[1:]:
        assert f"{at + 1} {title}" in pages[0]
    assert f"1 of {len(pages)}" in pages[0]
    assert "Setup sheet: Left head" in pages[outline[2][1]]


def test_a_sealed_sheet_is_attached_byte_for_byte(scene: Scene, sealed: SealedSheet):
    pdf = made(scene)
    attached = PdfReader(BytesIO(pdf)).attachments
    assert attached == {"sheet-1.pdf": [bytes(sealed.pdf)]}
    cover = text_of(pdf)[0]
    assert "To put sheets together breaks their digital signatures." in cover
    assert f"Signed and sealed {sealed.sealed_at:%d %b %Y}" in cover
    assert sealed.pdf_sha256 in cover.replace(" ", "")


def test_the_copy_shows_its_signatures_in_words_and_has_none_that_is_broken(
    scene: Scene, sealed: SealedSheet, tmp_path: Path
):
    path = tmp_path / "packet.pdf"
    path.write_bytes(made(scene))
    whole = " ".join(text_of(path.read_bytes()))
    assert "Checked by Ylva Norrgard" in whole
    assert "Measured at the customer’s" in whole
    signatures = subprocess.run(["pdfsig", str(path)], capture_output=True, text=True, check=False)
    assert "does not contain any signatures" in signatures.stdout
    # In the upper half of the page, in their blocks, as on the sealed sheet.
    assert block_top(path.read_bytes()) == block_top(bytes(sealed.pdf))
    assert subprocess.run(["qpdf", "--check", str(path)], capture_output=True, check=False).returncode == 0


def test_what_is_not_sealed_is_marked_as_a_draft(scene: Scene):
    pages = text_of(made(scene))
    assert "4 of 4 sheets in this packet are marked DRAFT" in pages[0]
    assert "digital signatures" not in pages[0]
    assert all("DRAFT" in page for page in pages)


def test_the_photo_is_in_it(scene: Scene):
    pictures = [image for page in PdfReader(BytesIO(made(scene))).pages for image in page.images]
    assert len(pictures) == 1


def block_top(pdf: bytes) -> str:
    """Where poppler finds the certificate that stands in the first block, from the top of its page."""
    done = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True)
    line = next(line for line in done.stdout.decode().splitlines() if ">Certificate " in line)
    return line.strip()


def wait_for(run_id: Any) -> runs.PrintRun:
    for _ in range(1200):
        run = runs.find(run_id)
        if run is not None and run.has_ended:
            return run
        time.sleep(0.05)
    raise AssertionError("it was not printed")


@pytest.mark.parametrize(
    ("name", "file"), [("packet", "26-014 packet DRAFT.pdf"), ("build-sheet", "26-014 build sheet DRAFT.pdf")]
)
def test_from_the_key_to_the_pdf(scene: Scene, bench_client: Client, name: str, file: str):
    address = reverse(name, args=[scene.build.pk])
    assert "Print on A4" in bench_client.get(address).content.decode()
    run_id = uuid4()
    answer = bench_client.post(address, {"id": str(run_id), "paper": "A4"})
    assert answer.url == reverse("print-run", args=[run_id])  # type: ignore[attr-defined]
    run = wait_for(run_id)
    assert run.is_done, run.sentence
    served = bench_client.get(reverse("print-run-file", args=[run_id]))
    assert f'filename="{file}"' in served["Content-Disposition"]
    assert b"".join(served.streaming_content).startswith(b"%PDF")  # type: ignore[attr-defined]
    again = bench_client.post(address, {"id": str(run_id), "paper": "A4"})
    assert again.url == reverse("print-run", args=[run_id])  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", ["packet", "build-sheet"])
@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"paper": "A4"}, "This page did not arrive whole."),
        ({"id": str(uuid4()), "paper": "A0<b>"}, "There is no such paper here. Choose A4 or Letter."),
    ],
)
def test_what_cannot_be_printed_is_a_sentence(
    scene: Scene, bench_client: Client, name: str, sent: dict[str, str], sentence: str
):
    answer = bench_client.post(reverse(name, args=[scene.build.pk]), sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


@pytest.mark.parametrize("name", ["packet", "build-sheet"])
def test_a_stranger_prints_nothing(scene: Scene, stranger: Client, tmp_path: Path, name: str):
    answer = stranger.post(reverse(name, args=[scene.build.pk]), {"id": str(uuid4()), "paper": "A4"})
    assert answer.url.startswith(reverse("login"))  # type: ignore[attr-defined]
    assert not (tmp_path / "printing").exists()


@pytest.mark.parametrize("name", ["packet", "build-sheet"])
def test_a_job_that_is_not_there_has_none(scene: Scene, bench_client: Client, name: str):
    assert bench_client.get(reverse(name, args=[987654])).status_code == 404


def test_the_page_says_what_is_sealed_in_as_many_queries_for_one_as_for_none(
    scene: Scene, bench_client: Client, checker: Person, request: pytest.FixtureRequest
):
    address = reverse("packet", args=[scene.build.pk])
    bench_client.get(address)
    with CaptureQueriesContext(connection) as none:
        assert bench_client.get(address).content.decode().count("not signed") == 4
    request.getfixturevalue("sealed")
    with CaptureQueriesContext(connection) as one:
        assert "sheet 1 revision 0" in bench_client.get(address).content.decode()
    # Signatures and what revised it are fetched with a sealed sheet, however many there are.
    assert len(one) <= len(none) + 2 <= 25


def test_every_kind_of_sheet_is_sealed_and_found_sound(scene: Scene, sealed: SealedSheet, checker: Person):
    for address in ("2E", "2I", "4E", "4I", "6E", "6I", "8E", "8I"):
        scene.read_gap(address, "0.001")
    for key in ("photo-log", "build"):
        for item in kind_of(key).readiness(scene.build, "").out:
            accept(scene.build, checker, item, client_id=uuid4(), reason="By arrangement", accepted_at=NOON)
        a_sheet.sealed(scene.build, scene.person, checker, kind=key)
    found = verify_book()
    assert [fault.what for fault in found.faults] == []
    packet = packet_of(scene.build, scene.person, "02 Mar 2026 13:00")
    assert [sheet.number for sheet in packet.sealed] == [3, 1, 2]


def test_what_a_sheet_lacks_takes_as_many_queries_for_few_readings_as_for_many(scene: Scene):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            for kind, subject in (("build", ""), ("setup", str(scene.left.pk)), ("photo-log", "")):
                kind_of(kind).readiness(scene.build, subject)
        return len(queries)

    asked()
    few = asked()
    for address in ("2E", "2I", "4E", "4I", "1E", "1I"):
        scene.read_gap(address, "0.012", sure=True)
    take(scene, "1I", seed=7)
    assert asked() == few
