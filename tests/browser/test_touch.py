"""What a gloved finger has to hit on the job's own pages is at least 56 px either way."""

import pytest

from builds.models import Person
from tests.scenes import make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# A tick's label is what is touched. A link in the middle of a sentence is as high as its line, as anywhere.
SIZES = """() => [...document.querySelectorAll(
    "main a, main button, main summary, main select, main textarea, main input")]
  .filter(each => each.type !== "hidden" && each.checkVisibility() && !each.closest("svg"))
  .filter(each => !(each.tagName === "A" && each.parentElement.tagName === "P" && !each.classList.contains("button")
    && each.parentElement.textContent.trim() !== each.textContent.trim()))
  .map(each => {
    const box = (each.closest("label.tick") ?? each).getBoundingClientRect();
    return [each.outerHTML.slice(0, 90), Math.round(box.width), Math.round(box.height)]; })
  .filter(([, width, height]) => width < 56 || height < 56)"""


@pytest.fixture
def addresses(bench_tablet, db):
    person = Person.objects.get(username="nora")
    Person.objects.filter(pk=person.pk).update(is_superuser=True)
    scene = make_scene(person)
    scene.fit("L.stand1", "0.015")
    scene.read_gap("1E", "0.024")
    head, job = scene.left, scene.build
    stand = head.stands.first()
    return [
        job.get_absolute_url(), f"{job.get_absolute_url()}readings/", f"/jobs/{job.pk}/packs/fitted/",
        job.engine.get_absolute_url(), job.engine.customer.get_absolute_url(), head.get_absolute_url(),
        f"/heads/{head.pk}/valves/", f"/heads/{head.pk}/stands/{stand.pk}/edit/", f"/jobs/{job.pk}/cam/",
        "/", "/customers/", "/drawer/", "/drawer/gauges/", "/drawer/shims/", "/drawer/layouts/", "/shop/",
        "/me/", "/people/",
        f"/people/{person.pk}/edit/", f"/drawer/instruments/{scene.gauge.instrument_id}/edit/", "/shop/verdicts/",
        f"/jobs/{job.pk}/log/", f"/engines/{job.engine_id}/customer/",
        f"/jobs/{job.pk}/changes/", "/shop/changes/",
    ]  # fmt: skip


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_everything_to_touch_on_the_pages_is_large_enough(bench_tablet, addresses, size):
    bench_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    small = {}
    for address in addresses:
        bench_tablet.goto(address)
        bench_tablet.wait_for_load_state("networkidle")
        found = bench_tablet.evaluate(SIZES)
        if found:
            small[address] = found
    assert small == {}


def test_the_tick_of_an_unusual_value_is_large_enough_and_takes_it(bench_tablet, addresses):
    address = next(each for each in addresses if each.endswith("/cam/"))
    bench_tablet.goto(address)
    bench_tablet.locator("#id_intake_lobe_lift").fill("0.95")
    bench_tablet.get_by_role("button", name="Save the card").click()
    bench_tablet.locator(".error", has_text="0.95 in is unusual").wait_for()
    assert bench_tablet.evaluate(SIZES) == []
    bench_tablet.get_by_label("0.95 is meant").tap()
    bench_tablet.get_by_role("button", name="Save the card").click()
    bench_tablet.locator(".message", has_text="is saved").wait_for()
