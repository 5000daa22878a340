"""Centring a stand: offered only at the right height, one slide for all its valves, and what the bolt holes lose."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from builds.appendonly import RecordIsPermanent
from builds.models import Limit
from builds.recording import EntryQuestioned, EntryRefused
from tests.scenes import Scene, make_scene
from tests.valvetrain.marking import gathered, mark, right_height, slid, state_of
from valvetrain.centring import Centring, centring_of
from valvetrain.centringwords import MIND, centring_words
from valvetrain.marks import marks_of_head
from valvetrain.models import Stand, StandMove
from valvetrain.slides import SlideEntry, record_slide

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(builder):
    Limit.add_defaults()
    return make_scene(builder)


def centring(scene: Scene, stand: str = "L.stand1") -> Centring:
    marks = marks_of_head(gathered(scene))
    return centring_of(next(mark.stand for mark in marks if mark.stand.address == stand), marks)


def told(scene: Scene):
    return centring_words(centring(scene), "in")


def change(**facts: object) -> None:
    Stand.objects.filter(name="stand1").update(**facts)


def off_centre(scene: Scene, first: str = "0.040", second: str = "0.030") -> None:
    """Marks .040 wide whose middles lie .040 and .030 outboard, at the right height."""
    right_height(scene)
    for address, middle in (("1E", Decimal(first)), ("1I", Decimal(second))):
        mark(scene, address, inner=str(middle - Decimal("0.020")), outer=str(middle + Decimal("0.020")))


# ---- what is offered ------------------------------------------------------------------------------------------------


def test_height_comes_first(scene):
    """Trade fact: centring only after the height is right."""
    scene.fit("L.stand1", "0.005")
    for address in ("1E", "1I"):
        scene.read_gap(address, "0.020")
        mark(scene, address, inner="0.020", outer="0.062")
    found = told(scene)
    assert (found.headline, found.offered) == ("Height first: L.stand1 is out.", False)
    assert found.lines[0] == "1E 0.020 in low, 1I 0.020 in low."


def test_a_valve_that_is_not_read_is_named(scene):
    right_height(scene)
    scene.fit("L.stand1", "0.030")
    scene.read_gap("1E", "0.000")
    assert told(scene).lines[0] == "1I not read."


def test_after_a_slide_the_height_is_looked_at_again(scene):
    off_centre(scene)
    slid(scene)
    assert told(scene).headline == "Height first: look at L.stand1 again."


def test_every_mark_of_the_stand_is_wanted(scene):
    right_height(scene)
    mark(scene, "1E", inner="0.020", outer="0.060")
    assert told(scene).headline == "Before centring L.stand1: read the mark of 1I."


def test_a_mark_from_before_is_inked_again(scene):
    for address in ("1E", "1I"):
        mark(scene, address, inner="0.020", outer="0.060")
    right_height(scene)
    assert (
        told(scene).headline
        == "Before centring L.stand1: ink 1E and read it again, ink 1I and read it again."
    )


def test_marks_within_the_limit_need_no_slide(scene):
    """Trade fact: off centre at the right height is acceptable within limits."""
    off_centre(scene, "0.029", "-0.010")
    found = told(scene)
    assert (found.offered, found.headline[:33]) == (False, "The marks lie within the limit: a")
    assert found.lines == ["Middle of the mark: 1E 0.029 in outboard, 1I 0.010 in toward the shaft."]


def test_one_move_serves_the_whole_stand(scene):
    """Hand-worked: middles .040 and .030: back by .035 leaves .005 either side."""
    off_centre(scene)
    found = centring(scene)
    assert found.move == pytest.approx(-0.035)
    assert [left for _mark, left in found.left] == [pytest.approx(0.005), pytest.approx(-0.005)]
    assert told(scene).headline == "Move L.stand1 0.035 in away from the valve, ± 0.0015 in."
    assert told(scene).lines[0] == "It leaves 1E 0.005 in outboard, 1I 0.005 in toward the shaft."


def test_needs_too_far_apart_for_one_stand_are_told(scene):
    """Hand-worked: .080 apart: .040 either side, beyond .030."""
    off_centre(scene, "0.050", "-0.030")
    assert centring(scene).still_out == ["1E", "1I"]
    assert "One stand cannot centre both" in told(scene).lines[1]


def test_a_level_pad_keeps_the_height(scene):
    change(pad_tilt=0)
    off_centre(scene)
    assert "sliding along them leaves the height as it is" in told(scene).lines[1]


def test_a_tilted_pad_says_what_the_slide_does_and_which_pack_keeps_the_height(scene):
    """Hand-worked: .035 across at 10°: alone .035/cos 10° = .0355 along, .035·tan 10° = .0062 up; with the height kept
    .035·cos 10° = .0345 along and .035·sin 10° = .0061 off the pack of .020."""
    change(pad_tilt=10)
    off_centre(scene)
    lines = told(scene).lines
    assert lines[1] == (
        "On pads tilted 10° a slide alone (0.0355 in along the pad) raises the shaft 0.0062 in."
    )
    assert lines[2] == (
        "To keep the height: slide 0.0345 in along the pad with a pack 0.0061 in thinner (0.0139 in in all)."
    )


def test_a_pack_that_is_not_there_cannot_keep_the_height(scene):
    change(pad_tilt=45)
    off_centre(scene)
    assert "there is not so much" in told(scene).lines[2]


def test_a_hole_that_is_not_entered_says_what_it_can(scene):
    change(pad_tilt=0, bolt_hole=None)
    off_centre(scene)
    assert "the play in them is not known: with none, relieve them by 0.035 in" in told(scene).lines[2]


def test_the_relief_is_what_the_play_does_not_give(scene):
    """Hand-worked: hole .4515 less bolt .4375: .007 either way; .035 − .007 = .028 off; then .014 + .028 = .042."""
    change(pad_tilt=0, bolt_diameter="0.4375", bolt_hole="0.4515")
    off_centre(scene)
    assert told(scene).lines[2] == (
        "The bolts have 0.007 in of play either way: relieve each hole by 0.028 in on its side toward the valve. The "
        "bolt then has 0.042 in of room along the slide."
    )
    assert told(scene).caution == MIND


def test_play_enough_relieves_nothing(scene):
    change(pad_tilt=0, bolt_diameter="0.4375", bolt_hole="0.520")
    off_centre(scene)
    assert told(scene).lines[2].endswith("enough for the slide of 0.035 in, without relieving a hole.")


# ---- what is written ------------------------------------------------------------------------------------------------


def entry(**more) -> SlideEntry:
    return SlideEntry(**{"client_id": uuid4(), "slide": "0.012", "toward_valve": False, **more})


def stand_of(scene: Scene):
    return state_of(scene).stand


def test_a_slide_is_written_with_its_way_and_its_relief(scene):
    right_height(scene)
    move, new = record_slide(stand_of(scene), scene.person, entry(relieved="0.3 mm", note="deburred"))
    assert (new, move.slide, move.slide_text, move.relieved_text) == (
        True,
        Decimal("-0.012"),
        "0.012",
        "0.3 mm",
    )
    assert move.relieved == Decimal("0.011811023622")  # 0.3 / 25.4


def test_a_slide_sent_twice_is_written_once(scene):
    right_height(scene)
    sent = entry()
    for _time in range(2):
        _move, new = record_slide(stand_of(scene), scene.person, sent)
    assert (new, StandMove.objects.count()) == (False, 1)


def test_a_slides_number_is_not_used_for_another(scene):
    right_height(scene)
    sent = entry()
    record_slide(stand_of(scene), scene.person, sent)
    with pytest.raises(EntryRefused, match="already used"):
        record_slide(stand_of(scene), scene.person, entry(client_id=sent.client_id, slide="0.013"))


def test_before_the_height_is_right_a_slide_is_asked_about_and_taken_when_meant(scene):
    with pytest.raises(EntryQuestioned, match="Height comes before centring"):
        record_slide(stand_of(scene), scene.person, entry())
    assert record_slide(stand_of(scene), scene.person, entry(sure=True))[1]


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"slide": ""}, "type how far the stand was slid"),
        ({"slide": "0"}, "a slide of nothing is none"),
        ({"slide": "far"}, "“far” is not a number"),
        ({"slide": "-0.01"}, "L.stand1, slide:"),
        ({"slide": "12"}, "no stand slides 12 in in its holes"),
        ({"relieved": "0.0.2"}, "has two dots"),
        ({"relieved": "0.4"}, "more than any stand bears"),
        ({"note": "n" * 201}, "longer than 200 characters"),
    ],
)
def test_what_cannot_be_is_refused_in_words(scene, typed, sentence):
    right_height(scene)
    with pytest.raises(EntryRefused, match=sentence.replace("(", r"\(")):
        record_slide(stand_of(scene), scene.person, entry(**typed))
    assert not StandMove.objects.exists()


def test_a_far_slide_is_asked_about(scene):
    right_height(scene)
    with pytest.raises(EntryQuestioned, match="is far for a stand"):
        record_slide(stand_of(scene), scene.person, entry(slide="0.100"))


def test_a_slide_of_tomorrow_is_refused(scene):
    right_height(scene)
    with pytest.raises(EntryRefused, match="still to come"):
        record_slide(stand_of(scene), scene.person, entry(moved_at=timezone.now() + timedelta(days=1)))


def test_a_closed_job_takes_no_slide(scene):
    right_height(scene)
    stand = stand_of(scene)
    scene.build.went_out_on = timezone.localdate()
    scene.build.save(update_fields=["went_out_on"])
    with pytest.raises(EntryRefused, match="log is closed"):
        record_slide(stand, scene.person, entry())


def test_a_stand_that_was_slid_stays_on_its_head(scene):
    move = slid(scene)
    move.stand.valves.all().delete()
    assert move.stand.why_it_stays() == "L.stand1 was slid on its pads: the log names it, so the stand stays."
    assert "L.stand1" in scene.left.measured_addresses()


def test_a_slide_is_never_changed(scene):
    move = slid(scene)
    move.slide = Decimal("0.1")
    with pytest.raises(RecordIsPermanent, match="never changed"):
        move.save()
