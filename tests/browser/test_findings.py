"""A finding by touch: the place tapped on the head, what was looked at, what speaks for it; and the pages' sizes."""

from datetime import timedelta
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from builds.findings import Told, add_evidence, add_finding
from builds.looks import open_return
from builds.models import Build, CausePrompt, Evidence, Finding, FindingPhoto, Person, RunEntry, Symptom
from builds.symptoms import add_defaults
from tests.browser.test_touch import SIZES
from tests.builds.photo_files import gradient
from tests.scenes import make_scene

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SPOTS = """() => [...document.querySelectorAll(".places details[open] [data-address] .balloon")]
  .map(each => each.getBoundingClientRect()).map(box => [Math.floor(box.width), Math.floor(box.height)])"""


@pytest.fixture
def came(bench_tablet: Any) -> Build:
    """The engine of the scene, back with what was read before it left."""
    add_defaults()
    person = Person.objects.get(username="nora")
    scene = make_scene(person)
    scene.fit("L.stand3", "0.015")
    scene.read_gap("5E", "0.004")
    today = timezone.localdate()
    Build.objects.filter(pk=scene.build.pk).update(
        opened_on=today - timedelta(days=200), went_out_on=today - timedelta(days=170)
    )
    out = Build.objects.get(pk=scene.build.pk)
    for days in (150, 140, 90):
        RunEntry.objects.create(
            build=out,
            ran_on=today - timedelta(days=days),
            unit="passes",
            text="6",
            amount=6,
            entered_by=person,
        )
    return open_return(
        out, person, came_back_on=today - timedelta(days=2), complaint="noise on the left"
    ).build


def fits(page: Any) -> dict[str, Any]:
    """What axe finds, what is too small to touch, and whether the page is wider than the screen."""
    found = {
        "axe": [each["id"] for each in Axe().run(page).response["violations"]],
        "small": page.evaluate(SIZES),
        "wide": page.evaluate("document.documentElement.scrollWidth > innerWidth"),
    }
    return {name: value for name, value in found.items() if value}


def test_a_finding_is_tapped_written_down_looked_through_and_backed(bench_tablet: Any, came: Build) -> None:
    page = bench_tablet
    page.goto(reverse("finding-new", args=[came.pk]))
    page.get_by_label("what was found").fill("pushrod bent")
    page.locator("#id_condition").select_option("bent")
    page.locator(".places [data-address='5E']").tap()
    assert page.locator("#id_position").input_value() == "5E"
    assert page.locator("[data-place-told]").inner_text() == "Where: 5E, cylinder 5, exhaust"
    assert page.locator(".places [aria-current]").count() == 1
    page.get_by_label("probable cause").fill("valve stuck in its guide")
    page.get_by_role("button", name="Write it down").tap()
    page.locator(".error", has_text="not how sure it is").wait_for()
    assert page.locator("#id_position").input_value() == "5E"
    page.get_by_label("how sure").select_option("possible")
    page.get_by_label("list to look through").select_option(label="bent pushrod")
    page.get_by_role("button", name="Write it down").tap()
    page.locator(".message", has_text="written down").wait_for()

    prompt = page.locator(".look").nth(1)
    prompt.locator("[name='note']").fill("a bright line on its head")
    prompt.get_by_role("button", name="It is so").tap()
    page.locator(".look.is-seen").wait_for()
    assert page.locator(".look [name='note']").nth(1).input_value() == "a bright line on its head"

    page.get_by_role("link", name="with a reading").tap()
    page.get_by_role("link", name="Use it").first.tap()
    page.get_by_label("speaks against it").check()
    page.get_by_label("what it says").fill("stood at its height when it left")
    page.get_by_role("button", name="Note it").tap()
    page.locator(".evidence", has_text="stood at its height").wait_for()
    found = Finding.objects.get()
    assert (found.position, found.confidence, found.looks.get().answer) == ("5E", "possible", "seen")
    evidence = Evidence.objects.get()
    assert evidence.reading is not None
    assert (evidence.side, evidence.reading.position) == ("against", "5E")


def test_a_place_tapped_again_is_no_place_and_typing_marks_it(bench_tablet: Any, came: Build) -> None:
    page = bench_tablet
    page.goto(reverse("finding-new", args=[came.pk]))
    spot, field = page.locator(".places [data-address='5E']"), page.locator("#id_position")
    spot.tap()
    spot.tap()
    assert field.input_value() == ""
    page.locator("summary", has_text="Engine").tap()
    page.locator(".places [data-address='main3']").tap()
    assert field.input_value() == "main3"
    field.fill("cyl 7")
    assert page.locator(".places [aria-current]").get_attribute("data-address") == "cyl7"


def test_a_picture_taken_on_its_page_is_put_to_the_finding(
    bench_tablet: Any, came: Build, settings: Any, tmp_path: Any
) -> None:
    settings.STORAGES = settings.STORAGES | {
        "photos": settings.STORAGES["photos"] | {"OPTIONS": {"location": str(tmp_path)}}
    }
    person = Person.objects.get(username="nora")
    found, _new = add_finding(came, person, Told("pushrod bent", "bent", "5E"))
    picture = tmp_path / "arm.jpg"
    gradient(640, 480).save(picture, "JPEG")
    bench_tablet.goto(found.get_absolute_url())
    bench_tablet.locator("#choose-pictures").set_input_files(str(picture))
    bench_tablet.locator("#shown .photo-card").wait_for()
    assert FindingPhoto.objects.get().photo.filing.position == "5E"


@pytest.mark.parametrize("size", [(1024, 768), (800, 1280)])
def test_the_pages_are_large_enough_and_read_well(
    bench_tablet: Any, came: Build, size: tuple[int, int]
) -> None:
    person = Person.objects.get(username="nora")
    Person.objects.filter(pk=person.pk).update(is_superuser=True)
    symptom = Symptom.objects.get(name="bent pushrod")
    told = Told(
        "pushrod bent", "bent", "5E", cause="valve stuck in its guide", confidence="likely", symptom=symptom
    )
    found, _new = add_finding(came, person, told)
    reading = came.follows.readings.get(characteristic="stand_gap") if came.follows else None
    assert reading is not None
    add_evidence(found, person, side="for", text="a bright line on the valve’s head")
    prompt = CausePrompt.objects.filter(symptom=symptom)[0]
    pages = [
        reverse("finding-list", args=[came.pk]), reverse("finding-new", args=[came.pk]), found.get_absolute_url(),
        reverse("finding-edit", args=[found.pk]), reverse("finding-take-back", args=[found.pk]),
        reverse("finding-photos", args=[found.pk]),
        *(reverse("finding-choose", args=[found.pk, kind]) for kind in ("reading", "photo", "part")),
        reverse("finding-evidence-new", args=[found.pk]) + f"?reading={reading.pk}",
        reverse("engine-timeline", args=[came.engine_id]), reverse("symptom-list"),
        reverse("symptom", args=[symptom.pk]), reverse("symptom-prompt-new", args=[symptom.pk]),
        reverse("prompt-edit", args=[prompt.pk]),
    ]  # fmt: skip
    bench_tablet.set_viewport_size({"width": size[0], "height": size[1]})
    wrong = {}
    for address in pages:
        bench_tablet.goto(address)
        bench_tablet.wait_for_load_state("networkidle")
        if found_here := fits(bench_tablet):
            wrong[address] = found_here
    assert wrong == {}
    bench_tablet.goto(reverse("finding-new", args=[came.pk]))
    for summary in bench_tablet.locator(".places summary").all():
        if summary.evaluate("each => !each.parentElement.open"):
            summary.tap()
        small = [box for box in bench_tablet.evaluate(SPOTS) if min(box) < 56]
        assert small == []
