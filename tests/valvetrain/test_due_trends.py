"""What the trends say is due on an engine that is out. Hand-worked from the scene."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from builds.due import due_engines, due_providers
from builds.models import CheckRule, Limit, Person
from tests.scenes import Scene
from tests.valvetrain.track import WENT_OUT, check, drifting, run
from valvetrain.due_trends import due_by_trends

TODAY = date(2026, 4, 1)


@pytest.fixture
def scene(builder: Person, monkeypatch: Any) -> Scene:
    """Only what the trends say."""
    monkeypatch.setattr("builds.due.due_providers", [due_by_trends])
    return drifting(builder)


def told() -> list[tuple[str, str, float]]:
    return [(due.what, due.why, due.overdue) for engine in due_engines(today=TODAY) for due in engine.things]


def test_a_line_that_leaves_before_the_next_look_is_near(scene: Scene) -> None:
    # It leaves at 10 and has run 8: 2 of the 10 to the next look are left.
    ((what, why, overdue),) = told()
    assert what == "lash, cold, near"
    assert why == (
        "1I, lash, cold: 0.0020 in looser every 10 passes; leaves its limit at about 10 passes; it has run 8 passes "
        "(6 readings)."
    )
    assert overdue == pytest.approx(-0.2)


def test_without_a_rule_a_line_is_near_only_by_its_earliest(scene: Scene) -> None:
    CheckRule.objects.all().delete()
    assert told() == []


def test_a_line_that_has_left_is_past_it(scene: Scene, builder: Person) -> None:
    run(scene.build, builder, 21, "7")
    ((what, _why, overdue),) = told()
    assert what == "lash, cold, past its line"
    # 5 passes past, of every 10.
    assert overdue == pytest.approx(1.5)


def test_what_was_out_when_last_read_comes_before_all(scene: Scene, builder: Person) -> None:
    check(scene.build, builder, 22, {"1I": "0.0090", "3E": "0.0090"})
    ((what, why, overdue),) = told()
    assert (what, overdue) == ("lash, cold, out", 3.0)
    assert why.endswith("1 more valve out or near.")


def test_the_page_leads_to_the_trend(owner_client: Client, scene: Scene) -> None:
    text = owner_client.get(reverse("due-list")).text
    assert f"{reverse('job-trends', args=[scene.build.pk])}?what=lash_cold&amp;valve=1I" in text


def test_a_job_s_own_limit_decides(scene: Scene) -> None:
    Limit.objects.create(build=scene.build, key="lash", name="lash", high="0.020", source="customer")
    assert told() == []


def test_the_trends_are_asked_on_the_page() -> None:
    assert due_by_trends in due_providers


def test_as_many_questions_for_many_engines(
    scene: Scene, builder: Person, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(14):
        due_engines(today=TODAY)
    drifting(builder, "26-071")
    drifting(builder, "26-072")
    assert WENT_OUT < TODAY
    with django_assert_num_queries(14):
        assert len(due_engines(today=TODAY)) == 3
