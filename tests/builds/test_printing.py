"""The press: what it may load, how long it may take, and that what it gives is a sound PDF."""

import subprocess
import threading
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from builds.printing import press as press_module
from builds.printing.fetcher import OnlyFromTheHouse
from builds.printing.lettering import is_one_line
from builds.printing.paper import PAPERS, Cell, ground
from builds.printing.press import STATIC, Press, PrintingFailed, to_pdf

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90" height="40" font-family="Plex">'
    '<path d="M5 5h9v9z" fill="#22408f"/>{}</svg>'
)
WORDS = '<text x="45" y="20" font-size="12" text-anchor="middle" fill="#26292c">stand height</text>'
SPACED = '<text x="5 15 25" y="20" font-size="12" fill="#26292c">3E4</text>'


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.fixture
def impatient() -> Iterator[Press]:
    """A press that gives a sheet a fifth of a second."""
    press = Press(seconds=0.2)
    yield press
    press.close()


def test_it_prints_a_page_with_the_shops_own_fonts(tmp_path: Path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(to_pdf("<title>Sheet</title><p>Raise 0.024 in ± <b>≤ 1</b></p>"))
    fonts = subprocess.run(
        ["pdffonts", path], capture_output=True, text=True, check=True
    ).stdout.splitlines()[2:]
    assert len(fonts) == 2
    assert all("Plex" in line and " yes yes " in line for line in fonts)
    subprocess.run(["qpdf", "--check", path], capture_output=True, check=True)


def test_it_names_itself_pdf_a_and_keeps_the_title():
    reader = PdfReader(BytesIO(to_pdf("<title>Sheet of 3E</title><p>x</p>")))
    assert reader.metadata is not None
    assert reader.metadata.title == "Sheet of 3E"
    assert reader.xmp_metadata is not None
    assert b"pdfaid" in reader.trailer["/Root"]["/Metadata"].get_data()


def test_the_same_page_gives_the_same_bytes():
    page = "<title>Sheet</title><p>0.0240</p>"
    assert to_pdf(page) == to_pdf(page)


@pytest.mark.parametrize(
    "words", [WORDS, SPACED, "<g opacity='.5'><path d='M1 1h5v5z'/></g>", "", WORDS + SPACED]
)
def test_a_drawing_repeated_is_byte_for_byte_the_drawing_drawn(words: str):
    press, other = Press(), Press()
    page = "<title>Sheet</title><p>before</p><img src='drawing:tip'><p>after</p><img src='drawing:tip'>"
    drawings = {"tip": SQUARE.format(words)}
    try:
        press.to_pdf(page, drawings=drawings)
        assert press.to_pdf(page, drawings=drawings) == other.to_pdf(page, drawings=drawings)
    finally:
        press.close()
        other.close()


def test_words_in_a_drawing_can_be_found():
    pdf = to_pdf("<title>Sheet</title><img src='drawing:tip'>", drawings={"tip": SQUARE.format(WORDS)})
    assert "stand height" in text_of(pdf)


def test_a_text_that_places_its_letters_is_left_alone():
    class Text(dict):
        text, _etree_node, attrib = "3E4", (), {}

    assert is_one_line(Text(x="1", y="2"))
    assert not is_one_line(Text(x="1 2 3", y="2"))


@pytest.mark.parametrize(
    "address",
    [
        "http://example.org/a.png", "https://example.org/a.css", "ftp://example.org/a", "file:///etc/passwd",
        "file://server/share/a.png", "../../builds/settings.py", "drawing:none", STATIC.parent.as_uri() + "/manage.py",
    ],
)  # fmt: skip
def test_it_loads_nothing_from_outside_the_house(address: str, caplog: pytest.LogCaptureFixture):
    with pytest.raises(PrintingFailed, match="could not be printed"):
        to_pdf(f'<title>Sheet</title><img src="{address}">')
    assert "may not load" in caplog.text


def test_a_drawing_cannot_reach_outside_either():
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><image href="file:///etc/hostname" width="9" height="9"/></svg>'
    with pytest.raises(PrintingFailed):
        to_pdf("<title>Sheet</title><img src='drawing:bad'>", drawings={"bad": svg})


def test_the_houses_own_files_may_be_loaded():
    fetcher = OnlyFromTheHouse(STATIC)
    assert fetcher.may_load((STATIC / "fonts" / "IBMPlexSans-Regular.ttf").as_uri())
    assert fetcher.may_load("data:image/png;base64,AAAA")
    assert not fetcher.may_load(STATIC.as_uri() + "-elsewhere/x.css")


def test_a_sheet_that_lacks_a_drawing_is_not_printed(caplog: pytest.LogCaptureFixture):
    with pytest.raises(PrintingFailed):
        to_pdf("<title>Sheet</title><img src='drawing:bad'>", drawings={"bad": "<svg"})
    assert "SheetIncomplete" in caplog.text


def test_a_sheet_that_takes_too_long_is_stopped_and_the_next_one_printed(impatient: Press):
    endless = "<title>Sheet</title>" + "<table><tr><td>x<td>y</table>" * 20_000
    started = time.monotonic()
    with pytest.raises(PrintingFailed, match=r"not ready after 0\.2 seconds"):
        impatient.to_pdf(endless)
    assert time.monotonic() - started < 20
    assert impatient.to_pdf("<title>Sheet</title><p>in time</p>").startswith(b"%PDF")


def test_a_sheet_that_takes_too_much_memory_is_refused_in_a_sentence():
    press = Press(memory=120 * 2**20)
    try:
        with pytest.raises(PrintingFailed, match=r"more memory|process ended"):
            press.to_pdf("<title>Sheet</title>" + "<table><tr><td>x<td>y</table>" * 30_000)
    finally:
        press.close()


def test_a_child_that_was_killed_is_told_in_a_sentence_and_replaced():
    press = Press()
    try:
        press.warm_up()
        assert press._child is not None
        press._child.kill()
        press._child.wait()
        assert press.to_pdf("<title>Sheet</title><p>again</p>").startswith(b"%PDF")
    finally:
        press.close()


def test_a_child_is_replaced_before_what_leaks_adds_up(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(press_module, "SHEETS_PER_CHILD", 2)
    press = Press()
    try:
        children = set()
        for _ in range(4):
            press.to_pdf("<title>Sheet</title><p>x</p>")
            assert press._child is not None
            children.add(press._child.pid)
        assert len(children) == 2
    finally:
        press.close()


def test_several_threads_each_get_their_own_sheet():
    found: dict[int, str] = {}

    def print_one(number: int) -> None:
        found[number] = text_of(to_pdf(f"<title>Sheet</title><p>sheet number {number}</p>"))

    threads = [threading.Thread(target=print_one, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert all(f"sheet number {number}" in found[number] for number in range(6))


def test_the_title_block_shows_its_cells_and_cuts_what_does_not_fit():
    svg = ground(
        PAPERS["A4"],
        word="DRAFT",
        cells=(Cell("job", "26-014"), Cell("customer", "x" * 400), Cell("page", "")),
    )
    assert ">26-014<" in svg
    assert "x…<" in svg
    assert "x" * 200 not in svg


def test_the_title_block_takes_marks_as_words():
    assert "&lt;b&gt;&amp;" in ground(PAPERS["Letter"], cells=(Cell("shop", "<b>&"), Cell("page", "")))
