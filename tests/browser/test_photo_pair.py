"""Photos of then and now over one another, on the tablet: keys and taps move the line, and nothing is dragged."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Limit, Person
from tests.browser.test_touch import SIZES
from tests.tapped import photo_of, tip
from tests.valvetrain.came_back import CameBack, built, comes_back, log
from tests.valvetrain.marking import mark

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def came(bench_tablet, photo_folder) -> CameBack:
    Limit.add_defaults()
    # The first drawing of a process brings the drawing library along.
    bench_tablet.set_default_timeout(40_000)
    scene = built(Person.objects.get(username="nora"))
    log(scene, "5E", installed_height="1.950", seat_load="250", open_load="640", lash_cold="0.004")
    mark(scene, "5E", inner="-0.019", outer="0.019")
    photo_of(tip(), scene, "5E")
    came = comes_back(scene)
    came.found.read_gap("5E", "0.012")
    log(came.found, "5E", lash_cold="0.027", seat_load="230")
    mark(came.found, "5E", inner="-0.020", outer="0.022")
    photo_of(tip(inner=-0.05, outer=0.06), came.found, "5E")
    return came


def address(came: CameBack, rest: str = "really-had/5E/") -> str:
    return f"/jobs/{came.found.build.pk}/return/{rest}"


def shown(tablet) -> float:
    """How much of the photo as found is to be seen, of all of it."""
    return tablet.evaluate(
        "Number(document.querySelector('[data-reveal]').getAttribute('width'))"
        " / document.querySelector('.pair-picture').viewBox.baseVal.width"
    )


def test_the_line_is_moved_by_taps(bench_tablet, came):
    bench_tablet.goto(address(came))
    assert shown(bench_tablet) == 0.5
    assert bench_tablet.locator("[data-beside]").is_hidden()
    for name, share in (("When it left", 0.0), ("As found", 1.0), ("Half and half", 0.5)):
        key = bench_tablet.get_by_role("button", name=name, exact=True)
        key.tap()
        assert shown(bench_tablet) == share
        assert key.get_attribute("aria-pressed") == "true"
    bench_tablet.get_by_role("button", name="Show them side by side").tap()
    assert bench_tablet.locator("[data-beside]").is_visible()
    assert bench_tablet.locator("[data-pair]").is_hidden()


def test_the_line_is_moved_by_keys_and_says_where_it_is(bench_tablet, came):
    bench_tablet.goto(address(came))
    line = bench_tablet.get_by_label("Line between them")
    line.focus()
    for _each in range(2):
        bench_tablet.keyboard.press("ArrowRight")
    assert shown(bench_tablet) == pytest.approx(0.6)
    assert line.get_attribute("aria-valuetext") == "60 % as found"
    bench_tablet.keyboard.press("Home")
    assert (shown(bench_tablet), line.get_attribute("aria-valuetext")) == (0.0, "all as it left")
    assert bench_tablet.locator("[data-side=now]").is_hidden()
    bench_tablet.keyboard.press("End")
    assert (shown(bench_tablet), line.get_attribute("aria-valuetext")) == (1.0, "all as found")


def test_without_scripts_both_stand_side_by_side(bench_tablet, came, browser, live_server):
    context = browser.new_context(
        base_url=live_server.url,
        java_script_enabled=False,
        storage_state=bench_tablet.context.storage_state(),
    )
    still = context.new_page()
    still.goto(address(came))
    assert still.locator("[data-beside] img").count() == 2
    assert still.locator("[data-beside]").is_visible()
    assert still.locator("[data-pair]").is_hidden()
    context.close()


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
@pytest.mark.parametrize("rest", ["really-had/", "really-had/5E/", "really-had/1E/", "photos/"])
def test_everything_to_touch_is_large_enough_and_can_be_read_out(bench_tablet, came, size, rest):
    bench_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    bench_tablet.goto(address(came, rest))
    bench_tablet.wait_for_load_state("networkidle")
    assert bench_tablet.evaluate(SIZES) == []
    assert bench_tablet.evaluate("document.documentElement.scrollWidth") == size[0]
    found = Axe().run(bench_tablet)
    assert found.violations_count == 0, found.generate_report()
