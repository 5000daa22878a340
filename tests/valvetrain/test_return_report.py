"""The return report: what of the records stands in it, and what it lacks before it may be signed."""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.models import Build, Evidence, FindingPhoto, Instrument, Limit, Person, Return
from builds.models.recalls import Recall
from builds.photos.storage import photo_files
from builds.sealing.kinds import Readiness, kind_of, sheet_kinds
from tests.scenes import Scene, make_scene
from tests.valvetrain import returned
from tests.valvetrain.returned import a_finding, came_back, found, keyed, ran, went_out, with_all
from tests.valvetrain.test_photo_log import measured, take
from valvetrain.sheets.return_lines import ChangeLine, ReturnReport
from valvetrain.sheets.return_photos import MOST_PAIRS, MOST_SHOWN
from valvetrain.sheets.return_ready import NO_FINDING, NOTHING_READ
from valvetrain.sheets.return_report import NO_SHEET, return_report


@pytest.fixture
def scene(builder: Person, photo_folder: Path) -> Scene:
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def back(scene: Scene) -> tuple[Return, Scene]:
    """An engine with something of everything on its report."""
    return with_all(scene)


@pytest.fixture
def bare(scene: Scene) -> Return:
    """An engine that came back, and nothing more."""
    went_out(scene)
    return came_back(scene)


def report_of(came: Return, unit: str = "in") -> ReturnReport:
    return return_report(Build.objects.select_related("engine__customer").get(pk=came.build_id), unit=unit)


def ready(came: Return) -> Readiness:
    return kind_of("return").readiness(came.build, "")


def line(report: ReturnReport, key: str) -> ChangeLine:
    return next(each for each in report.changes.moved if each.key == key)


def test_only_a_return_has_one_and_it_has_neither_build_nor_setup_sheet(bare: Return, scene: Scene):
    scene.build.refresh_from_db()
    kinds = {kind.key for kind in sheet_kinds() if kind.subjects(bare.build)}
    assert "return" in kinds
    assert not {"build", "setup"} & kinds
    assert kind_of("return").subjects(scene.build) == []
    assert kind_of("build").subjects(scene.build) == [("", "")]


def test_it_says_what_the_engine_left_with(back: tuple[Return, Scene]):
    report = report_of(back[0])
    told = {fact.name: fact.text for fact in report.left}
    out = timezone.localdate() - timedelta(days=60)
    assert (told["job it left with"], told["went out"]) == ("26-014", f"{out:%d %b %Y}")
    assert told["sealed sheet"] == NO_SHEET
    assert report.complaint == "Noise on the left bank, then it stopped"
    assert report.how_it_ran == ["Well for forty passes.", "Then rough."]


def test_it_ran_what_was_told_up_to_the_day_it_came_back(scene: Scene):
    job = went_out(scene)
    for days_ago in range(20, 10, -1):
        ran(scene, job, "3", days_ago)
    came = came_back(scene)
    ran(scene, job, "5", 0, note="told when it stood here already")
    told = report_of(came).ran
    # Hand-worked: ten entries of three and one of five; six are shown, five stand before them.
    assert (told.totals, len(told.entries), told.earlier) == ("35 passes", 6, 5)
    assert (told.entries[-1].amount, told.entries[-1].total) == ("5 passes", "35 passes")


def test_what_moved_most_comes_first_in_units_of_u(back: tuple[Return, Scene]):
    report = report_of(back[0])
    lash = line(report, "5E/lash_cold")
    # Hand-worked: .034 − .004; judged by the card's .004 ± .002.
    assert (lash.then, lash.now, lash.change) == ("0.0040", "0.0340", "+0.0300")
    assert (lash.verdict_then, lash.verdict_now) == ("in", "out")
    assert lash.limit_words == "0.0020 to 0.0060 in"
    units = [float(each.in_u.removesuffix(" U")) for each in report.changes.moved]
    assert units == sorted(units, reverse=True)
    assert {each.key for each in report.changes.out_now} == {"5E/lash_cold", "5E/height_error"}
    assert any("read when it left and not as found" in sentence for sentence in report.changes.counted)


def test_another_limit_since_is_told_then_and_now(scene: Scene):
    scene.read_gap("5E", "0.001")
    went_out(scene)
    came = came_back(scene)
    found(scene, came).read_gap("5E", "0.031", sure=True)
    tight = Limit.objects.get(key="stand_height", build=None)
    tight.low, tight.high = Decimal("-0.003"), Decimal("0.003")
    tight.save()
    moved = line(report_of(came), "5E/height_error")
    assert moved.limit_words == "then −0.0050 to 0.0050 in; now −0.0030 to 0.0030 in"


def test_the_valve_that_changed_most_has_its_geometry_and_both_marks(back: tuple[Return, Scene]):
    (had,) = [each for each in report_of(back[0]).had if each.address == "5E"]
    figures = {each.name: each for each in had.figures}
    # Hand-worked: .440 × 1.6 − .034 = .670; half of what is lost, .015, comes to the .031 that was read.
    assert (figures["net lift, in"].then, figures["net lift, in"].now) == ("0.7000", "0.6700")
    assert figures["shaft off its height, in"].now.startswith("0.0460 low")
    assert had.then is not None
    assert had.then.worked_out
    assert had.now is not None
    assert had.now.worked_out


def test_millimetres_and_newtons_for_who_reads_them(back: tuple[Return, Scene]):
    report = report_of(back[0], "mm")
    # Hand-worked: .034 × 25.4 = .8636; 214 × 4.4482 = 951.9.
    assert (line(report, "5E/lash_cold").now, line(report, "5E/lash_cold").unit) == ("0.864", "mm")
    assert (line(report, "5E/seat_load").now, line(report, "5E/seat_load").unit) == ("952", "N")


def test_a_finding_has_its_evidence_its_looks_and_the_numbers_of_its_photos(back: tuple[Return, Scene]):
    first, second = report_of(back[0]).findings
    assert (first.what, first.where, first.condition, first.how_sure) == (
        "exhaust rocker arm broken", "5E", "broken", "likely",
    )  # fmt: skip
    assert [each.text for each in first.speaks_against] == ["the torque was still there on stand 2"]
    leaned = [words for each in first.speaks_for for words in each.leans_on]
    assert leaned[0].startswith("5E, lash, cold: 0.034 in, ")
    assert leaned[1:] == ["photo 3", "rocker arm 5E, lot L-0417, serial number S5, maker’s number RA-16"]
    assert [(look.text, look.answer, look.note) for look in first.looks] == [
        ("Stand bolts by torque", "it is so", "two of four")
    ]
    assert first.photos == [2, 3]
    assert (second.cause, second.how_sure, second.photos) == ("", "", [])


def test_a_finding_that_was_taken_back_is_not_on_it(back: tuple[Return, Scene]):
    came = back[0]
    came.build.findings.filter(position="3I").update(withdrawn="the wrong valve")
    assert [each.number for each in report_of(came).findings] == [1]


def test_then_and_now_stand_side_by_side_before_the_other_photos(back: tuple[Return, Scene]):
    photos = report_of(back[0]).photos
    (pair,) = photos.pairs
    assert (pair.key, pair.then.picture.note, pair.now.picture.note) == (
        "5E/witness-mark", "as it left", "the arm in two",
    )  # fmt: skip
    assert (pair.now.findings, [each.number for each in photos.shown]) == ([1], [3])


def test_many_photos_are_counted_not_printed(scene: Scene):
    take(scene, "1E", seed=1)
    measured(scene, "1E", take(scene, "3E", seed=2))
    went_out(scene)
    came = came_back(scene)
    bench = found(scene, came)
    finding = a_finding(bench, came)
    for number in range(MOST_SHOWN + 2):
        photo = take(bench, "", kind="damage", seed=number)
        FindingPhoto.objects.create(finding=finding, photo=photo)
    aside = take(bench, "7E", kind="damage", seed=99, set_aside=True, reason="out of focus")
    FindingPhoto.objects.create(finding=finding, photo=aside)
    for address in ("1E", "3E"):
        take(bench, address, seed=5)
    photos = report_of(came).photos
    assert (len(photos.pairs), len(photos.shown), photos.not_shown, photos.set_aside) == (2, MOST_SHOWN, 2, 1)
    assert len(photos.pairs) <= MOST_PAIRS


def test_parts_concerned_have_their_lot_why_they_came_out_and_the_recall(back: tuple[Return, Scene]):
    parts = report_of(back[0]).parts
    (arm,) = parts.concerned
    assert (arm.role, arm.lot, arm.serial, arm.why) == ("rocker arm", "L-0417", "S5", "finding 1")
    assert arm.taken_out[0].endswith("failed: in two pieces")
    assert arm.recalls == ["lot L-0417: soft at the cup; customer not told yet"]
    assert parts.others == 1


def test_a_closed_recall_is_no_longer_on_it(back: tuple[Return, Scene]):
    Recall.objects.update(closed_on=timezone.localdate())
    assert report_of(back[0]).parts.concerned[0].recalls == []


def test_the_life_ends_with_the_return_and_leaves_out_what_the_report_says_itself(back: tuple[Return, Scene]):
    lines = report_of(back[0]).life.lines
    assert [each.what for each in lines] == ["job opened", "went out", "ran", "came back"]


def test_an_engine_that_came_back_and_nothing_more(bare: Return):
    report = report_of(bare)
    assert (report.ran.totals, report.had, report.findings) == ("not run yet", [], [])
    assert (report.changes.moved, report.changes.read_now) == ([], 0)
    assert ready(bare).missing == [NOTHING_READ, NO_FINDING]


def test_what_was_read_after_work_only_is_nothing_found(scene: Scene, bare: Return):
    reading = keyed(scene, bare.build, "5E", "lash_cold", "0.004")
    assert ready(bare).missing == [NO_FINDING]
    type(reading).objects.create(
        build=bare.build, position="5I", characteristic="lash_cold", text="0.004", unit="in", value="0.004",
        taken_by=scene.person, context={"set": 1},
    )  # fmt: skip
    assert report_of(bare).changes.read_now == 1


def test_what_is_out_is_listed_and_nobody_has_to_accept_it(back: tuple[Return, Scene]):
    came = back[0]
    assert report_of(came).changes.out_now
    assert ready(came) == Readiness()


def test_a_finding_that_does_not_say_what_it_has_to_blocks(back: tuple[Return, Scene]):
    came, bench = back
    a_finding(bench, came, what="rub mark", condition="", confidence="", action="")
    a_finding(bench, came, what="chip", cause="", confidence="sure")
    name = "Finding 3, rub mark 5E"
    assert ready(came).missing == [
        f"{name}: say in which condition it was found.",
        f"{name}: a probable cause is named. Say how sure you are of it.",
        f"{name}: say what is to be done, or that nothing is.",
        "Finding 4, chip 5E: it says how sure you are, and of no cause. Name the cause, or choose “no cause named”.",
    ]


def test_serial_number_lost_file_and_overdue_tool_as_on_every_sheet(back: tuple[Return, Scene]):
    came, bench = back
    came.build.engine.serial = ""
    photo_files().delete(bench.build.photos.first().path)
    late = timezone.localdate() - timedelta(days=1)
    Instrument.objects.filter(mark="HG-1").update(due_on=late)
    lacks = ready(came)
    assert [sentence.split(".")[0] for sentence in lacks.missing] == [
        "The engine has no serial number, and a sealed sheet names it", "The file of the photo IMG_4",
    ]  # fmt: skip
    assert [item.key for item in lacks.overdue] == ["overdue/HG-1"]


def test_it_takes_as_many_questions_however_much_is_on_it(back: tuple[Return, Scene]):
    came, bench = back
    report_of(came)
    with CaptureQueriesContext(connection) as few:
        report_of(came)
    for address in returned.LEFT:
        keyed(bench, came.build, address, "lash_hot", "0.004")
        finding = a_finding(bench, came, position=address)
        FindingPhoto.objects.create(finding=finding, photo=take(bench, address, seed=7))
        Evidence.objects.create(finding=finding, side="for", text="more of it")
    with CaptureQueriesContext(connection) as many:
        assert len(report_of(came).findings) == 10
    assert len(many) <= len(few)


def test_it_stands_among_the_sheets_of_its_job(back: tuple[Return, Scene], bench_client: Client):
    came = back[0]
    page = bench_client.get(reverse("job-sheets", args=[came.build_id])).content.decode()
    assert "Return report" in page
    assert "Setup sheet" not in page
    assert "Build sheet" not in page
    packet = bench_client.get(reverse("packet", args=[came.build_id])).content.decode()
    assert "Return report" in packet
    panel = bench_client.get(reverse("valvetrain-panel", args=[came.build_id])).content.decode()
    assert reverse("packet", args=[came.build_id]) in panel
    assert reverse("build-sheet", args=[came.build_id]) not in panel
