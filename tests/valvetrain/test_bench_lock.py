"""Readings on an enrolled tablet: what its lock keeps waiting goes in afterwards, under the one who keyed it."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Person, Reading
from builds.sitting import LOCKS_AFTER, STEP
from tests.scenes import Scene, make_scene
from tests.tablets import Clock, enrolled, give_pin, log_in, who


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture
def tablet(owner: Person, builder: Person, second: Person, clock: Clock) -> Client:
    """An enrolled tablet that Nora opened by her password."""
    client = enrolled(owner)
    give_pin(builder, "4071")
    give_pin(second, "90357")
    log_in(client)
    return client


def keyed(scene: Scene, by: Person, address: str = "1E") -> dict[str, str]:
    """What the tablet sends for one gap."""
    return {
        "client_id": str(uuid4()), "by": str(by.pk), "position": address, "open": address, "pack": "",
        "characteristic": "stand_gap", "value": "0.024", "unit": "in", "instrument": str(scene.gauge.instrument_id),
    }  # fmt: skip


def send(client: Client, scene: Scene, reading: dict[str, str]) -> Any:
    url = reverse("bench-reading", args=[scene.left.pk])
    return client.post(url, reading, headers={"hx-request": "true"})


def test_a_reading_that_waited_through_the_lock_goes_in_under_the_one_who_keyed_it(
    tablet: Client, scene: Scene, builder: Person, clock: Clock
) -> None:
    reading = keyed(scene, builder)
    clock.goes_on(LOCKS_AFTER + 1)
    assert send(tablet, scene, reading).status_code == 401
    assert not Reading.objects.exists()
    who(tablet, builder, "4071")
    assert send(tablet, scene, reading).status_code == 200
    assert Reading.objects.get().taken_by == builder


def test_a_reading_that_waited_does_not_go_in_under_somebody_else(
    tablet: Client, scene: Scene, builder: Person, second: Person, clock: Clock
) -> None:
    reading = keyed(scene, builder)
    clock.goes_on(LOCKS_AFTER + 1)
    who(tablet, second, "90357")
    answer = send(tablet, scene, reading)
    assert (answer.status_code, answer.json()["field"]) == (422, "by")
    assert not Reading.objects.exists()
    who(tablet, builder, "4071")
    send(tablet, scene, reading)
    assert Reading.objects.get().taken_by == builder


def test_a_save_on_an_enrolled_tablet_looks_for_the_tablet_and_writes_the_log_in_in_steps_only(
    tablet: Client, scene: Scene, builder: Person, clock: Clock, django_assert_num_queries: Any
) -> None:
    """Regression only: eleven as at a desk and one for the tablet; every so often three more for the log-in."""
    send(tablet, scene, keyed(scene, builder))  # the hardware is kept from here on
    with django_assert_num_queries(12):
        send(tablet, scene, keyed(scene, builder, "1I"))
    clock.goes_on(STEP)
    with django_assert_num_queries(15):
        send(tablet, scene, keyed(scene, builder, "3E"))
    with django_assert_num_queries(12):
        send(tablet, scene, keyed(scene, builder, "3I"))
