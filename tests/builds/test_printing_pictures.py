"""Pictures on a sheet: they come with the job, stay as they are, and how far a long sheet is can be heard."""

from collections.abc import Iterator
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader

from builds.printing.fetcher import OnlyFromTheHouse
from builds.printing.press import STATIC, Press, PrintingFailed, to_pdf

PAGE = "<title>Sheet</title><img src='picture:tip' style='width:60mm'>"


def jpeg(width: int = 640, height: int = 480, mode: str = "RGB") -> bytes:
    """A picture with something to see in it."""
    ramp = Image.linear_gradient("L").resize((width, height)).convert(mode)
    file = BytesIO()
    ramp.save(file, "JPEG", quality=80)
    return file.getvalue()


def images_in(pdf: bytes) -> list[tuple[bytes, dict[str, object]]]:
    """Every image of a PDF once, as it is kept there, with what is said of it."""
    found = {}
    for page in PdfReader(BytesIO(pdf)).pages:
        for reference in page["/Resources"]["/XObject"].values():  # type: ignore[index]
            image = reference.get_object()
            found[image.indirect_reference.idnum] = (image._data, dict(image))
    return list(found.values())


@pytest.fixture
def own_press() -> Iterator[Press]:
    """A press of its own, ended afterwards."""
    press = Press()
    yield press
    press.close()


@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_a_picture_goes_in_byte_for_byte(mode: str):
    picture = jpeg(1600, 1200, mode)
    ((kept, said),) = images_in(to_pdf(PAGE, pictures={"tip": picture}))
    assert kept == picture
    assert said["/Filter"] == "/DCTDecode"
    # PDF/A (ISO 19005-2, 6.2.8) allows no smoothing of pictures by the reader.
    assert said["/Interpolate"] == False  # noqa: E712  pypdf's own kind of false


def test_a_picture_shown_twice_is_kept_once():
    assert len(images_in(to_pdf(PAGE + PAGE, pictures={"tip": jpeg()}))) == 1


def test_a_sheet_with_pictures_names_itself_pdf_a():
    reader = PdfReader(BytesIO(to_pdf(PAGE, pictures={"tip": jpeg()})))
    assert b"pdfaid" in reader.trailer["/Root"]["/Metadata"].get_data()


def test_a_picture_that_did_not_come_with_the_job_stops_the_printing(caplog: pytest.LogCaptureFixture):
    with pytest.raises(PrintingFailed):
        to_pdf(PAGE, pictures={"other": jpeg()})
    assert "may not load picture:tip" in caplog.text


def test_pictures_of_one_sheet_are_not_there_for_the_next(own_press: Press):
    own_press.to_pdf(PAGE, pictures={"tip": jpeg()})
    with pytest.raises(PrintingFailed):
        own_press.to_pdf(PAGE)


def test_a_picture_comes_from_nowhere_else():
    fetcher = OnlyFromTheHouse(STATIC)
    fetcher.pictures = {"tip": jpeg()}
    assert fetcher.may_load("picture:tip")
    assert not fetcher.may_load("picture:../tip")
    assert not fetcher.may_load("file:///tmp/tip")


def test_what_is_no_jpeg_is_not_taken():
    with pytest.raises(ValueError, match="no JPEG: tip"):
        to_pdf(PAGE, pictures={"tip": b"\x89PNG"})


def test_a_long_sheet_says_how_far_it_is(own_press: Press):
    page = "<title>Sheet</title>" + "<p style='break-after:page'>x</p>" * 3
    heard: list[str] = []
    own_press.to_pdf(page, told=heard.append)
    assert heard[:2] == ["Laying out page 1", "Laying out page 2"]
    assert heard[-1] == "Writing the PDF"
    # The next one did not ask, and hears nothing.
    own_press.to_pdf(page)
    assert heard.count("Writing the PDF") == 1


def test_a_sheet_may_have_seconds_of_its_own():
    press = Press(seconds=0.05)
    pages = "<title>Sheet</title>" + "<p style='break-after:page'>x</p>" * 300
    try:
        with pytest.raises(PrintingFailed, match=r"not ready after 0\.05 seconds"):
            press.to_pdf(pages)
        assert press.to_pdf(pages, seconds=60).startswith(b"%PDF")
    finally:
        press.close()


def test_a_child_killed_in_the_middle_of_pictures_is_told_in_a_sentence(own_press: Press):
    def kill(words: str) -> None:
        assert own_press._child is not None
        own_press._child.kill()

    # So many pages that it is still at work when it is killed.
    long = PAGE + "<p style='break-after:page'>x</p>" * 300
    with pytest.raises(PrintingFailed, match="the printing process ended"):
        own_press.to_pdf(long, pictures={"tip": jpeg()}, told=kill)
    assert own_press.to_pdf(PAGE, pictures={"tip": jpeg()}).startswith(b"%PDF")
