"""The setup sheet: what its snapshot says, and that all of it stands on the page."""

import json
import subprocess
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from builds.models import Instrument, Limit, Person, Reading, Shop
from builds.printing.paper import PAPERS
from builds.printing.press import PrintingFailed
from builds.recording import strike_out
from tests.scenes import Scene, make_scene
from valvetrain.models import CamCard, RockerSet
from valvetrain.sheets import page
from valvetrain.sheets.figures import arm_figures
from valvetrain.sheets.page import file_name, setup_page, setup_pdf
from valvetrain.sheets.setup import setup_sheet
from valvetrain.sheets.snapshot import SetupSheet, ValveLine


@pytest.fixture
def scene(builder: Person) -> Scene:
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def worked(scene: Scene) -> Scene:
    """One stand found low, shimmed and proved; one still out; one reading corrected and one struck out."""
    for address in ("1E", "1I", "3E", "3I"):
        scene.read_gap(address, "0.025")
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", "0.001")
    scene.read_gap("1E", "0.002")
    wrong = latest(scene, "1E")
    scene.read_gap("1E", "0.0018", corrects=wrong, reason="gauge not seated")
    scene.read_gap("1I", "0.000")
    scene.fit("L.stand2", "0.010")
    scene.read_gap("3E", "0.015")
    scene.read_gap("3I", "0.015")
    struck = latest(scene, "3I")
    scene.read_gap("3I", "0.0152")
    strike_out(scene.build, scene.person, client_id=uuid4(), reading=struck, reason="read at the wrong valve")
    return scene


def latest(scene: Scene, address: str) -> Reading:
    return Reading.objects.filter(build=scene.build, position=address).latest("pk")


def sheet_of(scene: Scene, unit: str = "in") -> SetupSheet:
    head = type(scene.left).objects.select_related("build__engine__customer").get(pk=scene.left.pk)
    return setup_sheet(head, scene.person, unit=unit)


def line(sheet: SetupSheet, address: str) -> ValveLine:
    return next(valve for valve in sheet.valves if valve.address == address)


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def test_a_row_says_what_was_found_what_was_fitted_and_what_is_left(worked: Scene):
    row = line(sheet_of(worked), "1E")
    # Gauge step .235: a gap of .025 is .025 low; with the pack the mean of .001 and .0018 is left.
    assert row.target_top == pytest.approx(0.235)
    assert row.found_error == pytest.approx(-0.025)
    assert (row.pack, row.pack_total) == (".015 + .010", pytest.approx(0.025))
    assert [reading.typed for reading in row.readings] == ["0.001 in", "0.0018 in"]
    assert row.left_over == pytest.approx(-0.0014)
    assert (row.verdict, row.side, row.instruments, row.by) == ("in", "low", "HG-1", "Nora Vesterlund")


def test_a_valve_still_out_is_out(worked: Scene):
    assert (line(sheet_of(worked), "3E").verdict, line(sheet_of(worked), "3E").pack) == ("out", ".010")


def test_the_lift_says_where_it_comes_from(worked: Scene):
    worked.read_lift("1E", "0.700")
    worked.read_lift("1E", "0.702")
    sheet = sheet_of(worked)
    assert line(sheet, "1E").lift == pytest.approx(0.701)
    assert line(sheet, "1E").lift_source == "measured, n 2"
    assert line(sheet, "1I").lift_source == "cam card"


def test_what_was_out_stays_on_the_sheet_with_what_was_done(worked: Scene):
    outs = {(found.address, found.pack): found for found in sheet_of(worked).ever_out}
    first = outs["1E", "no shims"]
    assert first.error == pytest.approx(-0.025)
    assert first.then.startswith(".015 + .010 fitted ")
    assert first.then.endswith("by Nora Vesterlund; read again: 0.0014 in low, in.")
    assert outs["3E", ".010"].then == "Nothing yet: it stands so now."
    assert ("1E", ".015 + .010") not in outs


def test_one_reading_out_among_several_is_listed_though_the_mean_is_in(worked: Scene):
    for gap in ("0.001", "0.001", "0.006"):
        worked.read_gap("1I", gap)
    found = [each for each in sheet_of(worked).ever_out if each.address == "1I"][-1]
    assert found.error == pytest.approx(-0.006)
    assert found.then == "One reading of several; the mean is in."


def test_corrections_and_strikings_out_are_listed_with_their_reason(worked: Scene):
    corrected, struck = sheet_of(worked).corrections
    assert (corrected.address, corrected.old, corrected.new) == ("1E", "0.002 in", "0.0018 in")
    assert (corrected.reason, corrected.came_to) == ("gauge not seated", "0.002 in low, in")
    assert (struck.new, struck.reason) == ("struck out", "read at the wrong valve")
    assert struck.came_to == "0.015 in low, out"


def test_a_gauge_past_its_check_is_told(worked: Scene):
    yesterday = timezone.localdate() - timedelta(days=1)
    Instrument.objects.filter(mark="HG-1").update(due_on=yesterday)
    (gauge,) = sheet_of(worked).gauges
    assert gauge.overdue
    assert gauge.step == pytest.approx(0.235)
    assert "OVERDUE since" in setup_page(sheet_of(worked), PAPERS["A4"]).html


def test_what_is_missing_is_said_in_words(worked: Scene):
    missing = sheet_of(worked).missing
    assert (
        "L.stand3: height not read yet at 5E, 5I." in missing
        or "L.stand3: height not read yet at 5I, 5E." in missing
    )
    assert missing[-1].startswith("This sheet holds")


def test_a_head_without_rockers_or_card_prints_and_says_so(scene: Scene):
    RockerSet.objects.all().delete()
    CamCard.objects.all().delete()
    sheet = sheet_of(scene)
    assert "Enter the rocker set first: its arm length, roller and shaft." in sheet.missing
    assert "No cam card is entered." in sheet.missing
    text = " ".join(pages_of(setup_pdf(sheet, PAPERS["A4"])))
    assert "Enter the rocker set first" in text


def test_a_height_that_no_arm_can_follow_is_told_and_not_drawn(scene: Scene):
    RockerSet.objects.update(arm_length=Decimal("0.65"))
    for address in ("1E", "1I"):
        scene.read_gap(address, "0.34", sure=True)
        scene.read_lift(address, "1.2", sure=True)
    sheet = sheet_of(scene)
    assert all("1E" not in figure.address for figure in arm_figures(sheet))
    assert setup_pdf(sheet, PAPERS["A4"]).startswith(b"%PDF")


def test_the_snapshot_is_plain_json(worked: Scene):
    sheet = sheet_of(worked)
    assert json.loads(json.dumps(sheet.to_plain()))["job"] == "26-014"
    assert sheet.geometry_version


def test_the_snapshot_takes_as_many_queries_for_one_reading_as_for_many(
    scene: Scene, django_assert_num_queries
):
    scene.read_gap("1E", "0.025")
    Shop.get()
    head = type(scene.left).objects.select_related("build__engine__customer").get(pk=scene.left.pk)

    with CaptureQueriesContext(connection) as few:
        setup_sheet(head, scene.person)
    for address in ("1E", "1I", "3E", "3I", "5E", "5I"):
        scene.read_gap(address, "0.021")
        wrong = latest(scene, address)
        scene.read_gap(address, "0.022", corrects=wrong, reason="typed wrong")
    for stand in ("L.stand1", "L.stand2", "L.stand3"):
        scene.fit(stand, "0.020")
    head = type(scene.left).objects.select_related("build__engine__customer").get(pk=scene.left.pk)
    with CaptureQueriesContext(connection) as many:
        setup_sheet(head, scene.person)
    # One more than with nothing fitted: the pieces of the packs.
    assert len(many) <= len(few) + 1 <= 16


def test_every_page_says_draft_and_the_job(worked: Scene):
    pages = pages_of(setup_pdf(sheet_of(worked), PAPERS["A4"]))
    assert len(pages) >= 3
    for number, text in enumerate(pages, start=1):
        assert "DRAFT" in text
        assert "26-014" in text
        assert f"{number} of {len(pages)}" in text


def test_every_verdict_and_every_address_stands_on_the_page(worked: Scene):
    sheet = sheet_of(worked)
    html = setup_page(sheet, PAPERS["A4"]).html
    text = " ".join(pages_of(setup_pdf(sheet, PAPERS["A4"])))
    for valve in sheet.valves:
        assert f"<th>{valve.address}</th>" in html
        assert valve.address in text
    assert html.count('<td class="v-in">in</td>') == 2
    assert html.count('<td class="v-out">out</td>') == 2
    assert text.count("not read") >= 4


def test_the_cautions_and_who_decides_are_printed(worked: Scene):
    text = " ".join(pages_of(setup_pdf(sheet_of(worked), PAPERS["A4"])))
    assert "Springs under compression can kill." in text
    assert "come before anything printed here. A qualified engine builder decides." in text


def test_limits_are_printed_with_their_source(worked: Scene):
    html = setup_page(sheet_of(worked), PAPERS["A4"]).html
    assert "stand height: −0.0050 to +0.0050 in (common practice; shop setting)" in html
    assert "thread engagement in aluminium: at least 1.5 bolt diameters" in html


def test_the_sheet_speaks_the_unit_of_its_reader(worked: Scene):
    sheet = sheet_of(worked, "mm")
    html = setup_page(sheet, PAPERS["A4"]).html
    assert "Lengths in millimetres" in html
    assert "−0.635 in" not in html
    assert ">−0.635<" in html  # found 0.025 in low
    assert "0.001 in, 0.0018 in; n 2" in html  # as typed


@pytest.mark.parametrize(("name", "points"), [("A4", (841.9, 595.3)), ("Letter", (792.0, 612.0))])
def test_both_papers_lie_on_their_side(worked: Scene, name: str, points: tuple[float, float]):
    box = PdfReader(BytesIO(setup_pdf(sheet_of(worked), PAPERS[name]))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(points, abs=0.1)


def test_the_same_snapshot_prints_the_same_bytes_and_they_are_sound(worked: Scene, tmp_path: Path):
    sheet = sheet_of(worked)
    pdf = setup_pdf(sheet, PAPERS["A4"])
    assert setup_pdf(sheet, PAPERS["A4"]) == pdf
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    subprocess.run(["qpdf", "--check", path], capture_output=True, check=True)
    fonts = subprocess.run(
        ["pdffonts", path], capture_output=True, text=True, check=True
    ).stdout.splitlines()[2:]
    assert all("Plex" in line and " yes yes " in line for line in fonts)
    text = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "gauge not seated" in text
    assert "shaft now" in text  # words in a drawing can be found


def test_names_that_look_like_marks_are_printed_as_they_are(worked: Scene):
    Shop.objects.update_or_create(pk=1, defaults={"name": "<b>Bolt & Nut</b>"})
    pages = pages_of(setup_pdf(sheet_of(worked), PAPERS["A4"]))
    assert all("<b>Bolt & Nut</b>" in text for text in pages)


def test_a_file_name_holds_no_path(worked: Scene):
    assert file_name(sheet_of(worked)) == "26-014 Left head setup sheet DRAFT.pdf"


# The addresses.


@pytest.fixture
def url(worked: Scene) -> str:
    return reverse("setup-sheet", args=[worked.left.pk])


def test_the_address_gives_the_sheet_on_the_shops_paper(url: str, bench_client: Client):
    Shop.objects.update_or_create(pk=1, defaults={"paper": "Letter"})
    answer = bench_client.get(url)
    assert answer["Content-Type"] == "application/pdf"
    assert "DRAFT.pdf" in answer["Content-Disposition"]
    assert float(PdfReader(BytesIO(answer.content)).pages[0].mediabox.width) == pytest.approx(792)


def test_the_paper_can_be_asked_for(url: str, bench_client: Client):
    box = PdfReader(BytesIO(bench_client.get(url, {"paper": "A4"}).content)).pages[0].mediabox
    assert float(box.width) == pytest.approx(841.9, abs=0.1)


def test_an_unknown_paper_is_refused_with_what_there_is(url: str, bench_client: Client):
    answer = bench_client.get(url, {"paper": "A0"})
    assert answer.status_code == 400
    assert "There is no paper “A0” here. Choose A4 or Letter." in answer.content.decode()


def test_a_sheet_that_cannot_be_printed_is_a_sentence(url: str, bench_client: Client, monkeypatch):
    def fail(*_args: object, **_more: object) -> bytes:
        raise PrintingFailed("The sheet could not be printed: the printing process ended. Try again.")

    monkeypatch.setattr(page, "to_pdf", fail)
    answer = bench_client.get(url)
    assert answer.status_code == 503
    assert "the printing process ended" in answer.content.decode()


def test_a_stranger_gets_neither_sheet_nor_drawing(url: str, worked: Scene, stranger: Client):
    valve = worked.left.valves.first()
    assert valve is not None
    for address in (url, reverse("drawing", args=[worked.left.pk, valve.pk, "arm"])):
        answer = stranger.get(address)
        assert answer.status_code == 302
        assert reverse("login") in answer["Location"]


def test_a_layout_on_the_shelf_has_no_sheet(worked: Scene, bench_client: Client):
    layout = type(worked.left).objects.filter(build__isnull=True).first()
    assert layout is not None
    assert bench_client.get(reverse("setup-sheet", args=[layout.pk])).status_code == 404


@pytest.mark.parametrize("which", ["arm", "mark", "travel"])
def test_a_drawing_is_answered_in_the_unit_of_the_reader(worked: Scene, bench_client: Client, which: str):
    Person.objects.filter(pk=worked.person.pk).update(length_unit="mm")
    valve = worked.left.valves.first()
    assert valve is not None
    answer = bench_client.get(reverse("drawing", args=[worked.left.pk, valve.pk, which]))
    assert answer["Content-Type"] == "image/svg+xml"
    assert " mm" in answer.content.decode()


def test_a_drawing_that_lacks_its_numbers_says_what_to_enter(scene: Scene, bench_client: Client):
    RockerSet.objects.all().delete()
    valve = scene.left.valves.first()
    assert valve is not None
    answer = bench_client.get(reverse("drawing", args=[scene.left.pk, valve.pk, "arm"]))
    assert "Enter the rocker set first" in answer.content.decode()


def test_a_valve_of_another_head_has_no_drawing_here(worked: Scene, bench_client: Client):
    other = worked.right.valves.first()
    assert other is not None
    assert bench_client.get(reverse("drawing", args=[worked.left.pk, other.pk, "arm"])).status_code == 404
    mine = worked.left.valves.first()
    assert mine is not None
    assert bench_client.get(reverse("drawing", args=[worked.left.pk, mine.pk, "plan"])).status_code == 404
