"""The set-up log on the tablet: the springs of an engine by touch, without a network, and the size of what is touched."""

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import SpringSheet

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = [(1024, 768), (800, 1280)]
FIRST = ["1E", "1I", "3I"]
# What each first valve's spring reads: height, seat load, open load. Invented.
READ = {"1E": ("1.902", "201", "551"), "1I": ("1.898", "199", "549"), "3I": ("1.900", "200", "550")}


@pytest.fixture
def scene(bench_tablet) -> Scene:
    made = make_scene(Person.objects.get(username="nora"))
    made.build.engine.firing_order = "1-8-4-3-6-5-7-2"
    made.build.engine.save()
    SpringSheet.objects.create(
        build=made.build, name="Dual springs", installed_height=Decimal("1.9"), seat_load=Decimal(200),
        open_height=Decimal("1.2"), open_load=Decimal(550), solid_height=Decimal("1.1"),
    )  # fmt: skip
    return made


@pytest.fixture
def springs(bench_tablet, scene):
    """The springs step, open."""
    bench_tablet.goto(f"/jobs/{scene.build.pk}/log/springs/")
    bench_tablet.locator("#waiting", has_text="All saved").wait_for()
    return bench_tablet


def field(page, address: str, key: str = "installed_height"):
    return page.locator(f"#f-{address}-{key}")


def cell(page, address: str, key: str = "installed_height"):
    return page.locator(f"[data-row='{address}'][data-characteristic='{key}']")


def all_saved(page) -> None:
    page.locator("#waiting", has_text="All saved").wait_for()


def focused(page) -> str:
    return page.evaluate("document.activeElement.id")


def key_in_valve(page, values: tuple[str, ...]) -> None:
    """Type one valve's values, Enter after each; the optional solid height is passed over with Enter."""
    for text in values:
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    page.keyboard.press("Enter")


def test_springs_are_filled_with_enter_from_the_first_empty_field_on(springs):
    assert focused(springs) == "f-1E-installed_height"
    for address in FIRST:
        key_in_valve(springs, READ[address])
    all_saved(springs)
    assert focused(springs) == "f-3E-installed_height"
    assert Reading.objects.count() == 9
    assert "/springs/" in springs.url
    springs.locator("#chips .is-done").nth(2).wait_for()
    assert springs.locator("#tally").inner_text().strip() == "3 of 16 read"
    assert "500 lbf/in" in springs.locator("#figures-1E").inner_text()


def test_a_valve_is_filled_by_touch(springs):
    for key, text in zip(("installed_height", "seat_load", "open_load"), READ["3I"], strict=True):
        field(springs, "3I", key).tap()
        springs.keyboard.type(text)
    springs.keyboard.press("Enter")
    all_saved(springs)
    springs.locator("#chip-3I.is-done").wait_for()


def test_what_is_out_says_so_with_its_limit(springs):
    field(springs, "1E").fill("1.920")
    field(springs, "1E").press("Enter")
    springs.locator("#verdict-1E-installed_height.is-out", has_text="1.8900 to 1.9100 in").wait_for()
    assert "out" in springs.locator("#chip-1E").inner_text()


def test_without_a_network_values_wait_and_go_in_once_and_in_order(springs):
    springs.context.set_offline(True)
    key_in_valve(springs, READ["1E"])
    springs.locator("#waiting", has_text="3 not yet saved").wait_for()
    assert "waiting" in cell(springs, "1E").inner_text()
    springs.context.set_offline(False)
    all_saved(springs)
    assert [reading.text for reading in Reading.objects.all()] == list(READ["1E"])
    springs.locator("#chip-1E.is-done").wait_for()


def test_what_waits_is_put_back_after_a_reload(springs):
    springs.context.route("**/readings/", lambda route: route.abort())
    field(springs, "1E").fill("1.902")
    field(springs, "1E").press("Enter")
    springs.locator("#waiting", has_text="1 not yet saved").wait_for()
    springs.reload()
    springs.locator("#waiting", has_text="1 not yet saved").wait_for()
    assert field(springs, "1E").input_value() == "1.902"
    assert focused(springs) == "f-1E-seat_load", "the hand starts where nothing is typed yet"
    springs.context.unroute("**/readings/")
    all_saved(springs)
    assert Reading.objects.get().text == "1.902"


def test_a_refused_value_stays_with_its_sentence(springs):
    field(springs, "1E").fill("1.9.2")
    field(springs, "1E").press("Enter")
    cell(springs, "1E").locator(".asked", has_text="has two dots").wait_for()
    assert field(springs, "1E").input_value() == "1.9.2"
    cell(springs, "1E").locator(".asked button", has_text="1.92").tap()
    all_saved(springs)
    assert Reading.objects.get().text == "1.92"


def test_the_key_beside_a_value_reads_once_more(springs):
    for text in ("1.902", "1.904"):
        field(springs, "1E").fill(text)
        field(springs, "1E").press("Enter")
        all_saved(springs)
        if text == "1.902":
            cell(springs, "1E").locator("[data-more]").tap()
            cell(springs, "1E").locator("button", has_text="Read it once more").tap()
            assert focused(springs) == "f-1E-installed_height"
    springs.locator("#verdict-1E-installed_height", has_text="mean 1.9030 of 2, range 0.0020").wait_for()


def test_the_key_beside_a_value_reads_after_work(springs):
    field(springs, "1E").fill("1.930")
    field(springs, "1E").press("Enter")
    all_saved(springs)
    cell(springs, "1E").locator("[data-more]").tap()
    cell(springs, "1E").locator("button", has_text="Read it after work").tap()
    springs.keyboard.type("1.900")
    springs.keyboard.press("Enter")
    springs.locator("#verdict-1E-installed_height.is-done", has_text="1 from before the work").wait_for()
    assert [reading.context["set"] for reading in Reading.objects.all()] == [0, 1]


def test_the_key_beside_a_value_takes_it_back(springs):
    field(springs, "1E").fill("1.930")
    field(springs, "1E").press("Enter")
    all_saved(springs)
    cell(springs, "1E").locator("[data-more]").tap()
    cell(springs, "1E").locator("button", has_text="Take it back").tap()
    cell(springs, "1E").locator("button", has_text="Wrong valve").tap()
    springs.locator("#verdict-1E-installed_height", has_text="to read").wait_for()
    assert Reading.objects.last().struck_out


def test_a_value_in_the_book_is_not_overwritten_without_a_word(springs):
    field(springs, "1E").fill("1.902")
    field(springs, "1E").press("Enter")
    all_saved(springs)
    field(springs, "1E").fill("1.904")
    field(springs, "1E").press("Enter")
    asked = cell(springs, "1E").locator(".asked", has_text="1E installed height is in the book as 1.902")
    asked.locator("button", has_text="Typed wrong before").tap()
    all_saved(springs)
    assert Reading.objects.last().corrects.text == "1.902"


def test_a_chip_leads_to_its_address(springs):
    springs.locator("#chip-8E").tap()
    assert focused(springs) == "f-8E-installed_height"
    assert springs.locator("#at-8E").evaluate("row => row.getBoundingClientRect().bottom <= innerHeight")


def test_gauge_text_with_no_field_chosen_is_offered_to_the_next_empty_ones(springs):
    springs.evaluate("document.activeElement.blur()")
    springs.keyboard.type("1.902")
    springs.keyboard.press("Enter")
    offered = springs.locator("#stray button").all_inner_texts()
    assert offered[0] == "1E installed height"
    assert len(offered) == 9, "eight fields, and to forget it"
    springs.locator("#stray button").first.tap()
    all_saved(springs)
    assert Reading.objects.get().position == "1E"


def test_a_correction_typed_above_goes_with_each_pushrod(springs, scene):
    springs.goto(f"/jobs/{scene.build.pk}/log/pushrods/")
    springs.locator("#with-ball").fill("0.020")
    field(springs, "1E", "pushrod_length").fill("7.900")
    field(springs, "1E", "pushrod_length").press("Enter")
    springs.locator("#figures-1E", has_text="7.9200 in").wait_for()
    assert Reading.objects.get().context["corrections"]["ball"]["text"] == "0.020"


def test_a_refused_correction_is_mended_above_and_sent_again(springs, scene):
    springs.goto(f"/jobs/{scene.build.pk}/log/pushrods/")
    springs.locator("#with-ball").fill("7.9")
    field(springs, "1E", "pushrod_length").fill("7.900")
    field(springs, "1E", "pushrod_length").press("Enter")
    cell(springs, "1E", "pushrod_length").locator(
        ".asked", has_text="Ball end adds: 7.9 in is more"
    ).wait_for()
    springs.locator("#with-ball").fill("0.020")
    cell(springs, "1E", "pushrod_length").locator("button", has_text="Send it again").tap()
    all_saved(springs)
    assert Reading.objects.get().context["corrections"]["ball"]["text"] == "0.020"


TOUCHED = """() => [...document.querySelectorAll(
    "button, a.button, a.chip, a.step, select, input:not([type=hidden]), summary, .spine a")]
  .filter(each => each.checkVisibility()).map(each => { const box = each.getBoundingClientRect();
  return [
    each.textContent.trim().slice(0, 30) || each.id, box.left, box.top, box.right, box.bottom]; })"""


def too_small(page) -> list[tuple[str, float, float]]:
    return [
        (name, right - left, bottom - top)
        for name, left, top, right, bottom in page.evaluate(TOUCHED)
        if right - left < 55.9 or bottom - top < 55.9
    ]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "step", ["springs", "clearances", "degreeing", "lash", "pushrods", "torque", "cylinders", "block"]
)
def test_everything_to_touch_is_large_enough(springs, scene, size, step):
    springs.set_viewport_size({"width": size[0], "height": size[1]})
    springs.goto(f"/jobs/{scene.build.pk}/log/{step}/")
    all_saved(springs)
    assert too_small(springs) == []
    assert springs.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_chips_lie_apart(springs):
    boxes = springs.evaluate("""() => [...document.querySelectorAll(".chip")].map(each => {
        const box = each.getBoundingClientRect(); return [box.left, box.top, box.right, box.bottom]; })""")
    assert len(boxes) == 16
    for first in boxes:
        for other in boxes:
            if first is not other:
                gap = max(other[0] - first[2], first[0] - other[2], other[1] - first[3], first[1] - other[3])
                assert gap >= 7.9


@pytest.mark.parametrize("size", SIZES)
def test_sixteen_springs_fit_on_a_page_that_can_be_gone_through(springs, size):
    """Regression only: four fields for each of sixteen valves once took 8,400 px."""
    springs.set_viewport_size({"width": size[0], "height": size[1]})
    assert springs.evaluate("document.documentElement.scrollHeight") < 3200
    tops = springs.locator("[data-row='1E'] input").evaluate_all(
        "all => all.map(each => each.getBoundingClientRect().top)"
    )
    assert max(tops) - min(tops) < 1, "a valve's fields stand in one line"


def violations(page) -> list[tuple[str, list[str]]]:
    found = Axe().run(page).response["violations"]
    return [(each["id"], [node["html"][:200] for node in each["nodes"]][:3]) for each in found]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "place", ["log/springs/", "log/degreeing/", "log/lash/", "log/pushrods/", "log/", "limits/", ""]
)
def test_nothing_stands_in_the_way_of_those_who_cannot_see(springs, scene, size, place):
    key_in_valve(springs, ("1.920", "201", "551"))
    all_saved(springs)
    springs.set_viewport_size({"width": size[0], "height": size[1]})
    springs.goto(f"/jobs/{scene.build.pk}/{place}")
    springs.wait_for_load_state("networkidle")
    assert violations(springs) == []
    assert too_small(springs) == [] or place == ""
