"""The demo's engine that came back, worked out again from the book: the story that its data tell. Invented data."""

import math
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from builds.comparing import by_moved, compare
from builds.due import due_engines
from builds.models import (
    Build,
    BuildKind,
    BuildState,
    Finding,
    GuestLink,
    PartTakenOut,
    Person,
    Reading,
    Recall,
    RunEntry,
    TracedBy,
    with_states,
)
from builds.models.returns import Side
from builds.running import record_of
from builds.steps import steps
from builds.told import waiting_of
from builds.tracing import matching, trace_lines
from builds.worklog import WorkLog
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.drift import crossing_of, fit_drift
from valvetrain.marks import marks_of_build
from valvetrain.models import CamCard, Head, RockerSet
from valvetrain.targets import states_of

pytestmark = pytest.mark.django_db

LOT = "A2098"
# The story's own numbers, as `valvetrain/demo_return.py` tells them.
NIGHTS = [48, 60, 55, 62, 57, 50, 64, 58, 61, 55, 60, 52, 63, 41]


def left() -> Build:
    return Build.objects.get(title="Freshen up before the season")


def came() -> Build:
    return Build.objects.select_related("follows", "engine").get(kind=BuildKind.RETURN)


def seven() -> Build:
    return Build.objects.get(engine__serial="CA-7-A", kind=BuildKind.BUILD)


def checks(job: Build) -> list[Build]:
    return list(job.looks.filter(kind=BuildKind.CHECK).order_by("pk"))


def read(job: Build, step: str) -> dict[str, Decimal]:
    found = Reading.objects.standing().filter(build=job, characteristic=step)
    return {reading.position: reading.value for reading in found}


def lashes(job: Build) -> tuple[list[float], dict[str, list[Decimal]]]:
    """How far the engine had run when its lash was read, and each valve's lash at each."""
    looks = [job, *checks(job)]
    record = record_of(job)
    ran = [float(record.at(look).get("laps", 0)) for look in looks]
    reads = [read(look, "lash_cold") for look in looks]
    return ran, {address: [each[address] for each in reads] for address in reads[0]}


def limits_of(job: Build, address: str) -> tuple[float, float]:
    card = CamCard.objects.get(build=job)
    wanted = card.lash(address[-1])
    own = job.limits.get(key="lash_tolerance")
    return float(wanted + own.low), float(wanted + own.high)


def test_it_left_whole_and_in_every_limit(shop):
    log = WorkLog(left())
    for step in steps():
        state = log.state(step)
        assert [row.position for row in state.rows if row.missing] == [], step.key
        out = [
            (row.position, cell.characteristic.key)
            for row in state.rows
            for cell in row.cells
            if cell.verdict == "out"
        ]
        assert out == [], step.key
    states = states_of(Head.objects.filter(build=left()).select_related("build"))
    assert all(state.done for state in states)


def test_it_ran_fourteen_nights(shop):
    """Hand-worked: 786 laps."""
    entries = RunEntry.objects.standing().filter(build=left())
    assert [int(entry.amount) for entry in entries] == NIGHTS
    assert record_of(left()).totals == {"laps": 786}
    assert sum(NIGHTS) == 786


def test_one_lash_opens_and_the_other_fifteen_stay_within_a_thousandth(shop):
    ran, lash = lashes(left())
    # Hand-worked: three nights each.
    assert ran == [0, 163, 332, 515, 682]
    assert len(lash) == 16
    moved = {address: max(abs(each - reads[0]) for each in reads) for address, reads in lash.items()}
    assert max(each for address, each in moved.items() if address != "5E") <= Decimal("0.001")
    assert lash["5E"] == sorted(set(lash["5E"]))
    assert moved["5E"] == Decimal("0.0035")


def test_its_line_leaves_the_limit_about_where_it_failed(shop):
    """Independent method: least squares beside the robust line; both within a night and a half of the last lap."""
    ran, lash = lashes(left())
    low, high = limits_of(left(), "5E")
    assert all(low <= float(each) <= high for each in lash["5E"])
    drift = fit_drift(ran, [float(each) for each in lash["5E"]])
    crossing = crossing_of(drift, low=low, high=high)
    assert drift.is_proved
    assert crossing.earliest <= 786 <= crossing.latest
    mean_x, mean_y = sum(ran) / 5, float(sum(lash["5E"])) / 5
    slope = sum((x - mean_x) * (float(y) - mean_y) for x, y in zip(ran, lash["5E"], strict=True)) / sum(
        (x - mean_x) ** 2 for x in ran
    )
    for at in (crossing.at, (high - (mean_y - slope * mean_x)) / slope):
        assert at == pytest.approx(786, abs=75)


def test_no_other_valve_is_on_its_way_out(shop):
    for job in (left(), seven()):
        ran, lash = lashes(job)
        drifting = [
            address
            for address, reads in lash.items()
            if fit_drift(ran, [float(each) for each in reads]).is_proved
        ]
        assert drifting == (["5E"] if job == left() else ["6E"])


def test_as_found_the_lash_of_5e_moved_most(shop):
    lines = by_moved(compare(came()))
    assert (lines[0].position, lines[0].key) == ("5E", "lash_cold")
    apart = {(line.position, line.key) for line in lines if line.told_apart}
    assert {position for position, _key in apart} == {"5E"}


def test_out_as_found_is_5e_and_nothing_else(shop):
    out = {line.position for line in compare(came()) if line.out_now}
    assert out == {"5E"}


def test_the_lift_that_5e_lost_is_the_lash_that_it_gained(shop):
    """Plain geometry: net lift is lobe times ratio less lash."""
    gained = read(came(), "lash_cold")["5E"] - read(left(), "lash_cold")["5E"]
    lost = read(left(), "net_lift")["5E"] - read(came(), "net_lift")["5E"]
    assert gained == lost == Decimal("0.036")
    card, rockers = CamCard.objects.get(build=came()), RockerSet.objects.get(build=came())
    reckoned = card.exhaust_lobe_lift * rockers.ratio - read(came(), "lash_cold")["5E"]
    assert reckoned == read(came(), "net_lift")["5E"]


def test_the_tip_the_pushrod_and_the_pin_make_up_the_lash(shop):
    """Independent method: a bow of d over a length l shortens it by 8/3 d²/l, the arc's parabola."""
    worn = read(left(), "tip_height")["5E"] - read(came(), "tip_height")["5E"]
    length, ratio = float(read(left(), "pushrod_length")["5E"]), 1.5
    pushrod = ratio * 8 / 3 * 0.120**2 / length
    pin = 0.036 - float(worn) - pushrod
    assert float(worn) == pytest.approx(0.006)
    assert pushrod == pytest.approx(0.0074, abs=1e-4)
    assert pin == pytest.approx(0.0226, abs=2e-4)


def test_the_gauge_finds_the_tip_lower_and_the_stand_where_it_was(shop):
    tops = {}
    for job in (left(), came()):
        states = states_of(Head.objects.filter(build=job).select_related("build"))
        tops[job.pk] = {
            valve.address: valve.reads[-1].top
            for state in states
            for stand in state.stands
            for valve in stand.valves
        }
    moved = {address: tops[came().pk][address] - was for address, was in tops[left().pk].items()}
    assert moved.pop("5E") == pytest.approx(0.006, abs=1e-9)
    assert max(abs(each) for each in moved.values()) <= 0.001 + 1e-9


def test_the_mark_is_too_wide_for_any_height_and_its_neighbours_is_as_it_was(shop):
    """Trade fact: the mark proves, the gauge decides. |e| = √(2Lw − w²) − S/2, by hand."""
    found = {mark.address: mark for mark in marks_of_build(came()) if mark.read}
    built = {mark.address: mark for mark in marks_of_build(left()) if mark.read}
    assert set(found) == {"5E", "5I"}
    assert found["5I"].width == pytest.approx(built["5I"].width, abs=0.0025)
    assert found["5E"].width == pytest.approx(0.076, abs=0.003)
    width, arm = found["5E"].width, RockerArm(1.5, 0.21, 0.395)
    asked = math.sqrt(2 * arm.length * width - width**2) - 0.607 / 2
    assert asked == pytest.approx(0.168, abs=0.006)
    assert found["5E"].verdict("centre") == "out"
    assert found["5I"].verdict("centre") == built["5I"].verdict("centre") == "in"


def test_the_springs_lost_what_a_season_takes(shop):
    then, now = read(left(), "seat_load"), read(came(), "seat_load")
    lost = [then[address] - now[address] for address in then]
    assert len(lost) == 16
    assert all(3 <= each <= 5 for each in lost)


def test_it_was_found_with_evidence_for_and_against(shop):
    findings = {finding.what: finding for finding in Finding.objects.filter(build=came())}
    assert [finding.position for finding in findings.values()] == ["5E"] * 3
    pin = findings["Pin of the roller walked out of the rocker arm"]
    assert pin.confidence == "likely"
    sides = [each.side for each in pin.evidence.all()]
    assert Side.FOR in sides
    assert Side.AGAINST in sides
    assert pin.shown_on.count() == 1
    assert pin.looks.count() >= 4


def test_the_arm_and_the_pushrod_of_5e_came_out_as_failed(shop):
    outs = PartTakenOut.objects.filter(in_job=came())
    assert {(out.part.role, out.position, out.why, out.quantity) for out in outs} == {
        ("rocker arm", "5E", "failed", 1),
        ("pushrod", "5E", "failed", 1),
    }


def test_the_trace_of_its_lot_finds_both_engines_and_no_other(shop):
    lines = trace_lines(matching(TracedBy.LOT, LOT))
    told = {line.job.engine.serial: (line.left, line.ran) for line in lines}
    # Hand-worked: 430 laps of eight nights, and 12 told by the link.
    assert told == {"MC-31-B": (15, "786 laps"), "CA-7-A": (16, "442 laps")}


def test_a_recall_is_begun_and_one_of_two_is_told(shop):
    recall = Recall.objects.get(value=LOT)
    lines = list(recall.lines.all())
    told = [line.part.build.engine.serial for line in lines if line.marks.exists()]
    assert len(lines) == 2
    assert told == ["CA-7-A"]


def test_the_second_engine_begins_to_drift_and_has_a_figure_told_that_waits(shop):
    ran, lash = lashes(seven())
    low, high = limits_of(seven(), "6E")
    crossing = crossing_of(fit_drift(ran, [float(each) for each in lash["6E"]]), low=low, high=high)
    # Hand-worked: .0225 as built, two and a half thousandths in 350 laps, .0045 to the limit: 630.
    assert crossing.at == pytest.approx(630, abs=1)
    assert record_of(seven()).totals == {"laps": 442}
    (told,) = waiting_of(seven())
    assert (told.position, told.text) == ("6E", "0.0255")
    assert told.via == GuestLink.objects.get(takes_running=True)


def test_the_second_is_on_the_list_of_what_is_due_for_its_lot_and_its_drift(shop):
    due = {engine.job.engine.serial: engine.things for engine in due_engines()}
    assert set(due) == {"CA-7-A", "IB-4-17"}
    told = " ".join(thing.why for thing in due["CA-7-A"])
    assert f"lot {LOT}" in told
    assert "6E, lash, cold" in told
    # The boat is there by the shop's rule alone: nobody looked at its lash since it left.
    assert len(due["IB-4-17"]) == 1


def test_the_other_engines_that_are_out_ran_too(shop):
    ran = {
        str(job.engine): record_of(job).totals
        for job in Build.objects.filter(running__isnull=False).distinct()
    }
    assert ran["V8 puller, paired stands (KH-2)"] == {"passes": 47}
    assert ran["In-line four, hydroplane (IB-4-17)"] == {"hours": 12}


def test_states_are_what_the_story_says(shop):
    states = {job.pk: job.state for job in with_states(Build.objects.for_list())}
    assert states[left().pk] == BuildState.BACK
    assert states[seven().pk] == BuildState.OUT


@pytest.mark.parametrize("step", ["lash", "springs"])
def test_the_bench_and_the_log_show_what_was_found(shop, step):
    client = Client()
    client.force_login(Person.objects.get(username="joss"))
    page = client.get(reverse("log-step", args=[came().pk, step]))
    assert page.status_code == 200
    assert "5E" in page.content.decode()
