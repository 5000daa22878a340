"""An engine came back, by touch: its return opened, two lashes and a gap read as found, and all beside as built."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from builds.models import Build, Person
from tests.browser.test_main_job import key_in
from tests.browser.test_touch import SIZES
from tests.builds.came_back import read, went_out
from tests.scenes import Scene, make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def scene(bench_tablet) -> Scene:
    """An engine that is out, with two lashes and a gap read when it left."""
    made = make_scene(Person.objects.get(username="nora"))
    for address in ("5E", "5I"):
        read(made, made.build, address, "lash_cold", "0.004")
    made.read_gap("5E", "0.002")
    went_out(made)
    return made


def open_return(tablet) -> Build:
    """From the jobs to the new job, by the buttons."""
    tablet.goto("/")
    tablet.get_by_role("link", name="Returns").tap()
    tablet.get_by_role("link", name="An engine came back").tap()
    tablet.get_by_role("searchbox").fill("HPT-3")
    tablet.get_by_role("button", name="Search").tap()
    tablet.get_by_role("link", name="It came back").tap()
    tablet.get_by_label("What happened").fill("Noise on the left, then stopped on the line")
    tablet.get_by_role("button", name="Open its return").tap()
    tablet.locator(".message", has_text="is back").wait_for()
    return Build.objects.get(kind="return")


def read_lash(tablet, address: str, value: str) -> None:
    tablet.locator(f"#f-{address}-lash_cold").tap()
    tablet.keyboard.type(value)
    tablet.keyboard.press("Enter")
    tablet.locator("#waiting", has_text="All saved").wait_for()


def read_as_found(tablet, job: Build) -> None:
    """Two lashes in the log, one gap on the bench, by the ways that the job's page offers."""
    tablet.get_by_role("link", name="Read the other steps").tap()
    tablet.locator("a.step", has_text="Lash").tap()
    read_lash(tablet, "5E", "0.027")
    read_lash(tablet, "5I", "0.005")
    tablet.goto(job.get_absolute_url())
    tablet.get_by_role("link", name="Read the stand height, Left head").tap()
    stand = next(valve.stand for valve in job.heads.get(code="L").valves.all() if valve.address == "5E")
    tablet.locator(f"#plan [data-address='{stand.address}']").tap()
    tablet.locator(f"#panel[data-address='{stand.address}']").wait_for()
    key_in(tablet, "5E", "0.014")


def test_a_return_is_opened_read_and_compared_by_touch(bench_tablet, scene):
    tablet = bench_tablet
    job = open_return(tablet)
    read_as_found(tablet, job)
    tablet.goto(job.get_absolute_url())
    tablet.locator(".compared").wait_for()
    moved = [row.inner_text() for row in tablet.locator(".compared tbody th").all()]
    assert sorted(moved) == ["5E", "5E", "5I"]
    tablet.get_by_role("link", name="side by side").tap()
    text = tablet.locator(".compared").inner_text()
    for words in ("0.0040", "0.0270 in", "+0.0230", "−0.0120", "out now"):
        assert words in text
    tablet.get_by_label("out now only").tap()
    tablet.get_by_role("button", name="Show", exact=True).tap()
    tablet.wait_for_url("**out=yes*")
    assert [row.inner_text() for row in tablet.locator(".compared tbody th").all()] == ["5E", "5E"]


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_the_pages_of_a_return_are_for_gloved_hands_and_for_those_who_cannot_see(bench_tablet, scene, size):
    tablet = bench_tablet
    tablet.set_viewport_size({"width": size[0], "height": size[1]})
    job = open_return(tablet)
    read(scene, job, "5E", "lash_cold", "0.027")
    wrong = {}
    for address in (
        "/returns/", "/returns/new/", f"/jobs/{scene.build.pk}/return/new/", job.get_absolute_url(),
        f"/jobs/{job.pk}/return/", f"/jobs/{job.pk}/return/edit/", f"/jobs/{job.pk}/return/compare/",
        f"/jobs/{scene.build.pk}/came-back/",
    ):  # fmt: skip
        tablet.goto(address)
        tablet.wait_for_load_state("networkidle")
        found = tablet.evaluate(SIZES)
        broken = [each["id"] for each in Axe().run(tablet).response["violations"]]
        across = tablet.evaluate("document.documentElement.scrollWidth - innerWidth")
        if found or broken or across > 0:
            wrong[address] = (found, broken, across)
    assert wrong == {}
