"""Stand heights as found beside those that the engine left with. The scene's right gap is nothing: a gap stands low."""

from decimal import Decimal

import pytest

from builds.comparing import Compared, compare
from builds.models import Build, Person
from tests.builds.came_back import came_back, went_out
from tests.scenes import Scene, make_scene
from valvetrain.gathering import gather
from valvetrain.logbook import record_height, record_lift
from valvetrain.models import Head


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def head_of(build: Build, address: str) -> Head:
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    return next(head for head in heads if address in {valve.address for valve in head.valves.all()})


def read_gap(scene: Scene, build: Build, address: str, gap: str) -> None:
    """A gap on the bench, with no pack in place."""
    records = gather([head_of(build, address)])[0]
    record_height(records, scene.person, scene.entry(address, gap), pack="")


def heights(build: Build, unit: str = "in") -> dict[str, Compared]:
    return {line.position: line for line in compare(build, unit) if line.key == "height_error"}


def test_a_stand_that_sank(scene: Scene) -> None:
    # Hand-worked: 0.002 low, then 0.014 low by the same gauge: it sank by 0.012, and is out of ± 0.005.
    read_gap(scene, scene.build, "5E", "0.002")
    came = came_back(went_out(scene), scene.person)
    read_gap(scene, came.build, "5E", "0.014")
    line = heights(came.build)["5E"]
    assert float(line.then.value or 0) == pytest.approx(-0.002)
    assert float(line.change or 0) == pytest.approx(-0.012)
    assert (line.then.verdict, line.now.verdict) == ("in", "out")
    assert "5E stand height, + high: −0.0020 → −0.0140 in, −0.0120 (" in line.sentence
    # Hand-worked: both heights are equally well known, so that U of the change is √2 of one.
    assert line.expanded == pytest.approx(2**0.5 * 2 * (line.now.standard or 0))


def test_a_height_that_was_read_on_one_side_only(scene: Scene) -> None:
    read_gap(scene, scene.build, "5E", "0.002")
    came = came_back(went_out(scene), scene.person)
    read_gap(scene, came.build, "3E", "0.001")
    found = heights(came.build)
    assert (found["5E"].lacks, found["3E"].lacks) == ("not read as found", "was not read when it left")


def test_a_lift_that_was_measured_then_and_not_again_moves_nothing(scene: Scene) -> None:
    records = gather([head_of(scene.build, "5E")])[0]
    record_lift(records, scene.person, scene.entry("5E", "0.690", "net_lift"))
    read_gap(scene, scene.build, "5E", "0.002")
    came = came_back(went_out(scene), scene.person)
    read_gap(scene, came.build, "5E", "0.002")
    line = heights(came.build)["5E"]
    # Hand-worked: the target is 0.005 higher than by the card's 0.700, on both sides; the same gap is no change.
    assert float(line.now.value or 0) == pytest.approx(-0.007)
    assert float(line.change or 0) == pytest.approx(0.0, abs=1e-12)
    assert line.note == "net lift is not read again: what was read then stands in"


def test_limits_as_the_bench_has_them(scene: Scene) -> None:
    read_gap(scene, scene.build, "5E", "0.002")
    came = came_back(went_out(scene), scene.person)
    limit = heights(came.build)["5E"].then.limit
    assert limit is not None
    assert (limit.low, limit.high) == (Decimal("-0.005"), Decimal("0.005"))
