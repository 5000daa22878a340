"""A season of one engine by touch: running, a mistake put right, a check on the log's own page, and the track."""

from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from builds.guests import new_token
from builds.models import GuestLink, Person, Reading, RunEntry, ToldReading
from tests.scenes import Scene, make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = [(1024, 768), (800, 1280)]
DAY = timezone.localdate


@pytest.fixture
def scene(bench_tablet) -> Scene:
    made = make_scene(Person.objects.get(username="nora"))
    made.build.engine.firing_order = "1-8-4-3-6-5-7-2"
    made.build.engine.save()
    made.build.opened_on, made.build.went_out_on = DAY() - timedelta(60), DAY() - timedelta(30)
    made.build.save()
    return made


@pytest.fixture
def token(scene: Scene) -> str:
    token, digest = new_token()
    GuestLink.objects.create(
        build=scene.build, digest=digest, name="crew chief", made_by=scene.person, takes_running=True
    )
    return token


def write(page, amount: str, days_ago: int, **more: str) -> None:
    page.locator("#id_ran_on").fill((DAY() - timedelta(days_ago)).isoformat())
    page.locator("#id_text").fill(amount)
    for name, value in more.items():
        page.locator(f"#id_{name}").fill(value)
    with page.expect_navigation():
        page.get_by_role("button", name="Write it down").tap()


def test_a_season_by_touch(bench_tablet, scene: Scene, token: str) -> None:
    page = bench_tablet
    page.goto(scene.build.get_absolute_url())
    page.get_by_role("link", name="Running record and checks").tap()
    write(page, "36", 20)
    write(page, "60", 9, note="two events")
    page.get_by_role("link", name="Correct the entry").first.tap()
    page.locator("#id_text").fill("6")
    page.locator("#id_reason").fill("a nought too many")
    page.get_by_role("button", name="Write the correction").tap()
    page.locator("p.ran", has_text="42 passes").wait_for()

    page.get_by_role("link", name="Open a check").tap()
    page.get_by_role("button", name="Open the check").tap()
    page.get_by_role("link", name="Lash", exact=True).tap()
    page.locator("#waiting", has_text="All saved").wait_for()
    page.locator("#f-5E-lash_cold").fill("0.006")
    page.locator("#f-5E-lash_cold").press("Enter")
    page.locator("[data-row='5E'] .kept.is-saved").first.wait_for()
    reading = Reading.objects.get()
    assert (reading.build.kind, reading.build.follows) == ("check", scene.build)
    page.goto(reading.build.get_absolute_url())
    page.get_by_role("button", name="This check is done").tap()
    page.locator(".state", has_text="done").wait_for()

    guest = page.context.browser.new_context(
        base_url=f"http://{urlsplit(page.url).netloc}",
        viewport={"width": 800, "height": 1280},
        has_touch=True,
    ).new_page()
    guest.goto(reverse("guest-enter", args=[token]))
    guest.locator("#run_text").fill("4")
    guest.get_by_role("button", name="Send it to the shop").first.tap()
    guest.locator("p.ran", has_text="46 passes").wait_for()
    guest.locator("#lash_position").select_option("5E")
    guest.locator("#lash_text").fill("0.008")
    guest.locator("#lash_told_by").fill("Ivo")
    guest.get_by_role("button", name="Send it to the shop").last.tap()
    guest.get_by_text("Not looked at yet").wait_for()
    assert Axe().run(guest).violations_count == 0
    guest.context.close()

    page.goto(reverse("job-running", args=[scene.build.pk]))
    page.get_by_role("link", name="Take over").tap()
    page.get_by_role("button", name="Take it over").tap()
    page.get_by_text("is taken over into").wait_for()
    assert (RunEntry.objects.count(), ToldReading.objects.get().answer.reading.text) == (4, "0.008")


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_all_that_is_touched_is_large_and_apart(
    bench_tablet, scene: Scene, token: str, width: int, height: int
) -> None:
    page = bench_tablet
    page.set_viewport_size({"width": width, "height": height})
    page.goto(reverse("job-running", args=[scene.build.pk]))
    write(page, "36", 20)
    for address in (
        reverse("job-running", args=[scene.build.pk]),
        reverse("check-open", args=[scene.build.pk]),
        reverse("guest-enter", args=[token]),
    ):
        page.goto(address)
        small = page.evaluate(SMALL)
        assert small == [], address
        assert Axe().run(page).violations_count == 0, address


# Links and keys in the page's own part that are smaller than 56 px either way.
SMALL = """() => [...document.querySelectorAll("main a, main button, main input:not([type=hidden]), main select")]
  .filter(each => each.offsetParent && each.type !== "checkbox" && each.closest("p.message, .lead") === null)
  .map(each => [each, each.getBoundingClientRect()])
  .filter(([each, box]) => box.height < 55.5 || box.width < 55.5)
  .map(([each, box]) => `${each.tagName} ${each.textContent.trim() || each.id} ${box.width} ${box.height}`)"""
