"""The What if screen under the hand: live, nothing to press, what was typed stays, and a trial kept and dropped."""

import json

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import Trial

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def scene(bench_tablet) -> Scene:
    scene = make_scene(Person.objects.get(username="nora"))
    for valve in scene.left.valves.all():
        scene.read_gap(valve.address, "0.025")
    return scene


@pytest.fixture
def screen(bench_tablet, scene):
    bench_tablet.goto(f"/jobs/{scene.build.pk}/what-if/")
    bench_tablet.locator("#outcome").wait_for()
    return bench_tablet


def worked(screen, words: str) -> None:
    screen.locator("#outcome", has_text=words).wait_for()


def test_what_is_typed_is_answered_without_a_press_or_a_page(screen):
    screen.evaluate("window.stayed = true")
    screen.locator("#w-lash_cap").type("0.050")
    worked(screen, "Raise 0.075 in: add .060 + .015 under each pad")
    assert screen.evaluate("window.stayed && document.activeElement.id") == "w-lash_cap"
    assert screen.url.endswith("?lash_cap=0.050")


def test_enter_works_it_out_and_loads_no_page(screen):
    screen.evaluate("window.stayed = true")
    screen.locator("#w-net_lift").fill("0.720")
    screen.keyboard.press("Enter")
    worked(screen, "now 0.7200 in")
    assert screen.evaluate("window.stayed")


def test_a_wrong_value_is_told_beside_its_field_and_goes_when_mended(screen):
    screen.locator("#w-lash_cap").fill("0.050")
    screen.locator("#w-net_lift").fill("0.7.2")
    screen.locator("#beside-net_lift .error", has_text="has two dots").wait_for()
    worked(screen, "Raise 0.075 in")
    assert screen.locator("#w-net_lift").input_value() == "0.7.2"
    screen.locator("#w-net_lift").fill("0.720")
    screen.locator("#beside-net_lift .error").wait_for(state="detached")
    worked(screen, "now 0.7200 in")


def test_the_sign_key_turns_the_value_and_is_answered(screen):
    screen.locator("#w-longer_valve").fill("0.040")
    worked(screen, "Raise 0.065 in")
    screen.locator("[data-sign-for='w-longer_valve']").tap()
    worked(screen, "The stand must come down 0.015 in: shims cannot do it.")


def test_answers_that_dawdle_leave_what_was_typed_last(screen):
    """The first answer is held back for a second: it never overwrites the second's."""
    held = []

    def dawdle(route):
        if "lash_cap=0.010" in route.request.url and not held:
            held.append(route)
            screen.wait_for_timeout(1000)
        route.continue_()

    screen.context.route("**/what-if/?*", dawdle)
    screen.locator("#w-lash_cap").fill("0.010")
    screen.wait_for_timeout(500)
    screen.locator("#w-lash_cap").fill("0.050")
    worked(screen, "Raise 0.075 in")
    screen.wait_for_timeout(1200)
    assert "Raise 0.075 in" in screen.locator("#outcome").inner_text()
    screen.context.unroute_all(behavior="ignoreErrors")


def test_another_valve_brings_its_own_numbers_of_today(screen, scene):
    scene.read_lift("3E", "0.690")
    screen.locator("#w-at").select_option("3E")
    screen.locator("#beside-net_lift", has_text="today 0.6900 in, measured").wait_for()


def test_a_trial_is_kept_as_it_stands_opened_and_dropped(screen):
    screen.locator("#keep-name").fill("Caps of fifty")
    screen.locator("#w-lash_cap").fill("0.050")
    screen.locator(".keep button").tap()  # before the answer can have come
    screen.locator("h1", has_text="Caps of fifty").wait_for()
    assert Trial.objects.get().changes["lash_cap"]["text"] == "0.050"
    assert screen.locator("#w-lash_cap").input_value() == "0.050"
    screen.locator("a", has_text="Drop this trial").tap()
    screen.locator("button", has_text="Drop it").tap()
    screen.locator(".empty", has_text="No trial is kept").wait_for()
    assert Reading.objects.count() == 8


SIZES = """() => [...document.querySelectorAll("button, a.button, select, input:not([type=hidden]), summary, textarea")]
  .filter(each => each.checkVisibility()).map(each => { const box = each.getBoundingClientRect();
  return [each.textContent.trim().slice(0, 30) || each.id, box.width, box.height]; })"""


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_everything_to_touch_is_large_enough(screen, size):
    screen.set_viewport_size({"width": size[0], "height": size[1]})
    screen.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    boxes = screen.evaluate(SIZES)
    assert len(boxes) > 20
    assert [box for box in boxes if box[1] < 55.9 or box[2] < 55.9] == []
    assert screen.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_nothing_stands_in_the_way_of_those_who_cannot_see(screen):
    screen.locator("#w-lash_cap").fill("0.050")
    worked(screen, "Raise 0.075 in")
    screen.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true })")
    found = Axe().run(screen).response["violations"]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == [], json.dumps(
        found
    )[:2000]
