"""The order in which lash is set."""

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import BuildKind, Engine, Person
from builds.steps import get_step
from tests.scenes import Scene, make_scene
from valvetrain.lashing import companion_of, notes, order, words
from valvetrain.models import Valve

LASH = "lash"


@pytest.fixture
def scene(builder: Person) -> Scene:
    made = make_scene(builder)
    made.build.engine.firing_order = "1-8-4-3-6-5-7-2"
    made.build.engine.save()
    return made


def write(scene: Scene, firing_order: str) -> None:
    """Write another firing order, past the form that would refuse it."""
    Engine.objects.filter(pk=scene.build.engine_id).update(firing_order=firing_order)
    scene.build.engine.refresh_from_db()


def test_valves_come_in_the_order_of_firing(scene: Scene):
    """Common practice: exhaust just opening, set the intake; intake just closing, set the exhaust."""
    assert order(scene.build, get_step(LASH)) == [
        "1I", "1E", "8I", "8E", "4I", "4E", "3I", "3E", "6I", "6E", "5I", "5E", "7I", "7E", "2I", "2E",
    ]  # fmt: skip


def test_each_valve_says_where_to_turn_to_and_its_companion(scene: Scene):
    """Published: 1-8-4-3-6-5-7-2 has the companions 1/6, 8/5, 4/7, 3/2 (a public repair text)."""
    told = words(scene.build, get_step(LASH))
    assert told["1I"] == "Turn to where 1 exhaust just starts to open: set 1 intake. Companion: 6."
    assert told["5E"] == "Turn to where 5 intake is just about to close: set 5 exhaust. Companion: 8."
    assert companion_of(scene.build) == {1: 6, 6: 1, 8: 5, 5: 8, 4: 7, 7: 4, 3: 2, 2: 3}


def test_as_found_nothing_is_set(scene: Scene):
    scene.build.kind = BuildKind.RETURN
    told = words(scene.build, get_step(LASH))
    assert told["1I"] == "Turn to where 1 exhaust just starts to open: read 1 intake. Companion: 6."


def test_two_valves_of_a_kind_follow_one_another(scene: Scene):
    first = Valve.objects.get(head=scene.left, cylinder=1, kind="I")
    first.nth = 1
    first.save()
    Valve.objects.create(
        head=scene.left, stand=first.stand, order=9, cylinder=1, kind="I", nth=2, along=0, across=0,
        tip_diameter=first.tip_diameter,
    )  # fmt: skip
    assert order(scene.build, get_step(LASH))[:3] == ["1I1", "1I2", "1E"]
    assert words(scene.build, get_step(LASH))["1I2"].startswith("Turn to where 1 exhaust")


def test_other_steps_stay_as_the_valves_lie(scene: Scene):
    assert order(scene.build, get_step("springs")) is None
    assert words(scene.build, get_step("springs")) == {}
    assert notes(scene.build, get_step("springs")) == []


def test_without_a_firing_order_the_valves_lie_and_the_page_says_what_is_missing(
    scene: Scene, bench_client: Client
):
    write(scene, "")
    assert order(scene.build, get_step(LASH)) is None
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, LASH])).text
    assert "This engine has no firing order, so the valves are listed as they lie" in shown
    assert reverse("engine-edit", args=[scene.build.engine_id]) in shown
    assert shown.index('id="at-1E"') < shown.index('id="at-1I"')


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("1-8-4-3-6-5-7", "cylinder 2 is missing"),
        ("1-8-8-4-3-6-5-7-2", "cylinder 8 stands more than once"),
        ("front to back", "is no cylinder number"),
    ],
)
def test_a_firing_order_that_cannot_be_is_told(scene: Scene, written: str, sentence: str):
    write(scene, written)
    assert order(scene.build, get_step(LASH)) is None
    assert sentence in notes(scene.build, get_step(LASH))[0].words


def test_an_odd_engine_has_an_order_and_no_companions(scene: Scene):
    write(scene, "1-2-3")
    Valve.objects.filter(head=scene.right).delete()
    told = words(scene.build, get_step(LASH))
    assert told["1I"] == "Turn to where 1 exhaust just starts to open: set 1 intake."
    assert order(scene.build, get_step(LASH))[:4] == ["1I", "1E", "3I", "3E"]


def test_valves_that_the_order_does_not_name_come_last_and_none_is_lost(scene: Scene):
    write(scene, "1-3-4-2")
    found = order(scene.build, get_step(LASH))
    assert found[:8] == ["1I", "1E", "3I", "3E", "4I", "4E", "2I", "2E"]
    assert sorted(found) == sorted(valve.address for valve in Valve.objects.filter(head__build=scene.build))


def test_the_page_lists_the_valves_in_that_order(scene: Scene, bench_client: Client):
    shown = bench_client.get(reverse("log-step", args=[scene.build.pk, LASH])).text
    assert (
        shown.index('id="at-1I"')
        < shown.index('id="at-1E"')
        < shown.index('id="at-8I"')
        < shown.index('id="at-2E"')
    )
    assert "Turn to where 1 exhaust just starts to open: set 1 intake. Companion: 6." in shown
