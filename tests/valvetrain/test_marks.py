"""What a witness mark says: its figures in the log, the height it comes to, which mark counts, and a photo's covariance.

The scene's engine: arm 1.650, lift .700, square at half lift. Right height: 1.65 − √(1.65² − .35²) = .0375 wide.
"""

from datetime import timedelta
from decimal import Decimal
from math import sqrt
from uuid import uuid4

import pytest
from django.utils import timezone

from builds.characteristics import get
from builds.models import Limit, MediaType, Photo, PhotoFiling, Reading, Shop
from builds.reading_notes import with_notes
from builds.recording import Entry, EntryRefused
from builds.steps import get_step
from builds.uncertainty import Toolbox, standard_of
from builds.worklog import WorkLog
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import KEYS, gathered, mark, measured, right_height, slid, state_of
from valvetrain.mark_heights import by_ends, by_width, too_narrow, too_wide, width_beside_gauge
from valvetrain.mark_log import MEASURED_AGAIN, record_marks
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.marks import PACK_SINCE, SLID_SINCE, marks_of_build
from valvetrain.markwords import centre_words, height_lines, shape_words
from valvetrain.status import Status

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(builder):
    Limit.add_defaults()
    return make_scene(builder)


@pytest.fixture
def photo(scene):
    found = Photo.objects.create(
        build=scene.build, name="tip.jpg", media_type=MediaType.JPEG, size=1, sha256="0" * 64, sent_sha256="0" * 64,
        width=800, height=600, path="a/tip.jpg", taken_by=scene.person,
    )  # fmt: skip
    PhotoFiling.objects.create(photo=found, position="1E", kind="witness-mark", filed_by=scene.person)
    return found


def figures(scene: Scene, address: str = "1E") -> dict:
    row = WorkLog(scene.build).state(get_step("marks")).row(address)
    return {each.derived.key: each for each in row.figures}


# ---- the step of the log --------------------------------------------------------------------------------------------


def test_width_centre_and_room_follow_from_the_two_edges(scene):
    """Hand-worked: .031 − (−.012) = .043; middle .0095; the tip's half of .342 is .171, less .031 = .140."""
    mark(scene, "1E", inner="-0.012", outer="0.031")
    found = figures(scene)
    assert [found[key].words for key in ("mark_width", "mark_centre", "mark_edge_room")] == [
        "0.0430 in", "0.0095 in", "0.1400 in",
    ]  # fmt: skip
    assert {found[key].verdict for key in ("mark_width", "mark_centre", "mark_edge_room")} == {"in"}


@pytest.mark.parametrize(
    ("edges", "key", "verdict"),
    [
        (("-0.040", "0.040"), "mark_width", "in"),
        (("-0.041", "0.040"), "mark_width", "out"),
        (("0.010", "0.050"), "mark_centre", "in"),
        (("0.011", "0.050"), "mark_centre", "out"),
        (("-0.050", "-0.010"), "mark_centre", "in"),
        (("0.101", "0.131"), "mark_edge_room", "in"),
        (("0.101", "0.132"), "mark_edge_room", "out"),
    ],
)
def test_marks_are_judged_at_common_practice_limits(scene, edges, key, verdict):
    """Trade fact: no wider than .080, middle within .030, .040 of tip left at either edge; at the limit is in."""
    mark(scene, "1E", inner=edges[0], outer=edges[1])
    assert figures(scene)[key].verdict == verdict


@pytest.mark.parametrize(
    ("front", "rear", "said", "verdict"),
    [
        ("0.040", "0.040", "even", "in"),
        ("0.045", "0.035", "even", "in"),
        ("0.046", "0.035", "heavy front", "out"),
        ("0.035", "0.046", "heavy rear", "out"),
    ],
)
def test_the_shape_is_said_in_the_trades_words(scene, front, rear, said, verdict):
    """Trade fact: a canted valve makes the mark heavy at one end. The limit of .010 is the shop's own."""
    mark(scene, "1E", inner="-0.020", outer="0.020", front=front, rear=rear)
    taper = figures(scene)["mark_taper"]
    assert (taper.said, taper.verdict) == (said, verdict)
    assert shape_words(state_of(scene), "in").startswith(said.capitalize())


def test_edges_the_wrong_way_round_cannot_be(scene):
    mark(scene, "1E", inner="0.031", outer="-0.012")
    width = figures(scene)["mark_width"]
    assert (width.verdict, width.unlikely[:53]) == (
        "out",
        "the outer edge lies no further out than the inner one",
    )
    found = state_of(scene)
    assert (found.drawn_as, found.counts, height_lines(found, "in")) == ("out", False, [])


def test_an_edge_past_the_rim_cannot_be(scene):
    mark(scene, "1E", inner="0.150", outer="0.185")
    assert "past the tip’s rim" in figures(scene)["mark_edge_room"].unlikely


def test_two_of_six_are_asked_for_and_four_are_optional(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    row = WorkLog(scene.build).state(get_step("marks")).row("1E")
    assert (row.missing, len(row.cells), row.status) == ([], 6, "done")


def test_every_thing_that_is_read_says_how(scene):
    """Trade fact: read from the tip's centre line, minus toward the shaft."""
    edges = [get(key) for key in ("mark_inner", "mark_outer", "mark_closed", "mark_open")]
    assert all("centre line" in each.how_measured and "shaft" in each.how_measured for each in edges)
    assert all(each.signed for each in edges)


# ---- how well it is known -------------------------------------------------------------------------------------------


def test_edges_read_one_by_one_are_known_one_by_one(scene):
    """Hand-worked: u = .001 each: width √2 · .001, centre .001/√2, at k = 2 .0028 and .0014."""
    mark(scene, "1E", inner="-0.020", outer="0.020")
    found = state_of(scene)
    assert found.standard("width") == pytest.approx(0.001 * sqrt(2))
    assert found.standard("centre") == pytest.approx(0.001 / sqrt(2))
    assert figures(scene)["mark_width"].standard == pytest.approx(0.001 * sqrt(2))


def test_a_reading_that_brings_its_uncertainty_along_has_that_and_no_tools(scene, photo):
    (inner, _outer) = measured(scene, photo, [[4e-6, 0.0], [0.0, 4e-6]], inner="-0.02", outer="0.02")
    assert standard_of([inner], Toolbox.read(), taken_for="scale") == pytest.approx(0.002)


@pytest.mark.parametrize("shared", [0.0, 3e-6, -3e-6])
def test_edges_from_one_photo_are_known_together(scene, photo, shared):
    """Hand-worked: u²(outer − inner) = 4 + 4 − 2·cov and u²(middle) = (4 + 4 + 2·cov)/4, in (.001)²."""
    measured(scene, photo, [[4e-6, shared], [shared, 4e-6]], inner="-0.020", outer="0.020")
    found = figures(scene)
    assert found["mark_width"].standard == pytest.approx(sqrt(8e-6 - 2 * shared))
    assert found["mark_centre"].standard == pytest.approx(sqrt(8e-6 + 2 * shared) / 2)
    assert state_of(scene).standard("width") == pytest.approx(sqrt(8e-6 - 2 * shared))


def test_an_edge_from_a_photo_beside_one_by_caliper_is_known_one_by_one(scene, photo):
    """Hand-worked: √(.002² + .001²)."""
    measured(scene, photo, [[4e-6, 3e-6], [3e-6, 4e-6]], inner="-0.020")
    mark(scene, "1E", outer="0.020")
    assert state_of(scene).standard("width") == pytest.approx(sqrt(5e-6))


def test_with_the_guard_band_a_mark_near_its_limit_is_undecided(scene):
    """Hand-worked: U of the width .0028: .0785 lies .0015 inside .080."""
    Shop.objects.update_or_create(pk=Shop.get().pk, defaults={"guard_band": True})
    mark(scene, "1E", inner="-0.039", outer="0.0395")
    assert state_of(scene).verdict("width") == "undecided"
    assert figures(scene)["mark_width"].verdict == "undecided"


# ---- what height it comes to ----------------------------------------------------------------------------------------


def test_a_wide_mark_is_high_or_low(scene):
    """Independent method: at .020 off, 1.65 − √(1.65² − .37²) = .0420; a slope of .37/√(1.65² − .37²) = .230."""
    mark(scene, "1E", inner="-0.0210", outer="0.0210")
    found = by_width(state_of(scene))
    assert (found.if_high, found.if_low) == (pytest.approx(0.020, abs=1e-4), pytest.approx(-0.020, abs=1e-4))
    assert found.factor == pytest.approx(1 / 0.2301, rel=1e-3)
    assert found.expanded == pytest.approx(found.factor * 2 * 0.001 * sqrt(2))


def test_the_mark_proves_and_the_gauge_decides_in_numbers(scene):
    """Trade fact: ± .005 of mark is about ± .020 of height. Here ± .0029 rounded up: × 4.35 = .0123."""
    mark(scene, "1E", inner="-0.0210", outer="0.0210")
    told = height_lines(state_of(scene), "in")
    assert told[0] == (
        "By its width the shaft stands 0.0199 in high or 0.0199 in low, each ± 0.0123 in: the width alone does not tell "
        "which."
    )
    assert told[1] == "± 0.0029 in of mark is ± 0.0123 in of height: the mark proves, the gauge decides."
    assert told[2].startswith("No height is read by the gauge")


def test_the_ends_tell_low_from_high(scene):
    """Independent method: .020 low, the contact stands √(1.65² − .37²) = 1.6080 closed and √(1.65² − .33²) = 1.6167
    open: .0087 further out."""
    mark(scene, "1E", inner="-0.021", outer="0.021", closed="-0.0210", open_="-0.0123")
    found = by_ends(state_of(scene))
    assert (found.height_error, found.side) == (pytest.approx(-0.020, abs=1e-4), "low")
    told = next(line for line in height_lines(state_of(scene), "in") if line.startswith("Closed"))
    assert (
        "it starts drawn in and rolls out, and does not come all the way back, so the shaft stands low"
        in told
    )


def test_too_high_is_the_mirror_of_too_low(scene):
    """Trade fact."""
    mark(scene, "1E", inner="-0.021", outer="0.021", closed="-0.0123", open_="-0.0210")
    found = by_ends(state_of(scene))
    assert (found.height_error, found.side) == (pytest.approx(0.020, abs=1e-4), "high")
    assert any("starts further out and ends drawn in" in line for line in height_lines(state_of(scene), "in"))


def test_ends_that_lie_together_are_at_the_height_as_near_as_they_tell(scene):
    mark(scene, "1E", inner="-0.019", outer="0.019", closed="-0.0185", open_="-0.0190")
    assert by_ends(state_of(scene)).side == ""
    assert any("so the shaft stands at its height" in line for line in height_lines(state_of(scene), "in"))


def test_a_mark_narrower_than_the_lift_can_make_is_told(scene):
    """Hand-worked: .0375 is the least; .030 falls short by .0075, beyond ± .0028."""
    mark(scene, "1E", inner="-0.015", outer="0.015")
    found = state_of(scene)
    assert too_narrow(found) == pytest.approx(0.00755, abs=1e-5)
    assert by_width(found) is None
    assert height_lines(found, "in")[0] == (
        "The mark is 0.008 in narrower than a lift of 0.700 in can make (0.038 in at least): the reading or the lift is "
        "wrong. Read both again."
    )


def test_a_mark_narrower_within_its_uncertainty_counts_as_the_narrowest(scene):
    mark(scene, "1E", inner="-0.018", outer="0.018")
    found = by_width(state_of(scene))
    assert (found.if_high, found.tells_nothing) == (pytest.approx(0.0, abs=1e-12), True)


def test_a_mark_wider_than_the_arm_can_make_is_told(scene):
    """The tip of .342 holds it, an arm of .30 with a lift of .28 does not: √(.28·(.6 − .28)) = .2993 is the most."""
    scene.build.rocker_sets.update(arm_length=Decimal("0.300"))
    scene.read_lift("1E", "0.280", sure=True)
    mark(scene, "1E", inner="-0.160", outer="0.160")
    assert too_wide(state_of(scene))
    assert "No height of this arm makes so wide a mark" in height_lines(state_of(scene), "in")[0]


def test_a_mark_that_agrees_with_the_gauge_says_so(scene):
    """Hand-worked: gap .020 is .020 low: .0420 to expect."""
    scene.read_gap("1E", "0.020")
    mark(scene, "1E", inner="-0.021", outer="0.021")
    assert width_beside_gauge(state_of(scene)).agrees
    assert height_lines(state_of(scene), "in")[-1].endswith("the mark agrees, within what both are known to.")


def test_a_mark_that_contradicts_the_gauge_asks_for_the_height_again(scene):
    scene.read_gap("1E", "0.000")
    mark(scene, "1E", inner="-0.025", outer="0.025")
    assert not width_beside_gauge(state_of(scene)).agrees
    told = height_lines(state_of(scene), "in")[-1]
    assert "the mark is 0.012 in wider than that makes" in told
    assert told.endswith("read the height again, and look at the lift.")


def test_a_mark_off_centre_at_the_right_height_is_acceptable_within_limits(scene):
    """Trade fact: height outranks centring."""
    mark(scene, "1E", inner="0.001", outer="0.039")
    assert centre_words(state_of(scene), "in") == (
        "Its middle lies 0.020 in outboard, ± 0.0015 in: within the limit of 0.030 in, acceptable as it is. Height "
        "outranks centring."
    )


# ---- which mark counts ----------------------------------------------------------------------------------------------


def test_a_mark_read_before_a_pack_no_longer_counts(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    assert state_of(scene).counts
    scene.fit("L.stand1", "0.020")
    found = state_of(scene)
    assert (found.counts, found.again, found.drawn_as) == (False, [PACK_SINCE], "look")
    row = WorkLog(scene.build).state(get_step("marks")).row("1E")
    assert (row.again, row.status) == (PACK_SINCE, "look")


def test_a_mark_from_before_the_pack_is_not_held_beside_the_gauge(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    right_height(scene)
    assert not any("gauge" in line for line in height_lines(state_of(scene), "in")[2:])


def test_a_mark_read_after_the_pack_begins_a_new_set(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    scene.fit("L.stand1", "0.020")
    inner, _outer = mark(scene, "1E", inner="-0.019", outer="0.021")
    assert inner.context["set"] == 1
    found = state_of(scene)
    assert (found.counts, found.inner) == (True, pytest.approx(-0.019))
    assert figures(scene)["mark_width"].words == "0.0400 in"


def test_a_second_reading_of_the_same_mark_is_a_repeat(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    mark(scene, "1E", inner="-0.018")
    assert state_of(scene).inner == pytest.approx(-0.019)


def test_another_stands_pack_says_nothing_of_this_mark(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    scene.fit("L.stand2", "0.020")
    assert state_of(scene).counts


def test_a_slid_stand_wants_height_and_mark_read_again(scene):
    right_height(scene)
    mark(scene, "1E", inner="-0.020", outer="0.020")
    slid(scene)
    assert state_of(scene).again == [SLID_SINCE]
    stand = scene.stand("L.stand1")
    assert stand.status == Status.LOOK
    assert stand.changed[0] == (
        "1E: the stand was slid 0.0120 in away from the valve since it was read: read the height again."
    )


def test_heights_after_the_slide_count_alone(scene):
    """Hand-worked: gap 0 before, .004 after it: .004 low, not the mean."""
    right_height(scene)
    move = slid(scene)
    scene.read_gap("1E", "0.004", taken_at=move.moved_at + timedelta(seconds=1))
    found = next(valve for valve in scene.stand("L.stand1").valves if valve.address == "1E")
    assert (len(found.reads), found.height_error, found.changed) == (1, pytest.approx(-0.004), [])


def test_another_lift_since_is_told(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    scene.read_lift("1E", "0.690")
    assert state_of(scene).again == ["1E: net lift was 0.7000 in when it was read, now 0.6900 in."]


def test_what_was_read_of_an_older_mark_says_nothing_of_this_one(scene):
    mark(scene, "1E", inner="-0.020", outer="0.020", closed="-0.02", open_="-0.01")
    scene.fit("L.stand1", "0.020")
    mark(scene, "1E", inner="-0.019", outer="0.021")
    assert (state_of(scene).closed, state_of(scene).open) == (None, None)


def test_a_mark_without_a_word_on_its_pack_goes_by_when_it_was_read(scene):
    early = timezone.now() - timedelta(hours=1)
    for key, text in (("mark_inner", "-0.02"), ("mark_outer", "0.02")):
        Reading.objects.create(
            build=scene.build, position="1E", characteristic=key, text=text, unit="in", value=text,
            taken_by=scene.person, taken_at=early,
        )  # fmt: skip
    assert state_of(scene).counts
    scene.fit("L.stand1", "0.020")
    assert state_of(scene).again == [PACK_SINCE]


def test_a_mark_that_was_inked_before_the_pack_and_sent_later_keeps_its_pack(scene):
    """The tablet was without network while the pack was fitted at the next bench."""
    early = timezone.now() - timedelta(minutes=30)
    scene.fit("L.stand1", "0.020")
    mark(scene, "1E", at=early, inner="-0.020", outer="0.020")
    assert state_of(scene).again == [PACK_SINCE]


# ---- writing --------------------------------------------------------------------------------------------------------


def entries(**more) -> list[Entry]:
    return [
        Entry(uuid4(), "1E", KEYS[name], text, "in", **more)
        for name, text in (("inner", "-0.02"), ("outer", "0.02"))
    ]


def test_the_same_marks_sent_twice_are_written_once(scene):
    sent = entries()
    for _time in range(2):
        found = record_marks(gathered(scene), scene.person, sent)
    assert [new for _reading, new in found] == [False, False]
    assert Reading.objects.count() == 2


def test_one_bad_edge_leaves_nothing_behind(scene):
    good, bad = entries()
    wrong = Entry(bad.client_id, "1E", "mark_outer", "wide", "in")
    with pytest.raises(EntryRefused, match="not a number"):
        record_marks(gathered(scene), scene.person, [good, wrong])
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("position", "key", "match"),
    [("9E", "mark_inner", "no valve “9E”"), ("1E", "net_lift", "not read on a witness mark")],
)
def test_what_is_no_mark_of_this_head_is_refused(scene, position, key, match):
    with pytest.raises(EntryRefused, match=match):
        record_marks(gathered(scene), scene.person, [Entry(uuid4(), position, key, "0.1", "in")])


def test_a_closed_job_takes_no_mark(scene):
    scene.build.went_out_on = timezone.localdate()
    scene.build.save(update_fields=["went_out_on"])
    with pytest.raises(EntryRefused, match="log is closed"):
        record_marks(gathered(scene), scene.person, entries())


def test_the_same_photo_measured_again_corrects_what_it_gave(scene, photo):
    covariance = [[4e-6, 0.0], [0.0, 4e-6]]
    measured(scene, photo, covariance, inner="-0.020", outer="0.020")
    again = measured(scene, photo, covariance, inner="-0.021", outer="0.022")
    assert [each.corrects.text for each in again] == ["-0.020", "0.020"]
    assert {each.reason for each in again} == {MEASURED_AGAIN}
    assert state_of(scene).width == pytest.approx(0.043)


def test_a_reading_from_a_photo_names_it_in_the_list(scene, photo):
    measured(scene, photo, [[4e-6, 0.0], [0.0, 4e-6]], inner="-0.020")
    (reading,) = with_notes(Reading.objects.for_list(), "in")
    assert reading.how_taken == ["measured on photo tip.jpg"]


def test_all_marks_of_two_heads_take_as_many_queries_as_one_mark(scene, django_assert_max_num_queries):
    mark(scene, "1E", inner="-0.020", outer="0.020")
    with django_assert_max_num_queries(17) as few:
        marks_of_build(scene.build)
    for address in ("1I", "3E", "2E", "4I"):
        mark(scene, address, inner="-0.020", outer="0.020", closed="-0.01", open_="0.0")
    with django_assert_max_num_queries(len(few)):
        assert sum(each.read for each in marks_of_build(scene.build)) == 5


def test_every_kind_of_reading_of_a_mark_is_registered():
    assert [get(key).applies_to for key in MARK_KEYS] == ["valve"] * 6
