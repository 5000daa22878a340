"""The bench under the hand: keys, lost networks, ended log-ins, and the size of what is touched."""

import json

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session

from builds.models import Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def scene(bench_tablet) -> Scene:
    return make_scene(Person.objects.get(username="nora"))


@pytest.fixture
def bench(bench_tablet, scene):
    """The bench open at L.stand1."""
    bench_tablet.goto(f"/bench/{scene.left.pk}/at/L.stand1")
    bench_tablet.locator("#panel[data-address='L.stand1']").wait_for()
    return bench_tablet


def value(bench, address: str):
    return bench.locator(f"[data-row='{address}'] [data-value]")


def kept(bench, address: str) -> str:
    return bench.locator(f"[data-row='{address}'] [data-kept-sign]").inner_text()


def all_saved(bench) -> None:
    bench.locator("#waiting", has_text="All saved").wait_for()


def test_leaving_a_field_saves_it(bench):
    value(bench, "1E").fill("0.024")
    value(bench, "1I").focus()
    bench.locator("[data-row='1E'] .is-saved").wait_for()
    assert Reading.objects.get().text == "0.024"


def test_enter_goes_to_the_next_valve_and_never_submits(bench):
    value(bench, "1E").focus()
    bench.keyboard.type("0.024")
    bench.keyboard.press("Enter")
    assert bench.evaluate("document.activeElement.id") == "value-1I"
    assert "/at/L.stand1" in bench.url


def test_a_gauge_that_types_fills_field_after_field(bench):
    value(bench, "1E").focus()
    for text in ("01A+000.0240", "01A+000.0260"):
        bench.keyboard.type(text)
        bench.keyboard.press("Enter")
    all_saved(bench)
    bench.locator("#act", has_text="Raise 0.025 in").wait_for()
    assert [float(reading.value) for reading in Reading.objects.all()] == [0.024, 0.026]


def test_gauge_text_with_no_field_chosen_is_offered_not_dropped(bench):
    bench.evaluate("document.activeElement.blur()")
    bench.keyboard.type("0.0240")
    bench.keyboard.press("Enter")
    bench.locator("#stray button", has_text="1I").tap()
    all_saved(bench)
    assert Reading.objects.get().position == "1I"


def test_a_value_in_the_book_is_not_overwritten_without_a_word(bench):
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    all_saved(bench)
    value(bench, "1E").fill("0.026")
    value(bench, "1E").press("Enter")
    assert kept(bench, "1E") == "needs a word"
    bench.locator("[data-row='1E'] .asked button", has_text="Typed wrong before").tap()
    all_saved(bench)
    bench.locator("[data-row='1E'] .is-saved").wait_for()
    assert Reading.objects.last().corrects.text == "0.024"


def test_a_refused_value_stays_in_its_field_with_its_sentence(bench):
    value(bench, "1E").fill("0.0.24")
    value(bench, "1E").press("Enter")
    bench.locator("[data-row='1E'] .asked", has_text="has two dots").wait_for()
    assert value(bench, "1E").input_value() == "0.0.24"
    bench.locator("[data-row='1E'] .asked button", has_text="0.024").tap()
    all_saved(bench)
    assert Reading.objects.get().text == "0.024"


def test_a_refused_value_survives_a_reload(bench):
    value(bench, "1E").fill("212")
    value(bench, "1E").press("Enter")
    bench.locator("[data-row='1E'] .asked", has_text="212").wait_for()
    bench.reload()
    bench.locator("[data-row='1E'] .asked", has_text="212").wait_for()
    assert value(bench, "1E").input_value() == "212"


def test_without_a_network_values_wait_and_go_in_once_and_in_order(bench):
    bench.context.set_offline(True)
    for address, text in (("1E", "0.024"), ("1I", "0.026")):
        value(bench, address).fill(text)
        value(bench, address).press("Enter")
    bench.locator("#waiting", has_text="2 not yet saved").wait_for()
    assert kept(bench, "1E") == "waiting"
    bench.context.set_offline(False)
    all_saved(bench)
    assert [reading.text for reading in Reading.objects.all()] == ["0.024", "0.026"]


def test_what_waits_survives_a_closed_tab(bench, scene):
    bench.context.route("**/readings/", lambda route: route.abort())
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    bench.locator("#waiting", has_text="1 not yet saved").wait_for()
    page = bench.context.new_page()
    bench.close()
    bench.context.unroute("**/readings/")
    page.goto(f"/bench/{scene.left.pk}/at/L.stand1")
    page.locator("#waiting", has_text="All saved").wait_for()
    assert Reading.objects.get().text == "0.024"


def test_an_answer_lost_on_the_way_back_does_not_double_the_reading(bench):
    """The book writes, the network drops the answer: the tablet sends again, and one reading stands."""
    lost = []

    def lose_the_first(route):
        response = route.fetch()
        if lost:
            route.fulfill(response=response)
        else:
            lost.append(response)
            route.abort()

    bench.context.route("**/readings/", lose_the_first)
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    all_saved(bench)
    assert lost
    assert Reading.objects.count() == 1


def test_a_pack_fitted_without_a_network_starts_a_new_set(bench):
    for address in ("1E", "1I"):
        value(bench, address).fill("0.025")
        value(bench, address).press("Enter")
    bench.locator("#act [data-fit]").wait_for()
    bench.context.set_offline(True)
    bench.locator("#act [data-fit]").tap()
    for address in ("1E", "1I"):
        value(bench, address).fill("0")
        value(bench, address).press("Enter")
    bench.locator("#waiting", has_text="3 not yet saved").wait_for()
    bench.context.set_offline(False)
    all_saved(bench)
    bench.locator("#stand-head .is-done").wait_for()


def test_an_ended_log_in_is_renewed_in_place_and_the_same_value_goes_in(bench):
    Session.objects.all().delete()
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    dialog = bench.locator("#login-again")
    dialog.wait_for()
    dialog.locator("input").fill("not the password")
    dialog.locator("button", has_text="Log in and send").tap()
    dialog.locator(".error", has_text="does not open the book").wait_for()
    dialog.locator("input").fill("nine loose lifters")
    dialog.locator("button", has_text="Log in and send").tap()
    all_saved(bench)
    assert Reading.objects.get().text == "0.024"


def test_the_unsent_can_be_taken_away_as_a_file(bench):
    bench.context.set_offline(True)
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    with bench.expect_download() as download:
        bench.locator("[data-export]").tap()
    text = download.value.path().read_text()
    assert '"1E","stand_gap","0.024","in"' in text
    bench.context.set_offline(False)
    all_saved(bench)


def test_a_late_answer_never_writes_into_a_field(bench):
    """While the answer to the first value is on its way the second is being typed: it stays as typed."""
    bench.context.route("**/readings/", lambda route: (bench.wait_for_timeout(400), route.continue_()))
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    bench.keyboard.type("0.0")
    bench.locator("[data-row='1E'] .is-saved").wait_for()
    assert value(bench, "1I").input_value() == "0.0"
    assert bench.evaluate("document.activeElement.id") == "value-1I"
    bench.context.unroute_all(behavior="ignoreErrors")


SIZES = """() => [...document.querySelectorAll(
    "button, a.button, select, #plan a, input:not([type=hidden]), summary, .spine a")]
  .filter(each => each.checkVisibility()).map(each => {
  const box = (each.querySelector(":scope > rect") ?? each).getBoundingClientRect();
  return [each.textContent.trim().slice(0, 30) || each.id, box.width, box.height, box.left, box.top]; })"""


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_everything_to_touch_is_large_enough_and_apart(bench, size):
    bench.set_viewport_size({"width": size[0], "height": size[1]})
    boxes = bench.evaluate(SIZES)
    assert len(boxes) > 20
    small = [(name, width, height) for name, width, height, _x, _y in boxes if width < 55.9 or height < 55.9]
    assert small == []
    balloons = bench.evaluate("""() => [...document.querySelectorAll("#plan a > .balloon")].map(each => {
        const box = each.getBoundingClientRect(); return [box.left, box.top, box.right, box.bottom]; })""")
    for first in balloons:
        for other in balloons:
            if first is not other:
                gap = max(other[0] - first[2], first[0] - other[2], other[1] - first[3], first[1] - other[3])
                assert gap >= 7.9


@pytest.mark.parametrize("address", ["L.stand1", "L.stand3"])
def test_nothing_stands_in_the_way_of_those_who_cannot_see(bench, scene, address):
    scene.read_gap("5E", "0.020")
    bench.goto(f"/bench/{scene.left.pk}/at/{address}")
    bench.locator("#act").wait_for()
    found = Axe().run(bench).response["violations"]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == [], json.dumps(
        found
    )[:2000]


def test_two_hundred_values_without_a_network_are_neither_lost_nor_doubled(bench):
    bench.context.set_offline(True)
    # Keyed by script, as fast as it goes: what a person does in half an hour.
    bench.evaluate("""async () => { for (let turn = 0; turn < 200; turn++) {
        const row = document.querySelectorAll("[data-row]")[turn % 2];
        row.querySelector("[data-value]").value = `0.02${String(turn).padStart(3, "0")}`;
        row.querySelector("[data-value]").dataset.kept = "";
        await send(row); } }""")
    bench.locator("#waiting", has_text="200 not yet saved").wait_for()
    bench.context.set_offline(False)
    bench.locator("#waiting", has_text="All saved").wait_for(timeout=60_000)
    assert [reading.text for reading in Reading.objects.all()] == [f"0.02{turn:03}" for turn in range(200)]


def test_answers_that_dawdle_leave_what_was_keyed_last(bench, scene):
    """Answers come back after uneven waits: what was keyed last is what stands, at every valve."""
    waits = iter([300, 0, 200, 50, 0, 250, 100, 0, 150, 0])
    bench.context.route(
        "**/readings/", lambda route: (bench.wait_for_timeout(next(waits, 0)), route.continue_())
    )
    bench.evaluate("""async () => { for (let turn = 0; turn < 10; turn++) {
        const row = document.querySelectorAll("[data-row]")[turn % 2];
        row.querySelector("[data-value]").value = `0.01${turn}`;
        row.querySelector("[data-value]").dataset.kept = "";
        await send(row); } }""")
    all_saved(bench)
    assert value(bench, "1E").input_value() == "0.018"
    assert value(bench, "1I").input_value() == "0.019"
    assert [reading.text for reading in Reading.objects.all()] == [f"0.01{turn}" for turn in range(10)]
    told = bench.locator("#verdict-1E").inner_text()
    assert "mean of 5" in told
    bench.context.unroute_all(behavior="ignoreErrors")


def test_a_second_tap_on_fitted_is_the_same_pack(bench):
    for address in ("1E", "1I"):
        value(bench, address).fill("0.025")
        value(bench, address).press("Enter")
    bench.locator("#act [data-fit]").wait_for()
    bench.evaluate("for (let tap = 0; tap < 2; tap++) document.querySelector('#act [data-fit]').click()")
    bench.locator("#stand-head", has_text="to prove").wait_for()
    all_saved(bench)
    assert FittedPack.objects.count() == 1


def test_a_refused_pack_is_told_where_it_was_typed_and_the_stand_stays_as_it_was(bench):
    value(bench, "1E").fill("0.025")
    value(bench, "1E").press("Enter")
    all_saved(bench)
    bench.locator("#act summary", has_text="Fitted something else").tap()
    bench.locator("[data-pieces]").fill(".03o")
    bench.locator("[data-fit-typed]").tap()
    bench.locator("[data-pack-asked]", has_text="Pack:").wait_for()
    assert "Pack fitted" not in bench.locator("#act .headline").inner_text()
    assert value(bench, "1E").input_value() == "0.025"
    bench.locator("[data-pack-asked] button", has_text="Forget this pack").tap()
    all_saved(bench)
    assert not FittedPack.objects.exists()


def test_an_empty_pack_field_is_not_a_pack(bench):
    bench.locator("#act summary", has_text="Fitted something else").tap()
    bench.locator("[data-fit-typed]").tap()
    bench.wait_for_timeout(200)
    assert not FittedPack.objects.exists()


def test_a_refused_entry_of_another_stand_is_listed_with_ways_out(bench, scene):
    value(bench, "1E").fill("212")
    value(bench, "1E").press("Enter")
    bench.locator("[data-row='1E'] .asked", has_text="212").wait_for()
    bench.locator("#plan [data-address='L.stand2']").tap()
    bench.locator("#panel[data-address='L.stand2']").wait_for()
    bench.locator("[data-list-refused]").tap()
    listed = bench.locator("#stray")
    listed.wait_for()
    assert "1E, 212" in listed.inner_text()
    listed.locator("button", has_text="Forget this entry").tap()
    all_saved(bench)


def test_a_pack_fitted_at_another_tablet_is_heard_of(bench, scene):
    """The stale page is asked once, then shows the new set; nothing slips into the readings from before."""
    scene.fit("L.stand1", "0.015")
    value(bench, "1E").fill("0.010")
    value(bench, "1E").press("Enter")
    bench.locator("[data-row='1E'] .asked", has_text="another pack was fitted").wait_for()
    bench.locator("[data-row='1E'] .asked button", has_text="Clear the field").tap()
    bench.locator("#stand-head", has_text=".015").wait_for()
    bench.wait_for_function("document.querySelector('#panel').dataset.pack !== ''")
    value(bench, "1E").fill("0.010")
    value(bench, "1E").press("Enter")
    all_saved(bench)
    assert Reading.objects.get().context["pack"] != ""


def test_a_log_in_put_off_can_be_taken_up_again(bench):
    Session.objects.all().delete()
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    dialog = bench.locator("#login-again")
    dialog.wait_for()
    dialog.locator("button", has_text="Later").tap()
    bench.locator("[data-login-open]").tap()
    dialog.locator("input").fill("nine loose lifters")
    dialog.locator("button", has_text="Log in and send").tap()
    all_saved(bench)
    assert Reading.objects.get().text == "0.024"


def test_what_is_being_typed_while_the_board_comes_anew_stays_under_the_hand(bench):
    value(bench, "1E").focus()
    bench.keyboard.type("0.0")
    bench.evaluate("reopen()")
    bench.wait_for_timeout(500)
    bench.keyboard.type("24")
    bench.keyboard.press("Enter")
    all_saved(bench)
    assert Reading.objects.get().text == "0.024"


def test_a_question_left_unanswered_waits_and_is_there_again(bench, scene):
    value(bench, "1E").fill("0.024")
    value(bench, "1E").press("Enter")
    all_saved(bench)
    value(bench, "1E").fill("0.026")
    value(bench, "1E").press("Enter")
    bench.locator("#waiting", has_text="1 waits for a word").wait_for()
    bench.reload()
    bench.locator("[data-row='1E'] .asked", has_text="What is 0.026?").wait_for()
    bench.locator("[data-row='1E'] .asked button", has_text="Typed wrong before").tap()
    all_saved(bench)
    assert Reading.objects.last().corrects.text == "0.024"
