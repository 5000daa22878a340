"""Packs on the tablet: a measured total beside the button, and the proposal for the engine."""

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from builds.models import Person
from tests.scenes import Scene, make_scene
from valvetrain.models import FittedPack

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def scene(bench_tablet) -> Scene:
    scene = make_scene(Person.objects.get(username="nora"))
    scene.read_gap("1E", "0.025")
    scene.read_gap("1I", "0.025")
    return scene


def fit_measured(tablet, text: str) -> None:
    tablet.locator("summary", has_text="Measured the pack").tap()
    tablet.fill("#pack-measured", text)
    tablet.locator("[data-fit]").tap()


def test_a_measured_total_goes_in_with_the_pack(scene, bench_tablet):
    bench_tablet.goto(reverse("bench-at", args=[scene.left.pk, "L.stand1"]))
    fit_measured(bench_tablet, ".0254")
    bench_tablet.locator("#stand-head", has_text="0.0254 in by micrometer").wait_for()
    assert FittedPack.objects.get().measured_total == Decimal("0.0254")


def test_what_is_typed_beside_the_act_stays_when_an_answer_comes(scene, bench_tablet):
    bench_tablet.goto(reverse("bench-at", args=[scene.left.pk, "L.stand1"]))
    bench_tablet.locator("summary", has_text="Measured the pack").tap()
    bench_tablet.fill("#pack-measured", ".0254")
    row = bench_tablet.locator('[data-row="1E"]')
    row.locator("[data-again]").tap()
    row.locator("[data-value]").fill("0.026")
    row.locator("[data-value]").press("Enter")
    bench_tablet.locator("#verdict-1E", has_text="mean of 2").wait_for()
    assert bench_tablet.input_value("#pack-measured") == ".0254"


def test_a_measured_total_that_cannot_be_is_told_at_the_bench(scene, bench_tablet):
    bench_tablet.goto(reverse("bench-at", args=[scene.left.pk, "L.stand1"]))
    fit_measured(bench_tablet, ".25")
    bench_tablet.locator("text=One of the two is wrong").wait_for()
    assert not FittedPack.objects.exists()


def test_a_stand_is_fitted_from_the_proposal_for_the_engine(scene, bench_tablet):
    bench_tablet.goto(reverse("engine-packs", args=[scene.build.pk]))
    assert Axe().run(bench_tablet).response["violations"] == []
    bench_tablet.locator("button", has_text="Fitted as proposed").tap()
    bench_tablet.locator("text=Fitted under L.stand1").wait_for()
    assert FittedPack.objects.get().total() == Decimal("0.025")
