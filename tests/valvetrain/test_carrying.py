"""A check and a return carry over what stands on the engine, and touch neither the old job nor the drawer."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from builds.looks import LookRefused, open_check, open_return
from builds.models import Build, BuildKind, Limit, Person, RunEntry
from builds.positions import positions_of
from tests.scenes import Scene, make_scene
from valvetrain.drawer_count import read_drawer
from valvetrain.gathering import gather
from valvetrain.models import Head
from valvetrain.targets import head_state

TODAY = timezone.localdate


@pytest.fixture
def scene(builder: Person) -> Scene:
    """The engine that most tests work on."""
    return make_scene(builder)


def out(scene: Scene, days_ago: int = 30) -> Build:
    """The scene's job, gone out."""
    scene.build.opened_on = TODAY() - timedelta(days=days_ago + 20)
    scene.build.went_out_on = TODAY() - timedelta(days=days_ago)
    scene.build.save()
    return scene.build


def test_a_return_has_the_same_addresses_packs_and_limits(scene: Scene) -> None:
    scene.fit("L.stand1", "0.015", "0.010")
    Limit.objects.create(
        build=scene.build, key="sweep", name="sweep", high=Decimal("0.070"), source="customer"
    )
    before = read_drawer()
    came = open_return(out(scene), scene.person, came_back_on=TODAY(), complaint="noise on the left")
    assert set(positions_of(came.build)) == set(positions_of(scene.build))
    states = [head_state(each) for each in gather(Head.objects.filter(build=came.build))]
    stand = next(stand for state in states for stand in state.stands if stand.stand.address == "L.stand1")
    assert stand.packs[-1].total() == Decimal("0.025")
    assert stand.packs[-1].carried
    assert came.build.limits.get().high == Decimal("0.070")
    assert read_drawer() == before
    scene.build.refresh_from_db()
    assert scene.build.came_back_on == TODAY()


def test_a_check_stands_after_the_last_run_and_counts_up(scene: Scene) -> None:
    job = out(scene)
    entry = RunEntry.objects.create(
        build=job,
        ran_on=TODAY() - timedelta(days=3),
        unit="passes",
        text="8",
        amount=8,
        entered_by=scene.person,
    )
    first = open_check(job, scene.person, read_on=TODAY() - timedelta(days=10))
    second = open_check(job, scene.person, read_on=TODAY())
    assert (first.after_run, second.after_run) == (None, entry)
    assert second.job_number == f"{job.job_number} check 2"
    assert second.kind == BuildKind.CHECK
    assert second not in Build.objects.jobs()


def test_before_it_left_still_to_come_or_never_out(scene: Scene) -> None:
    with pytest.raises(LookRefused, match="has not gone out yet"):
        open_return(scene.build, scene.person, came_back_on=TODAY(), complaint="x")
    job = out(scene)
    with pytest.raises(LookRefused, match="is before it left: job"):
        open_return(job, scene.person, came_back_on=TODAY() - timedelta(days=31), complaint="x")
    with pytest.raises(LookRefused, match="still to come"):
        open_check(job, scene.person, read_on=TODAY() + timedelta(days=1))


def test_an_engine_comes_back_once_from_a_job(scene: Scene) -> None:
    job = out(scene)
    came = open_return(job, scene.person, came_back_on=TODAY(), complaint="noise")
    with pytest.raises(LookRefused, match=f"job {came.build} reads it as found"):
        open_return(job, scene.person, came_back_on=TODAY(), complaint="again")
    with pytest.raises(LookRefused, match="Start from that job"):
        open_check(came.build, scene.person, read_on=TODAY())
