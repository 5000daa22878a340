"""The build sheet: the whole engine for the customer, from its records to its pages."""

import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.models import Instrument, Limit, PartFitted, Person, Shop
from builds.printing.paper import PAPERS
from builds.recording import strike_out
from builds.sealing.canonical import canonical
from builds.sealing.kinds import kind_of
from tests.scenes import Scene, make_scene
from tests.valvetrain.samples import printed, text_of
from tests.valvetrain.test_photo_log import measured
from tests.valvetrain.test_setup_sheet import keyed, latest
from valvetrain.models import Head
from valvetrain.sheets.build_lines import BuildSheet, BuildValve
from valvetrain.sheets.build_page import build_file_name, build_page
from valvetrain.sheets.build_sheet import build_sheet

ADVICE = "Prime the oil until it stands at every rocker.\n\n  Check lash cold after the first hour. "


@pytest.fixture
def scene(builder: Person, photo_folder: Path) -> Scene:
    """Two stands shimmed, one of them still out; bores, springs, lash and a mark read; parts; advice."""
    Limit.add_defaults()
    scene = make_scene(builder)
    scene.read_gap("1E", "0.025")
    scene.read_gap("1I", "0.025")
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", "0.001")
    scene.read_gap("1I", "0.000")
    scene.read_gap("2E", "0.015")
    for address in ("cyl1", "cyl2"):
        keyed(scene, address, "bore", "4.0005")
        keyed(scene, address, "piston_diameter", "3.9955")
    keyed(scene, "engine", "intake_centreline", "107.5", "°")
    keyed(scene, "1E", "installed_height", "1.904")
    keyed(scene, "1E", "lash_cold", "0.0042")
    measured(scene, "1E")
    PartFitted.objects.create(
        build=scene.build, role="rocker arm", maker="Ferrant Rocker", maker_number="FR-165-47", lot="A2217",
        serial="00417", position="all", quantity=16, fitted_on=date(2026, 3, 1), note="second batch",
    )  # fmt: skip
    Shop.get()
    Shop.objects.update(running_in_advice=ADVICE)
    return scene


def sheet_of(scene: Scene, unit: str = "in") -> BuildSheet:
    return build_sheet(scene.build, unit=unit)


def valve(sheet: BuildSheet, address: str) -> BuildValve:
    return next(each for head in sheet.heads for each in head.valves if each.address == address)


def pages_of(scene: Scene, unit: str = "in", paper: str = "A4") -> list[str]:
    plain = json.loads(canonical(kind_of("build").taken(scene.build, "", unit)))
    return text_of(printed(plain, paper))


def test_a_valve_says_how_it_leaves_the_shop(scene: Scene):
    found = valve(sheet_of(scene), "1E")
    # Gauge step .235 and right height .235: a gap of .001 is .001 low. Mark: .031 + .036.
    assert (found.left, found.verdict, found.lift_source) == ("0.0010 low", "in", "cam card")
    assert (found.mark, found.mark_verdict) == ("0.0670", "in")


def test_a_mark_that_no_longer_counts_is_not_shown(scene: Scene):
    scene.fit("L.stand1", "0.020")
    assert (valve(sheet_of(scene), "1E").mark, valve(sheet_of(scene), "1E").mark_verdict) == ("", "")


def test_a_part_has_its_numbers(scene: Scene):
    (part,) = sheet_of(scene).parts
    assert (part.role, part.count, part.lot, part.serial) == ("rocker arm", 16, "A2217", "00417")


def test_the_cover_counts_how_it_stands(scene: Scene):
    # Hand-counted: 1E and 1I in, 2E .015 low, thirteen of sixteen not read.
    assert sheet_of(scene).standing[0] == "Stand heights: 2 in, 1 out, 13 not read."


def test_the_advice_is_the_shops_own_words(scene: Scene):
    assert sheet_of(scene).advice == [
        "Prime the oil until it stands at every rocker.", "Check lash cold after the first hour.",
    ]  # fmt: skip
    Shop.objects.update(running_in_advice="")
    page = build_page(sheet_of(scene), PAPERS["A4"])
    assert "Running in and first lash check" not in page.html


def test_the_short_block_and_the_cam_stand_together(scene: Scene):
    block = sheet_of(scene).block
    assert [name for table in block.tables for name in [each.name for each in table.blocks]] == [
        "cam degreed",
        "cylinders",
    ]
    assert "main bearings" in block.not_measured


def test_what_was_ever_out_is_listed_for_every_head(scene: Scene):
    sheet = sheet_of(scene)
    assert {line.address for line in sheet.ever_out} == {"1E", "1I", "2E"}
    assert valve(sheet, "2E").verdict == "out"


def test_a_correction_stands_with_what_it_had_come_to(scene: Scene):
    wrong = latest(scene, "2E")
    scene.read_gap("2E", "0.002", corrects=wrong, reason="gauge not seated", sure=True)
    strike_out(
        scene.build, scene.person, client_id=uuid4(), reading=latest(scene, "cyl2"), reason="wrong bore"
    )
    height, bore = sheet_of(scene).corrections
    assert (height.old, height.reason, height.came_to) == (
        "0.015 in",
        "gauge not seated",
        "× out: 0.015 in low",
    )
    assert (bore.address, bore.new) == ("cyl2", "struck out")


def test_every_instrument_is_named_once(scene: Scene):
    micrometer = Instrument.objects.create(mark="MI-2", kind="micrometer")
    keyed(scene, "cyl3", "bore", "4.0006", instrument=micrometer)
    keyed(scene, "cyl4", "bore", "4.0006", instrument=micrometer)
    assert [gauge.mark for gauge in sheet_of(scene).gauges] == ["HG-1", "MI-2"]


@pytest.mark.parametrize(("unit", "paper"), [("in", "Letter"), ("mm", "A4")])
def test_every_value_stands_on_the_page(scene: Scene, unit: str, paper: str):
    pages = pages_of(scene, unit, paper)
    said = " ".join(pages)
    sheet = sheet_of(scene, unit)
    for fact in [*sheet.title, *(fact for rockers in sheet.rockers for fact in rockers), *sheet.cam]:
        assert f"{fact.name}: {fact.text}" in said
    for limit in sheet.limits:
        assert f"{limit.name}: {limit.text} ({limit.source})" in said
    for part in sheet.parts:
        for text in (part.role, part.note, part.maker, part.maker_number, part.lot, part.serial, part.fitted):
            assert text in said
    for line in [*sheet.standing, *sheet.missing, *sheet.advice, *sheet.cautions]:
        assert line in said
    for head in sheet.heads:
        for each in head.valves:
            assert f"{each.address} {each.stand}" in said
            assert each.left in said
    tables = [*sheet.block.tables, *(table for head in sheet.heads for table in head.log.tables)]
    for value in (
        value for table in tables for block in table.blocks for row in block.values for value in row
    ):
        for word in value.told.split():
            assert word in said
    for out in sheet.ever_out:
        assert f"{out.came_to}{out.near}" in said
        assert out.then in said
    for gauge in sheet.gauges:
        assert f"{gauge.mark}: {gauge.kind}" in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sealed_one_shows_job_digest_and_number_on_every_page(scene: Scene, paper: str):
    pages = pages_of(scene, paper=paper)
    for number, page in enumerate(pages, start=1):
        assert "Sheet 12, revision 1 · digest ba78 16bf" in page
        assert f"{number} of {len(pages)}" in page
        assert "26-014" in page
    assert "DRAFT" not in " ".join(pages)


def test_a_draft_says_so(scene: Scene):
    sheet = build_sheet(scene.build, scene.person)
    page = build_page(sheet, PAPERS["Letter"])
    assert "<strong>DRAFT</strong>, not signed" in page.html
    assert f"Printed {sheet.printed} ({sheet.time_zone}) by Nora Vesterlund" in page.html
    assert build_file_name(sheet) == "26-014 build sheet DRAFT.pdf"


def test_what_is_typed_cannot_break_the_page(scene: Scene):
    PartFitted.objects.update(note="<b>x</b> & </table>")
    Shop.objects.update(running_in_advice="<script>alert(1)</script>")
    html = build_page(sheet_of(scene), PAPERS["A4"]).html
    assert "&lt;b&gt;x&lt;/b&gt; &amp; &lt;/table&gt;" in html
    assert "<script>" not in html


def test_a_job_without_heads_has_one_too(scene: Scene):
    bare = make_scene(scene.person, job_number="26-044").build
    for head in Head.objects.filter(build=bare):
        head.take_away()
    sheet = build_sheet(bare, unit="in")
    assert (sheet.heads, sheet.packs, sheet.limits) == ([], None, [])
    assert "No stands on this job." in build_page(sheet, PAPERS["A4"]).html
    assert kind_of("build").readiness(bare, "").missing == []


def test_it_takes_as_many_queries_for_few_readings_as_for_many(scene: Scene):
    sheet_of(scene)
    with CaptureQueriesContext(connection) as few:
        sheet_of(scene)
    for number in range(3, 9):
        keyed(scene, f"cyl{number}", "bore", "4.0005")
    for address in ("3E", "3I", "5E", "5I"):
        scene.read_gap(address, "0.001")
        PartFitted.objects.create(build=scene.build, role="pushrod", position=address)
    with CaptureQueriesContext(connection) as many:
        sheet_of(scene)
    assert len(many) == len(few) <= 120


def test_it_lacks_what_its_heads_lack_and_what_is_out_anywhere(scene: Scene):
    Limit.objects.create(
        build=scene.build,
        key="piston_clearance",
        name="piston clearance",
        high=Decimal("0.004"),
        source="the customer",
    )
    Instrument.objects.filter(mark="HG-1").update(due_on=timezone.localdate() - timedelta(days=1))
    found = kind_of("build").readiness(scene.build, "")
    keys = [item.key for item in found.out]
    assert "L.stand2: height not read yet at 3E, 3I." in " ".join(found.missing).replace("3I, 3E", "3E, 3I")
    assert {
        "height/2E",
        "cylinders/piston_clearance/cyl1",
        "unread/cylinders/engine",
        "unread/torque/R",
    } <= set(keys)
    assert "unread/mains/engine" not in keys
    assert len(keys) == len(set(keys))
    assert [item.key for item in found.overdue] == ["overdue/HG-1"]


def test_the_shops_page_changes_the_advice(owner_client: Client):
    shop = Shop.get()
    sent = {
        "name": shop.name,
        "paper": shop.paper,
        "running_in_advice": "Twenty minutes at 2000.\nThen lash.",
    }
    assert owner_client.post(reverse("shop-edit"), sent).status_code == 302
    assert Shop.get().running_in_advice.splitlines() == ["Twenty minutes at 2000.", "Then lash."]
    assert "Twenty minutes at 2000.<br>Then lash." in owner_client.get(reverse("shop")).content.decode()


def test_a_builder_does_not_change_the_advice(bench_client: Client):
    assert bench_client.post(reverse("shop-edit"), {"running_in_advice": "none"}).status_code == 403
    assert Shop.get().running_in_advice == ""


def test_the_page_says_that_the_advice_is_not_written(scene: Scene, bench_client: Client):
    address = reverse("build-sheet", args=[scene.build.pk])
    assert "is not written yet" not in bench_client.get(address).content.decode()
    Shop.objects.update(running_in_advice="")
    assert "is not written yet" in bench_client.get(address).content.decode()
