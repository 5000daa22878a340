"""Witness marks on the setup sheet: beside those to expect, no proof once the stand was worked on, and what was out."""

import pytest

from builds.models import Limit
from builds.printing.paper import PAPERS
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import mark, right_height
from valvetrain.models import Head
from valvetrain.sheets.page import setup_page
from valvetrain.sheets.setup import setup_sheet
from valvetrain.sheets.snapshot import SetupSheet

pytestmark = pytest.mark.django_db


@pytest.fixture
def worked(builder) -> Scene:
    """A stand at its height."""
    Limit.add_defaults()
    scene = make_scene(builder)
    right_height(scene)
    return scene


def sheet_of(scene: Scene) -> SetupSheet:
    head = Head.objects.select_related("build__engine__customer").get(pk=scene.left.pk)
    return setup_sheet(head, scene.person)


def test_a_mark_that_was_read_stands_beside_the_one_to_expect(worked: Scene):
    """Hand-worked: .021 − (−.017) = .038."""
    before = sheet_of(worked)
    mark(worked, "1E", inner="-0.017", outer="0.021", front="0.040", rear="0.036")
    sheet = sheet_of(worked)
    line = next(valve for valve in sheet.valves if valve.address == "1E")
    assert (line.mark.inner, line.mark.outer, round(line.mark.taper, 4)) == (-0.017, 0.021, 0.004)
    page = setup_page(sheet, PAPERS["A4"])
    assert "Expected marks and marks as read, as seen on the tip" in page.html
    assert "read 0.038" in page.drawings["marks"]
    assert "marks as read" not in setup_page(before, PAPERS["A4"]).html
    assert "1E: mark 0.038 wide" in page.html


def test_a_mark_from_before_the_pack_is_not_printed_as_proof(worked: Scene):
    mark(worked, "1E", inner="-0.017", outer="0.021")
    worked.fit("L.stand1", "0.020")
    sheet = sheet_of(worked)
    assert all(valve.mark is None for valve in sheet.valves)
    assert "Mark of 1E: A pack was fitted since this mark: ink it and read again." in sheet.missing


def test_a_mark_that_was_out_is_listed_with_what_came_after(worked: Scene):
    """Hand-worked: middle .040 outboard, beyond .030; after the pack, .002."""
    mark(worked, "1E", inner="0.020", outer="0.060")
    worked.fit("L.stand1", "0.020")
    mark(worked, "1E", inner="-0.017", outer="0.021")
    out = [line for line in sheet_of(worked).steps_out if line.step == "witness marks"]
    centre = next(line for line in out if line.what == "centre")
    assert (centre.address, centre.found[:9]) == ("1E", "0.0400 in")
    assert centre.then == "After work, read again ✓ in: 0.0020 in."
