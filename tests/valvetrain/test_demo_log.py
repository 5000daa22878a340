"""The demo's logs, worked out again: loads from the rate, figures from the readings, verdicts all in. Invented data."""

from decimal import Decimal

import pytest

from builds.models import Build, Reading
from builds.steps import get_step, steps
from builds.worklog import WorkLog
from valvetrain.demo_log import PLANS
from valvetrain.demo_photos import EDGE_SCATTER
from valvetrain.geometry.centring import height_error_from_ends
from valvetrain.marks import marks_of_build
from valvetrain.models import SpringSheet
from valvetrain.papers import valve_values

pytestmark = pytest.mark.django_db

WHOLE = {
    "hillclimb": "Rockers on a new shaft",
    "boat": "Heads, cam and rockers",
    "skiff": "Valve job, old shaft",
}


def job(key: str) -> Build:
    return Build.objects.select_related("engine").get(title__startswith=WHOLE[key])


def values(build: Build, key: str) -> dict[str, Decimal]:
    return {
        reading.position: reading.value for reading in Reading.objects.filter(build=build, characteristic=key)
    }


@pytest.mark.parametrize("key", WHOLE)
def test_every_step_is_read_and_nothing_is_out_but_what_was_meant_to_be(shop, key):
    log, out = WorkLog(job(key)), []
    for step in steps():
        if step.key in ("lift", "degreeing"):
            continue  # the lift is worked out from the card here, and the card names no centrelines
        state = log.state(step)
        assert [row.position for row in state.rows if row.missing] == [], step.key
        out += [
            (row.position, cell.characteristic.key)
            for row in state.rows
            for cell in row.cells
            if cell.verdict == "out"
        ]
    assert out == list(next(plan.amiss for plan in PLANS if plan.job == key))


@pytest.mark.parametrize("key", WHOLE)
def test_loads_follow_from_one_rate(shop, key):
    build = job(key)
    rate = next(plan.spring.rate for plan in PLANS if plan.job == key)
    sheet = SpringSheet.objects.get(build=build)
    assert sheet.rate() == rate
    heights, seats, opens = (values(build, name) for name in ("installed_height", "seat_load", "open_load"))
    lifts = valve_values(build)
    for address, height in heights.items():
        assert abs(seats[address] - (sheet.seat_load + rate * (sheet.installed_height - height))) <= 1
        assert abs(opens[address] - seats[address] - rate * lifts[address, "net_lift"]) <= 1


@pytest.mark.parametrize("key", WHOLE)
def test_compression_follows_from_the_volumes(shop, key):
    """Independent method: the same geometry in floats, from the readings as typed."""
    build = job(key)
    state = WorkLog(build).state(get_step("block"))
    told = {figure.derived.key: figure.value for figure in state.rows[0].figures}
    bores = [float(bore) for bore in values(build, "bore").values()]
    mean_bore, stroke = sum(bores) / len(bores), float(build.engine.stroke)
    cc = 16.387064
    swept = 0.7853981634 * mean_bore**2 * stroke * cc
    assert float(told["displacement"]) == pytest.approx(swept * build.engine.cylinders, rel=1e-6)


def test_the_engine_in_work_is_begun_and_not_finished(shop):
    build = Build.objects.select_related("engine").get(title__startswith="Both heads")
    state = WorkLog(build).state(get_step("springs"))
    assert state.begun
    assert any(row.missing for row in state.rows)


def test_the_cams_centreline_is_the_mean_of_three(shop):
    build = Build.objects.select_related("engine").get(title__startswith="Both heads")
    row = WorkLog(build).state(get_step("degreeing")).rows[0]
    cell = next(cell for cell in row.cells if cell.characteristic.key == "intake_centreline")
    # 107, 107.5 and 106.75: mean 107.0833
    assert cell.mean == pytest.approx(Decimal("107.0833"), abs=Decimal("0.001"))
    assert cell.verdict == "in"


@pytest.mark.parametrize("key", [*WHOLE, "puller"])
def test_the_marks_say_what_the_gauge_says(shop, key):
    """Trade fact: the mark proves the height; read to a thousandth, or on a photo, it tells it to a few."""
    build = job(key) if key in WHOLE else Build.objects.get(title__startswith="Both heads")
    read = [mark for mark in marks_of_build(build) if mark.counts]
    assert len(read) >= 4
    for mark in read:
        photographed = any(reading.photo_id for reading in mark.reads["mark_inner"].readings)
        known = mark.expanded("width") + 2 * EDGE_SCATTER if photographed else 0.0011
        assert mark.width == pytest.approx(mark.expected_now, abs=known), mark.address
        if mark.closed is not None:
            found = height_error_from_ends(
                mark.valve.arm, mark.valve.inputs.lift, closed=mark.closed, open_=mark.open
            )
            assert found.height_error == pytest.approx(mark.valve.height_error, abs=0.0025), mark.address


def test_one_stand_of_the_engine_in_work_is_in_with_its_marks_off_centre(shop):
    build = Build.objects.get(title__startswith="Both heads")
    off = {mark.stand.address for mark in marks_of_build(build) if mark.verdict("centre") == "out"}
    assert off == {"L.stand1"}
