"""A mark measured on its picture by finger and by keys alone: taps, loupe, undo, the network gone, and what is saved."""

from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Build, Reading
from tests.browser.tapping import WITHIN, assert_as_drawn, counts, place, saved, say_how_it_lies, tap, tap_all
from tests.browser.test_touch import SIZES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Fingers:
    """Fingers on the glass, one or two."""

    def __init__(self, screen) -> None:
        self.session = screen.context.new_cdp_session(screen)

    def at(self, kind, *points) -> None:
        touches = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
        self.session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})


def test_a_mark_tapped_by_finger_is_saved_as_it_was_drawn(by_hand, photo, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    assert counts(by_hand) == ["8", "3", "3"]
    by_hand.locator(".measured-mark").wait_for()
    by_hand.locator("[data-save]:enabled").tap()
    by_hand.wait_for_url("**/marks/1E/")
    assert_as_drawn(saved(photo), picture)
    overlay = by_hand.locator(".overlaid svg")
    overlay.scroll_into_view_if_needed()
    over, under = (by_hand.locator(f".overlaid {each}").bounding_box() for each in ("svg", "img"))
    assert over == pytest.approx(under, abs=3)


def test_the_guess_is_accepted_and_saved(screen, photo, picture):
    screen.locator("[data-save]:disabled").wait_for()
    say_how_it_lies(screen)
    screen.locator("caption", has_text="First guess, not accepted").wait_for()
    assert screen.locator("[data-save]").is_disabled()
    screen.locator("[data-accept]").tap()
    screen.locator("caption", has_text="The mark as tapped").wait_for()
    screen.locator("[data-save]:enabled").tap()
    screen.wait_for_url("**/marks/1E/")
    found = saved(photo)
    assert found["mark_outer"] - found["mark_inner"] == pytest.approx(picture.width, abs=2 * WITHIN)


def move_to(screen, at: list[int], point) -> None:
    """The cross hair to a place, by arrow keys alone."""
    for axis, keys in enumerate((("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"))):
        far = round(float(point[axis])) - at[axis]
        key = keys[far > 0]
        for _each in range(abs(far) // 10):
            screen.keyboard.press(f"Shift+{key}")
        for _each in range(abs(far) % 10):
            screen.keyboard.press(key)
        at[axis] += far


def test_everything_can_be_done_by_keys(screen, photo, picture):
    screen.locator("[data-by-hand]").press("Enter")
    assert screen.evaluate("document.activeElement.id") == "stage"
    screen.keyboard.press("ArrowRight")
    screen.keyboard.press("ArrowLeft")
    at = screen.evaluate("cursor.map(Math.round)")
    screen.evaluate("cursor = cursor.map(Math.round)")
    for key, points in (
        ("1", picture.rim_points(6)),
        ("2", picture.inner_points(2)),
        ("3", picture.outer_points(2)),
    ):
        screen.keyboard.press(key)
        for point in points:
            move_to(screen, at, point)
            screen.keyboard.press("Enter")
    assert counts(screen) == ["6", "2", "2"]
    assert "Outer edge, point 2 placed" in screen.locator("[data-said]").inner_text()
    screen.locator("[data-shaft=left]").press("Enter")
    screen.locator("[data-front=up]").press("Space")
    screen.locator(".measured-mark").wait_for()
    screen.locator("[data-save]:enabled").press("Enter")
    screen.wait_for_url("**/marks/1E/")
    assert_as_drawn(saved(photo), picture)


def test_tab_goes_through_the_points_and_on(by_hand, picture):
    tap(by_hand, "rim", picture.rim_points(3))
    by_hand.keyboard.press("Escape")
    said = []
    for _each in range(3):
        by_hand.keyboard.press("Tab")
        said.append(by_hand.locator("[data-said]").inner_text().split(",")[1])
    assert said == [" point 1 of 3", " point 2 of 3", " point 3 of 3"]
    before = by_hand.evaluate("marks.point[0]")
    by_hand.keyboard.press("ArrowRight")
    by_hand.keyboard.press("Alt+ArrowRight")
    assert by_hand.evaluate("marks.point[0]") == pytest.approx(before + 1.1, abs=0.02)
    by_hand.keyboard.press("Delete")
    assert counts(by_hand) == ["2", "0", "0"]
    by_hand.keyboard.press("Control+z")
    assert counts(by_hand) == ["3", "0", "0"]
    by_hand.keyboard.press("Shift+Tab")
    by_hand.keyboard.press("Escape")
    for _each in range(4):
        by_hand.keyboard.press("Tab")
    assert by_hand.evaluate("document.activeElement.id") != "stage"


def test_a_point_is_dragged_under_the_loupe_and_put_back_by_undo(by_hand, picture):
    tap(by_hand, "rim", picture.rim_points(2))
    start = by_hand.evaluate("marks.groups.rim[0]")
    x, y = place(by_hand, start)
    fingers = Fingers(by_hand)
    fingers.at("touchStart", (x, y))
    fingers.at("touchMove", (x - 12, y + 8))
    fingers.at("touchMove", (x - 40, y + 30))
    loupe = by_hand.evaluate("view.scene.loupe")
    assert loupe["finger"] is True
    fingers.at("touchEnd")
    scale = by_hand.evaluate("view.scale")
    moved = by_hand.evaluate("marks.groups.rim[0]")
    assert moved == pytest.approx([start[0] - 40 / scale, start[1] + 30 / scale], abs=2 / scale)
    by_hand.locator("[data-undo]").click()
    assert by_hand.evaluate("marks.groups.rim[0]") == start


def test_two_fingers_come_closer_and_a_double_tap_shows_the_whole(by_hand):
    whole = by_hand.evaluate("view.scale")
    x, y = place(by_hand, (600, 450))
    fingers = Fingers(by_hand)
    fingers.at("touchStart", (x - 40, y))
    fingers.at("touchStart", (x - 40, y), (x + 40, y))
    fingers.at("touchMove", (x - 120, y), (x + 120, y))
    fingers.at("touchEnd")
    assert by_hand.evaluate("view.scale") == pytest.approx(3 * whole, rel=0.1)
    by_hand.touchscreen.tap(x, y)
    by_hand.touchscreen.tap(x, y)
    assert by_hand.evaluate("view.scale") == whole
    assert counts(by_hand) == ["0", "0", "0"]


def test_one_finger_moves_the_picture_and_taps_nothing(by_hand):
    left = by_hand.evaluate("view.left")
    x, y = place(by_hand, (600, 450))
    fingers = Fingers(by_hand)
    fingers.at("touchStart", (x, y))
    fingers.at("touchMove", (x + 30, y))
    fingers.at("touchMove", (x + 60, y))
    fingers.at("touchEnd")
    assert by_hand.evaluate("view.left") == pytest.approx(left + 60, abs=2)
    assert counts(by_hand) == ["0", "0", "0"]


def test_a_finger_that_rests_places_a_point_under_the_loupe(by_hand):
    x, y = place(by_hand, (500, 400))
    fingers = Fingers(by_hand)
    fingers.at("touchStart", (x, y))
    by_hand.locator("[data-count]", has_text="1").wait_for()
    assert by_hand.evaluate("finger.held && view.scene.loupe.finger")
    fingers.at("touchMove", (x + 20, y))
    fingers.at("touchEnd")
    assert counts(by_hand) == ["1", "0", "0"]


def test_the_way_back_shows_what_was_saved_and_not_the_first_guess_again(screen, photo):
    screen.locator("[data-save]:disabled").wait_for()
    say_how_it_lies(screen)
    screen.locator("[data-accept]").tap()
    screen.locator("[data-save]:enabled").tap()
    screen.wait_for_url("**/marks/1E/")
    screen.go_back()
    screen.get_by_text("This photo was measured before.").wait_for()
    screen.locator("[data-save]:enabled").wait_for()
    assert screen.locator("[data-offer]").is_hidden()
    assert int(counts(screen)[0]) >= 5


def test_a_reload_loses_nothing(by_hand, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    by_hand.locator("#rim-diameter").fill("0.3421")
    by_hand.reload()
    by_hand.locator(".measured-mark").wait_for()
    assert counts(by_hand) == ["8", "3", "3"]
    assert by_hand.locator("#rim-diameter").input_value() == "0.3421"
    assert by_hand.locator("[data-shaft=left]").get_attribute("aria-pressed") == "true"


def test_without_network_nothing_is_lost_and_it_goes_in_once(by_hand, photo, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    by_hand.locator(".measured-mark").wait_for()
    by_hand.context.set_offline(True)
    by_hand.locator("[data-save]:enabled").tap()
    by_hand.locator("[data-asked]", has_text="nothing was saved yet").wait_for()
    by_hand.context.set_offline(False)
    by_hand.locator("[data-save]:enabled").tap()
    by_hand.wait_for_url("**/marks/1E/")
    assert Reading.objects.filter(photo=photo).count() == 4


def test_what_was_typed_wrong_is_told_in_place_and_stays(by_hand, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    by_hand.locator("#rim-diameter").fill("0.3.4")
    by_hand.locator("[data-told]", has_text="has two dots").wait_for()
    assert by_hand.locator("[data-save]").is_disabled()
    assert by_hand.locator("#rim-diameter").input_value() == "0.3.4"
    by_hand.locator("#rim-diameter").fill("0.342")
    by_hand.locator("[data-save]:enabled").wait_for()


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_keys_are_large_apart_and_told_to_everybody(screen, picture, size):
    screen.set_viewport_size({"width": size[0], "height": size[1]})
    assert Axe().run(screen).response["violations"] == []
    screen.locator("[data-by-hand]").tap()
    tap_all(screen, picture)
    say_how_it_lies(screen)
    screen.locator(".measured-mark").wait_for()
    assert screen.evaluate(SIZES) == []
    assert Axe().run(screen).response["violations"] == []


def test_edges_the_wrong_way_round_are_told_and_swapped_by_one_key(by_hand, picture):
    tap(by_hand, "rim", picture.rim_points(8))
    tap(by_hand, "inner", picture.outer_points(3))
    tap(by_hand, "outer", picture.inner_points(3))
    say_how_it_lies(by_hand)
    by_hand.locator("[data-result]", has_text="further from the shaft than the outer edge").wait_for()
    by_hand.locator("[data-swap]").tap()
    by_hand.locator("[data-save]:enabled").wait_for()
    assert by_hand.locator("[data-swap]").is_hidden()


def test_a_closed_job_shows_what_was_measured_and_has_no_key_to_save(by_hand, photo, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    by_hand.locator("[data-save]:enabled").tap()
    by_hand.wait_for_url("**/marks/1E/")
    Build.objects.filter(pk=photo.build_id).update(went_out_on=date(2026, 1, 5))
    by_hand.go_back(wait_until="networkidle")
    by_hand.reload()
    by_hand.locator(".measured-mark").wait_for()
    assert counts(by_hand) == ["8", "3", "3"]
    assert by_hand.locator("[data-save]").count() == 0
    assert "its log is closed" in by_hand.locator("main").inner_text()
