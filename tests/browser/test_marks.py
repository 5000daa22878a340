"""The marks on the tablet: a reading typed beside its drawing, a slid stand, and the size of what is touched."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Limit, Person
from tests.browser.test_touch import SIZES
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import mark, right_height
from valvetrain.models import StandMove

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES_OF_TABLET = [(1024, 768), (800, 1280)]


@pytest.fixture
def scene(bench_tablet) -> Scene:
    Limit.add_defaults()
    made = make_scene(Person.objects.get(username="nora"))
    right_height(made)
    return made


def address(scene: Scene, valve: str = "") -> str:
    return f"/bench/{scene.left.pk}/marks/" + (f"{valve}/" if valve else "")


def test_a_mark_is_typed_and_what_follows_comes_anew(bench_tablet, scene):
    bench_tablet.goto(address(scene, "1E"))
    bench_tablet.locator("#waiting", has_text="All saved").wait_for()
    for key, text in (("mark_inner", "-0.019"), ("mark_outer", "0.019")):
        bench_tablet.locator(f"#f-1E-{key}").fill(text)
        bench_tablet.keyboard.press("Enter")
    bench_tablet.locator("#mark-told", has_text="The mark is 0.038").wait_for()
    assert "0.038 read" in bench_tablet.locator("#mark-told svg").text_content()
    assert bench_tablet.locator("#f-1E-mark_inner").input_value() == "-0.019"


def test_a_slide_is_written_by_touch(bench_tablet, scene):
    for valve in ("1E", "1I"):
        mark(scene, valve, inner="0.020", outer="0.058")
    bench_tablet.goto(address(scene))
    bench_tablet.locator(".mark-card", has_text="1E").tap()
    bench_tablet.locator(".headline", has_text="Move L.stand1").wait_for()
    bench_tablet.locator(".slide-entry summary").tap()
    bench_tablet.get_by_label("Slid along the pads, in").fill("0.039")
    bench_tablet.get_by_label("Which way").select_option("away")
    bench_tablet.get_by_role("button", name="The stand was slid").tap()
    bench_tablet.locator(".message", has_text="Read the height again").wait_for()
    assert StandMove.objects.count() == 1


@pytest.mark.parametrize("size", SIZES_OF_TABLET)
@pytest.mark.parametrize("valve", ["", "1E"])
def test_everything_to_touch_is_large_enough_and_nothing_runs_over(bench_tablet, scene, size, valve):
    mark(scene, "1E", inner="0.020", outer="0.058", closed="0.02", open_="0.02", front="0.04", rear="0.03")
    mark(scene, "1I", inner="0.020", outer="0.058")
    bench_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    bench_tablet.goto(address(scene, valve))
    bench_tablet.wait_for_load_state("networkidle")
    for summary in bench_tablet.locator("main summary").all():
        summary.tap()
    small = [
        each
        for each in bench_tablet.evaluate(SIZES)
        if "/jobs/" not in each[0] and 'type="file"' not in each[0]
    ]
    assert small == []
    assert bench_tablet.evaluate("document.documentElement.scrollWidth") == size[0]


@pytest.mark.parametrize("valve", ["", "1E"])
def test_the_pages_are_read_out_without_a_fault(bench_tablet, scene, valve):
    mark(scene, "1E", inner="0.020", outer="0.058", front="0.04", rear="0.03")
    bench_tablet.goto(address(scene, valve))
    bench_tablet.wait_for_load_state("networkidle")
    found = Axe().run(bench_tablet)
    assert found.violations_count == 0, found.generate_report()
