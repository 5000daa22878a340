"""The worksheet on the tablet: the speed changes the figures at once, and everything can be touched and heard."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Person, Reading
from tests.scenes import Scene, make_scene
from tests.valvetrain.worksheet_bench import everything

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = """() => [...document.querySelectorAll("button, a.button, select, input:not([type=hidden]), summary, nav a")]
  .filter(each => each.checkVisibility()).map(each => {
    const box = each.getBoundingClientRect();
    return [each.textContent.trim().slice(0, 30) || each.id, box.width, box.height]; })"""


@pytest.fixture
def scene(bench_tablet) -> Scene:
    scene = make_scene(Person.objects.get(username="nora"))
    everything(scene)
    return scene


@pytest.fixture
def sheet(bench_tablet, scene: Scene):
    bench_tablet.goto(f"/jobs/{scene.build.pk}/worksheet/?valve=1I&rpm=7000")
    return bench_tablet


def test_another_speed_is_worked_out_while_it_is_typed(sheet):
    sheet.locator("#look_rpm").fill("7600")

    sheet.get_by_role("heading", name="1I: Motion and spring at 7600 rpm").wait_for()
    assert sheet.locator("#look_rpm").input_value() == "7600"
    assert sheet.evaluate("document.activeElement.id") == "look_rpm"
    assert "rpm=7600" in sheet.url


def test_another_valve_is_worked_out_at_once(sheet):
    sheet.locator("#look_valve").select_option("2E")

    sheet.get_by_role("heading", name="2E: Piston to valve, predicted").wait_for()


def test_a_speed_that_cannot_be_keeps_what_was_typed_and_the_figures(sheet):
    sheet.locator("#look_rpm").fill("fast")

    sheet.get_by_text("Engine speed, rpm: type a whole number from 100 to 20000.").wait_for()
    assert sheet.locator("#look_rpm").input_value() == "fast"


def test_a_pair_is_keyed_in_and_stands_beside_the_linkage(sheet):
    for lobe, valve in (("0.100", "0.152"), ("0.300", "0.470")):
        sheet.locator("#pair_lobe_lift").fill(lobe)
        sheet.locator("#pair_valve_lift").fill(valve)
        sheet.get_by_role("button", name="Add the pair").tap()
        sheet.get_by_text(f"valve {valve}").first.wait_for()

    # Hand-worked: (.470 − .152) / .200 = 1.59.
    assert "1.5900" in sheet.locator("#lift").inner_text()
    assert Reading.objects.filter(characteristic="lift_pair").count() == 2


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_everything_to_touch_is_large_enough(sheet, size):
    sheet.set_viewport_size({"width": size[0], "height": size[1]})

    boxes = sheet.evaluate(SIZES)
    assert len(boxes) > 15
    assert [box for box in boxes if box[1] < 55.9 or box[2] < 55.9] == []
    assert sheet.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("page", ["", "pushrod/new/", "lobe/I/", "table/I/", "masses/1/edit/"])
def test_nothing_stands_in_the_way_of_those_who_cannot_see(sheet, scene, page):
    sheet.goto(
        f"/jobs/{scene.build.pk}/worksheet/{page.replace('1', str(scene.build.moving_masses.get().pk))}"
    )

    found = Axe().run(sheet).response["violations"]
    assert [(each["id"], [node["html"] for node in each["nodes"]][:3]) for each in found] == []
