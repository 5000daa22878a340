"""The side on which the stem shows, told by one key; and answers that come too late to be shown."""

import pytest

from builds.models import Person, Reading
from tests.browser.tapping import assert_as_drawn, saved, say_how_it_lies, tap_all
from tests.scenes import make_scene
from tests.tapped import photo_of, tip

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_side_of_the_stem_is_told_by_one_key_and_kept(by_hand, photo, picture):
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    hint = by_hand.locator(".stem-side", has_text="say on which side the stem shows")
    hint.wait_for()
    assert by_hand.locator(".not-seen").get_attribute("aria-pressed") == "true"
    by_hand.locator("[data-stem=right]").tap()
    hint.wait_for(state="detached")
    by_hand.reload()
    by_hand.locator("[data-save]:enabled").wait_for()
    pressed = by_hand.locator("[data-stem][aria-pressed=true]")
    assert pressed.evaluate_all("keys => keys.map((key) => key.dataset.stem)") == ["right"]
    by_hand.locator("[data-stem=left]").tap()
    by_hand.locator(".not-seen").tap()
    hint.wait_for()
    by_hand.locator("[data-stem=right]").tap()
    hint.wait_for(state="detached")
    by_hand.locator("[data-save]:enabled").tap()
    by_hand.wait_for_url("**/marks/1E/")
    context = Reading.objects.standing().get(photo=photo, characteristic="mark_inner").context["mark"]
    assert context["taps"]["stem_at"] == "right"
    assert context["frame"]["origin"] != context["rim"]["centre"]
    assert_as_drawn(saved(photo), picture)


def test_the_side_of_the_stem_is_asked_of_every_picture_anew(by_hand, photo):
    say_how_it_lies(by_hand)
    by_hand.locator("[data-stem=up]").tap()
    other = photo_of(tip(), make_scene(Person.objects.get(username="nora"), job_number="26-020"))
    head = other.build.heads.get(code="L")
    by_hand.evaluate(
        "name => localStorage.setItem(name, localStorage.getItem(wayKey))",
        f"standbook:mark-way:head{head.pk}",
    )
    by_hand.goto(f"/bench/{head.pk}/marks/1E/photos/{other.client_id}/")
    by_hand.locator("[data-shaft=left][aria-pressed=true]").wait_for()
    assert by_hand.locator(".not-seen").get_attribute("aria-pressed") == "true"


class Held:
    """Answers of one address, held back until they are let go."""

    def __init__(self, screen, address) -> None:
        self.screen, self.routes = screen, []
        screen.route(address, lambda route: self.routes.append(route))

    def wait_for(self, count) -> None:
        for _each in range(100):
            if len(self.routes) >= count:
                return
            self.screen.wait_for_timeout(50)
        raise AssertionError(f"{len(self.routes)} of {count} questions were asked")

    def let_go(self) -> None:
        route = self.routes.pop(0)
        with self.screen.expect_response(route.request.url):
            route.continue_()
        self.screen.wait_for_timeout(150)


def test_an_answer_to_taps_that_are_gone_is_not_shown(by_hand, picture):
    held = Held(by_hand, "**/figures/")
    tap_all(by_hand, picture)
    say_how_it_lies(by_hand)
    held.wait_for(1)
    by_hand.wait_for_timeout(400)
    while len(held.routes) > 1:
        held.routes.pop(0).abort()
    by_hand.locator("[data-clear]").tap()
    held.let_go()
    assert by_hand.locator("[data-result]").inner_text() == ""
    assert by_hand.locator("[data-tip]").inner_html() == ""
    assert by_hand.evaluate("drawn") is None
    assert by_hand.locator("[data-save]").is_disabled()


def test_an_answer_about_a_guess_that_was_laid_aside_is_not_shown(screen):
    held, again = Held(screen, "**/figures/"), Held(screen, "**/guess/")
    say_how_it_lies(screen)
    held.wait_for(1)
    again.wait_for(1)
    screen.wait_for_timeout(400)
    while len(held.routes) > 1:
        held.routes.pop(0).abort()
    screen.locator("[data-by-hand]").tap()
    held.let_go()
    again.let_go()
    assert screen.locator("[data-offer]").is_hidden()
    assert screen.locator("[data-result]").inner_text() == ""
    assert screen.evaluate("[drawn, marks.guess]") == [None, None]
