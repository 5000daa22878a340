"""The pages of a return report: every word of what is signed stands on them, as a draft and sealed."""

import json
import shutil
import subprocess
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from pypdf import PdfReader

from builds.models import Limit, Person, SealedSheet
from builds.photos.storage import photo_files, put
from builds.printing.paper import PAPERS
from builds.printing.press import PrintingFailed, to_pdf
from builds.sealing import authority
from builds.sealing.board import SheetState, sheet_line
from builds.sealing.canonical import canonical
from builds.sealing.kinds import kind_of
from builds.sealing.verify import verify_book
from tests.builds import a_sheet
from tests.scenes import Scene, make_scene
from tests.valvetrain.photo_bench import images_of
from tests.valvetrain.returned import a_finding, came_back, keyed, went_out, with_all
from tests.valvetrain.samples import printed, text_of
from tests.valvetrain.seals import a_seal
from valvetrain.sheets.photo_lines import DIGITS

HOSTILE = "<script>alert(1)</script> {{ x }} {% y %} & \" ' \u202eabc"
# What a snapshot holds for the drawings or the book and never says in words, by the name of its field.
NOT_SAID = {"key", "photo", "sha256", "width", "height", "of_mark", "mark", "file", "side", "sheet", "schema"}


@pytest.fixture
def scene(
    builder: Person, photo_folder: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Scene:
    settings.DATA_DIR = tmp_path
    settings.SIGNING_PASSPHRASE = ""
    monkeypatch.setitem(authority.SCRYPT, "n", 2**10)
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def checker(db: None) -> Person:
    return Person.objects.create_user(
        "ylva", name="Ylva Norrgard", password="four gauge blocks", may_check=True
    )


def taken(scene: Scene, unit: str = "in") -> dict[str, Any]:
    """As it is signed, through the bytes that are signed. The report's job is the newest of its engine."""
    build = scene.build.engine.builds.order_by("pk").last()
    plain: dict[str, Any] = json.loads(canonical(kind_of("return").taken(build, "", unit)))
    return plain


def draft(plain: dict[str, Any], paper: str = "A4") -> list[str]:
    page = kind_of("return").render(plain, None, PAPERS[paper])
    pdf = to_pdf(
        page.html, drawings=page.drawings, pictures=page.pictures, stylesheets=page.stylesheets, seconds=120.0
    )
    return text_of(pdf)


def said_in(plain: Any, name: str = "") -> list[str]:
    """Every text of a snapshot that a reader is told."""
    if name in NOT_SAID:
        return []
    if isinstance(plain, dict):
        return [each for key, value in plain.items() for each in said_in(value, key)]
    if isinstance(plain, list):
        return [each for value in plain for each in said_in(value, name)]
    return [plain] if isinstance(plain, str) and plain else []


def letters(text: str) -> str:
    """A text without the gaps that lines, cells and hyphens leave in it."""
    return "".join(text.split())


@pytest.mark.parametrize(("unit", "paper"), [("in", "A4"), ("mm", "Letter")])
def test_every_word_of_the_attachment_stands_on_the_pages(scene: Scene, unit: str, paper: str):
    with_all(scene)
    plain = taken(scene, unit)
    pages = letters(" ".join(draft(plain, paper)))
    left_out = {plain["unit"], *(line["verdict_then"] for line in plain["changes"]["moved"])}
    for text in said_in(plain):
        assert letters(text) in pages or text in left_out, text
    for part in ("moved", "out_now"):
        for line in plain["changes"][part]:
            assert letters(f"{line['now']}{line['unit']}") in pages
    for shown in plain["photos"]["shown"]:
        assert letters(shown["picture"]["sha256"][:DIGITS]) in pages


def test_each_finding_is_said_in_short_and_in_full(scene: Scene):
    with_all(scene)
    pages = " ".join(draft(taken(scene)))
    assert "1 5E exhaust rocker arm broken broken stand bolts were loose: likely" in pages
    assert "1. exhaust rocker arm broken 5E, broken" in pages
    assert "never a diagnosis" in pages
    assert "A qualified engine builder decides." in pages
    assert pages.index("Findings in short") < pages.index("As found beside as built") < pages.index("Photos ")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_draft_says_so_on_every_page_and_a_sealed_one_its_digest(scene: Scene, paper: str):
    with_all(scene)
    plain = taken(scene)
    for number, page in enumerate(draft(plain, paper), start=1):
        assert page.count("DRAFT") >= 1
        assert f"{number} of " in page
    for page in text_of(printed(plain, paper)):
        assert "DRAFT" not in page
        assert "Sheet 12, revision 1 · digest ba78 16bf" in page


def test_an_engine_of_which_nothing_is_known_is_one_page(scene: Scene):
    went_out(scene)
    came_back(scene, how_it_ran="")
    (page,) = draft(taken(scene))
    for told in ("Nothing was read as found.", "No finding is written down yet.", "not run yet"):
        assert told in page
    assert "Photos" not in page


def test_the_page_from_json_is_the_page_from_the_records(scene: Scene):
    came, _bench = with_all(scene)
    kind = kind_of("return")
    direct = kind.taken(came.build, "", "in")
    assert kind.render(taken(scene), None, PAPERS["A4"]) == kind.render(direct, None, PAPERS["A4"])


def test_hostile_words_are_only_words(scene: Scene):
    came, bench = with_all(scene)
    long = "W" * 150
    a_finding(bench, came, what=HOSTILE, position="", detail=f"{HOSTILE}\n{long}", cause=HOSTILE, action=long)
    came.complaint, came.how_it_ran = HOSTILE, f"{long}\n\n{HOSTILE}"
    came.save()
    plain = taken(scene)
    html = kind_of("return").render(plain, None, PAPERS["A4"]).html
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; {{ x }} {% y %}" in html
    pages = letters(" ".join(draft(plain)))
    assert pages.count(long) == 3


def test_photos_are_printed_no_larger_than_they_are_shown(scene: Scene):
    with_all(scene)
    plain = taken(scene)
    page = kind_of("return").render(plain, None, PAPERS["A4"])
    assert sorted(page.pictures) == ["p1", "p2", "p3"]
    pdf = to_pdf(page.html, drawings=page.drawings, pictures=page.pictures, stylesheets=page.stylesheets)
    for _data, said in images_of(pdf):
        # Hand-worked: 57 mm at 250 dots to the inch.
        assert int(str(said["/Width"])) <= 562


def test_a_photo_whose_file_is_another_stops_the_seal_and_is_named_on_a_draft(scene: Scene):
    _came, bench = with_all(scene)
    photo, other = bench.build.photos.order_by("pk")
    plain = taken(scene)
    with photo_files().open(other.path) as file:
        data = file.read()
    photo_files().delete(photo.path)
    put(photo.path, data)
    with pytest.raises(PrintingFailed, match=r"photo IMG_4.jpg cannot be printed"):
        kind_of("return").render(plain, a_seal(), PAPERS["A4"])
    assert "not the one that was taken in" in kind_of("return").render(plain, None, PAPERS["A4"]).html


def sealed(scene: Scene, checker: Person) -> SealedSheet:
    build = scene.build.engine.builds.order_by("pk").last()
    assert build is not None
    return a_sheet.sealed(build, scene.person, checker, kind="return")


def test_it_is_signed_sealed_and_verified(scene: Scene, checker: Person, tmp_path: Path):
    with_all(scene)
    sheet = sealed(scene, checker)
    assert [fault.what for fault in verify_book().faults] == []
    pdf = bytes(sheet.pdf)
    attached = PdfReader(BytesIO(pdf)).attachments
    snapshot = json.loads(attached["snapshot.json"][0])
    assert snapshot["findings"][0]["what"] == "exhaust rocker arm broken"
    whole = " ".join(text_of(pdf))
    assert "Measured by Nora Vesterlund" in whole
    assert "Checked by Ylva Norrgard" in whole
    assert "DRAFT" not in whole
    if shutil.which("pdfsig"):
        (tmp_path / "sheet.pdf").write_bytes(pdf)
        told = subprocess.run(["pdfsig", str(tmp_path / "sheet.pdf")], capture_output=True, text=True)
        assert "Signature is Valid" in told.stdout


def test_its_own_seal_changes_nothing_on_it_and_a_reading_after_it_does(scene: Scene, checker: Person):
    came, bench = with_all(scene)
    sealed(scene, checker)
    assert sheet_line(came.build, kind_of("return"), "").state is SheetState.SEALED
    keyed(bench, came.build, "7E", "lash_cold", "0.005")
    assert sheet_line(came.build, kind_of("return"), "").state is SheetState.CHANGED


def test_a_finding_that_comes_after_the_first_signature_voids_it(scene: Scene, checker: Person):
    came, bench = with_all(scene)
    signing = a_sheet.put_up(came.build, scene.person, kind="return", client_id=uuid4())
    a_sheet.sign(signing, scene.person)
    a_finding(bench, came, what="chip", position="7I")
    assert sheet_line(came.build, kind_of("return"), "").state is SheetState.VOID
