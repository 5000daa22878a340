"""The main job on a whole engine, by touch, at the size of a tablet: gaps, packs, proof, the printed sheet."""

import io
import re

import pytest
from pypdf import PdfReader

from builds.models import Build, Person, Reading
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack, Head
from valvetrain.targets import ready_builds

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# How far each valve's shaft stands low before any pack, in thousandths, as a feeler would tell. Invented.
LOW = {
    "1E": 24, "1I": 26, "3I": 31, "3E": 30, "5E": 18, "5I": 20, "7I": 45, "7E": 44,
    "2E": 12, "2I": 15, "4I": 36, "4E": 33, "6E": 27, "6I": 25, "8I": 40, "8E": 41,
}  # fmt: skip


@pytest.fixture
def scene(bench_tablet) -> Scene:
    return make_scene(Person.objects.get(username="nora"))


def key_in(tablet, address: str, value: str) -> None:
    """Tap a valve's field, type, press Enter, and wait until the book has it."""
    field = tablet.locator(f"[data-row='{address}'] [data-value]")
    field.tap()
    tablet.keyboard.type(value)
    tablet.keyboard.press("Enter")
    tablet.locator(f"[data-row='{address}'] .kept.is-saved").wait_for()


def open_next(tablet) -> str:
    """Follow the offer of what is next; returns its words."""
    button = tablet.locator("#go-next")
    words = button.inner_text()
    button.tap()
    tablet.wait_for_function("words => document.querySelector('#panel').dataset.address && true", arg=words)
    return words


def rows(tablet) -> list[str]:
    return [row.get_attribute("data-row") for row in tablet.locator("[data-row]").all()]


def set_up_head(tablet, head: Head) -> None:
    """Read every stand of a head, fit what the book says, and read again."""
    fitted: dict[str, float] = {}
    tablet.goto(f"/bench/{head.pk}/")
    for stand in head.stands.all():
        tablet.locator(f"#plan [data-address='{stand.address}']").tap()
        tablet.locator(f"#panel[data-address='{stand.address}']").wait_for()
        for address in rows(tablet):
            key_in(tablet, address, f"0.{LOW[address]:03}")
        headline = tablet.locator("#act .headline").inner_text()
        assert headline.startswith("Raise"), headline
        words = tablet.locator("#act [data-fit]").inner_text()
        fitted[stand.address] = sum(float(piece) for piece in re.findall(r"\.\d+", words))
        tablet.locator("#act [data-fit]").tap()
        tablet.locator("#stand-head", has_text="to prove").wait_for()
        for address in rows(tablet):
            left = LOW[address] / 1000 - fitted[stand.address]
            if left >= 0:
                key_in(tablet, address, f"{left:.3f}")
            else:
                tablet.locator(f"[data-row='{address}'] [data-feeler]").fill(f"{-left:.3f}")
                key_in(tablet, address, "0")
        tablet.locator("#stand-head .is-done").wait_for()


def test_a_whole_engine_is_set_up_by_touch_and_ends_as_a_sheet(bench_tablet, scene):
    tablet = bench_tablet
    for head in (scene.left, scene.right):
        set_up_head(tablet, head)
        assert "Every stand is in" in tablet.locator("#next").inner_text()
        assert tablet.locator("#plan a.is-done").count() == 12
    assert Reading.objects.count() == 32
    assert FittedPack.objects.count() == 8
    assert ready_builds([scene.build.pk]) == {scene.build.pk}
    for head in (scene.left, scene.right):
        answer = tablet.context.request.get(f"/heads/{head.pk}/setup-sheet.pdf")
        assert answer.headers["content-type"] == "application/pdf"
        text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.body())).pages)
        assert scene.build.job_number in text
        for valve in head.valves.all():
            assert valve.address in text
    tablet.goto(Build.objects.get().get_absolute_url())
    assert "ready to sign" in tablet.locator("#page").inner_text()


def test_what_is_next_is_always_offered(bench_tablet, scene):
    """Following nothing but the offers, a head is read from end to end."""
    tablet = bench_tablet
    tablet.goto(f"/bench/{scene.left.pk}/")
    seen = []
    for _ in range(8):
        words = tablet.locator("#go-next").inner_text()
        address = re.search(r"Read (\w+)", words).group(1)
        seen.append(address)
        with tablet.expect_response(f"**/at/{address}"):
            tablet.locator("#go-next").tap()
        tablet.locator(f"[data-row='{address}']").wait_for()
        key_in(tablet, address, f"0.{LOW[address]:03}")
    assert sorted(seen) == sorted(valve.address for valve in scene.left.valves.all())
    assert "Shim" in tablet.locator("#go-next").inner_text()
