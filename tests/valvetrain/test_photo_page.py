"""The photo log's page: what its snapshot says stands on it, and its pictures are as large as they are printed."""

import json
import subprocess
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from builds.printing.paper import PAPERS
from tests.valvetrain.photo_bench import (
    MEASURED,
    a_log,
    as_jpeg,
    images_of,
    mark_line,
    noisy,
    picture_line,
    text_of,
)
from valvetrain.sheets.framing import Framed, framed
from valvetrain.sheets.photo_lines import PhotoLog
from valvetrain.sheets.photo_page import (
    MARK_FRAME,
    OTHER_FRAME,
    PictureLost,
    photo_file_name,
    photo_frames,
    photo_page,
    photo_pdf,
)


def quiet(words: str, done: int = 0, of: int = 0) -> None:
    """Nobody listens."""


def developed(key: str, frame: Framed) -> bytes:
    """A picture of the asked size."""
    share = frame.long_side / max(frame.width, frame.height)
    return as_jpeg(noisy(round(frame.width * share), round(frame.height * share), seed=int(key[1:])))


@pytest.fixture
def full() -> PhotoLog:
    """Sixteen valves: fourteen photographed, all but one of those measured; one read by scale, one bare; seven others."""
    marks = [
        mark_line(f"{number}E", picture_line(f"p{number}", of_mark=True, mark=MEASURED if number > 1 else {}))
        for number in range(1, 15)
    ]
    marks[0] = replace(marks[0], figures=[], readers=[], inner=None, outer=None)
    others = [picture_line(f"p{number}", note=f"nick {number}") for number in range(15, 22)]
    by_scale = mark_line("15E", None, readers=["with SC-1 by Tobias Arendal, 03 Mar 2026 09:00"])
    return a_log(marks=marks, unpictured=[by_scale], bare=["16E"], others=others, set_aside=2, not_shown=3)


@pytest.mark.parametrize(("paper", "pages"), [("A4", 9), ("Letter", 9)])
def test_it_takes_three_valves_and_six_others_a_page(full: PhotoLog, paper: str, pages: int):
    # Hand-worked: two valves beside the head of the log, then 3 a page (2 + 4 × 3 = 14), one page for the valve without a
    # photo and the first others, one for the rest: 7; never more than two begun pages beside.
    count = len(PdfReader(BytesIO(photo_pdf(full, PAPERS[paper], developed, quiet))).pages)
    assert 7 <= count <= pages


def test_every_value_stands_on_the_page(full: PhotoLog):
    said = text_of(photo_pdf(full, PAPERS["A4"], developed, quiet))
    for line in [*full.marks, *full.unpictured]:
        assert line.address in said
        for figure in line.figures:
            assert f"{figure.name} {figure.shown} {figure.plus_minus} {figure.limit}".strip() in said
        for reader in line.readers:
            assert reader in said
    for picture in full.pictures:
        assert picture.digits in said
        assert f"File {picture.name}" in said
        assert picture.note in said
    assert "✓ in" in said
    assert "× out" in said
    assert "No photo and no reading of the mark: 16E." in said
    assert "Read without a photo: 15E." in said
    assert "Set aside and not printed: 2 photos." in said
    assert "Left out to keep this log short: 3 photos" in said
    assert "Photographed, not measured. Width to expect: 0.0375." in said
    assert full.cautions[-1] in said
    assert "The mark proves; the gauge decides." in said
    assert "DRAFT" in said


def test_the_digits_of_a_picture_stand_in_groups():
    # SHA-256 of "abc", published: FIPS 180-4's example.
    line = picture_line("p1", sha256="ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")
    assert line.digits == "ba78 16bf 8f01 cfea"


def test_each_picture_is_in_once_as_large_as_it_is_printed(full: PhotoLog):
    pdf = photo_pdf(full, PAPERS["A4"], developed, quiet)
    images = images_of(pdf)
    assert len(images) == len(full.pictures) == 21
    for _data, said in images:
        assert said["/Filter"] == "/DCTDecode"
        assert str(said["/Interpolate"]).lower() == "false"
        # 250 dots to the inch over 60 mm, and over the 80 mm of a picture 4 : 3 in its frame: hand-worked.
        assert max(int(said["/Width"]), int(said["/Height"])) in (591, 787)  # type: ignore[call-overload]
    assert len(pdf) < 4_000_000


def test_it_is_a_sound_pdf_a_with_its_fonts(full: PhotoLog, tmp_path: Path):
    path = tmp_path / "log.pdf"
    path.write_bytes(photo_pdf(full, PAPERS["A4"], developed, quiet))
    subprocess.run(["qpdf", "--check", path], capture_output=True, check=True)
    fonts = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout
    assert all(" yes yes " in line for line in fonts.splitlines()[2:])
    reader = PdfReader(path)
    assert b"pdfaid:part" in reader.trailer["/Root"]["/Metadata"].get_data()
    last = len(reader.pages)
    assert f"{last} of {last}" in reader.pages[-1].extract_text()


def test_the_sheet_is_read_from_plain_data_alone(full: PhotoLog):
    plain = json.loads(json.dumps(full.to_plain()))
    assert plain["marks"][1]["picture"]["mark"]["results"]["width"] == 0.067
    assert plain["unpictured"][0]["picture"] is None


def test_a_picture_that_is_lost_leaves_its_words(full: PhotoLog):
    def develop(key: str, frame: Framed) -> bytes:
        if key == "p2":
            raise PictureLost("The file of this picture cannot be read.")
        return developed(key, frame)

    pdf = photo_pdf(full, PAPERS["A4"], develop, quiet)
    assert len(images_of(pdf)) == 20
    assert "The file of this picture cannot be read." in text_of(pdf)


def test_it_says_how_far_it_is(full: PhotoLog):
    heard: list[tuple[str, int, int]] = []

    def progress(words: str, done: int = 0, of: int = 0) -> None:
        heard.append((words, done, of))

    photo_pdf(full, PAPERS["A4"], developed, progress)
    assert heard[0] == ("Making the pictures ready", 1, 21)
    assert ("Making the pictures ready", 21, 21) in heard
    assert ("Laying out page 1", 0, 0) in heard
    assert heard[-1] == ("Writing the PDF", 0, 0)


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_an_empty_log_says_so(unit: str):
    said = text_of(photo_pdf(a_log(unit=unit), PAPERS["A4"], developed, quiet))
    assert "This job has no photos that are not set aside." in said
    assert ("Lengths in millimetres" in said) == (unit == "mm")


def test_what_people_typed_stays_text():
    bad = '<img src="file:///etc/passwd"><b>&'
    log = a_log(others=[picture_line("p1", note=bad, name="x</title>.jpg")])
    assert bad in text_of(photo_pdf(log, PAPERS["A4"], developed, quiet))


def test_a_measured_mark_is_cut_to_its_tip(full: PhotoLog):
    frames = photo_frames(full)
    # Centre 800, 600; 1.75 tip radii of 400 px, as far as the picture goes: hand-worked.
    assert frames["p2"].box == (100.0, 0.0, 1500.0, 1200.0)
    assert frames["p1"].box == (0.0, 0.0, 1600.0, 1200.0)
    assert (frames["p2"].width, frames["p15"].width) == (MARK_FRAME[0], pytest.approx(OTHER_FRAME[1] * 4 / 3))


@pytest.mark.parametrize(
    ("size", "width", "height", "dots"),
    [
        ((4000, 3000), 60.0, 45.0, 591), ((3000, 4000), 33.75, 45.0, 443),
        # A small picture is not blown up.
        ((120, 90), 60.0, 45.0, 120), ((5000, 10), 60.0, 0.12, 591),
    ],
)  # fmt: skip
def test_a_picture_fits_its_frame(size: tuple[int, int], width: float, height: float, dots: int):
    found = framed(size, (60.0, 45.0))
    assert (found.width, found.height, found.long_side) == (pytest.approx(width), pytest.approx(height), dots)


def test_the_overlay_lies_over_its_picture_and_nowhere_else(full: PhotoLog):
    page = photo_page(full, PAPERS["A4"])
    assert "over-p1" not in page.drawings
    assert 'viewBox="100.0 0.0 1400.0 1200.0"' in page.drawings["over-p2"]
    assert page.html.count("drawing:over-") == 13


def test_the_dimension_over_a_picture_is_lettered_as_large_as_print_is_read(full: PhotoLog):
    page, frame = photo_page(full, PAPERS["A4"]), photo_frames(full)["p2"]
    size = float(page.drawings["over-p2"].partition('font-size="')[2].partition('"')[0])
    across = frame.box[2] - frame.box[0]
    # Trade fact: lettering of a drawing below 2.2 mm is not read at arm's length.
    assert size / across * frame.width >= 2.2


@pytest.mark.parametrize(
    ("draft", "name"), [(True, "26-014 photo log DRAFT.pdf"), (False, "26-014 photo log.pdf")]
)
def test_its_file_is_named_after_the_job(draft: bool, name: str):
    assert photo_file_name(a_log(draft=draft)) == name
