"""The amount and the act. Expected words are hand-worked from the scene's plain figures."""

from decimal import Decimal
from uuid import uuid4

import pytest

from builds.models import Person
from tests.scenes import Scene, make_canted, make_scene
from valvetrain.acts import act_for
from valvetrain.logbook import PackEntry, fit
from valvetrain.models import CamCard, ShimStock, Stand
from valvetrain.packwords import shim_words


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def act(scene: Scene, stand: str, unit: str = "in"):
    return act_for(scene.stand(stand), unit)


def read_both(scene: Scene, exhaust: str, intake: str, **more: str) -> None:
    scene.read_gap("1E", exhaust, **more)
    scene.read_gap("1I", intake, **more)


def test_it_names_the_valves_to_read(scene):
    assert act(scene, "L.stand1").headline == "Read the height at 1E and 1I: stand on, no shims."
    scene.read_gap("1I", "0.024")
    assert act(scene, "L.stand1").headline == "Read the height at 1E: stand on, no shims."


def test_it_says_the_amount_and_the_shims_and_what_is_left(scene):
    read_both(scene, "0.0243", "0.0243")
    told = act(scene, "L.stand1")
    assert told.headline == "Raise 0.025 in: add .015 + .010 under each pad, leaves 0.0007 in high."
    assert told.pieces == [(Decimal("0.015"), 1), (Decimal("0.010"), 1)]


def test_it_says_what_is_left_at_each_valve_where_they_differ(scene):
    read_both(scene, "0.022", "0.028")
    assert "leaves 1E 0.003 in high, 1I 0.003 in low" in act(scene, "L.stand1").headline


def test_it_speaks_millimetres(scene):
    read_both(scene, "0.025", "0.025")
    assert act(scene, "L.stand1", "mm").headline == (
        "Raise 0.635 mm: add 0.381 + 0.254 under each pad, leaves it right."
    )


def test_a_pack_in_place_is_changed_not_added_to(scene):
    scene.fit("L.stand1", "0.015")
    read_both(scene, "0.010", "0.010")
    assert act(scene, "L.stand1").headline == (
        "Raise 0.010 in: make the pack .015 + .010 (now .015), leaves it right."
    )


def test_too_thick_a_pack_is_taken_down(scene):
    scene.fit("L.stand1", "0.030")
    read_both(scene, "0", "0", foot_feeler="0.010")
    assert act(scene, "L.stand1").headline.startswith("Lower 0.010 in: make the pack .020 (now .030)")


def test_a_stand_that_must_come_down_says_by_how_much_and_how(scene):
    read_both(scene, "0", "0", foot_feeler="0.012")
    told = act(scene, "L.stand1")
    assert told.headline == "The stand must come down 0.012 in: shims cannot do it."
    assert any("Mill the stand’s foot, or spot-face the pads, by 0.012 in" in line for line in told.lines)
    assert any("lash caps" in line for line in told.lines)
    assert not told.offers_pack


def test_on_a_tilted_pad_more_is_milled(scene):
    scene.left.stands.filter(name="stand1").update(pad_tilt=30)
    read_both(scene, "0", "0", foot_feeler="0.013")
    # 0.013 / cos 30° = 0.01501
    assert "by 0.015 in" in act(scene, "L.stand1").lines[0]


def test_a_stand_slightly_high_within_the_limit_is_in(scene):
    read_both(scene, "0", "0", foot_feeler="0.003")
    assert act(scene, "L.stand1").headline == "In without shims: the most is 0.003 in high, at 1E."


def test_valves_that_disagree_get_the_least_wrong_pack_and_the_tip_work(scene):
    read_both(scene, "0.010", "0.030")
    told = act(scene, "L.stand1")
    assert told.headline.startswith("No one pack suits all its valves: the least wrong is .020")
    assert any(line.startswith("1E stays 0.010 in high: a longer tip or a lash cap") for line in told.lines)


def test_a_drawer_that_cannot_do_it_says_what_is_missing(scene):
    ShimStock.objects.exclude(thickness=Decimal("0.060")).delete()
    read_both(scene, "0.025", "0.025")
    told = act(scene, "L.stand1")
    assert told.kind == "drawer"
    assert "Missing: add 2 of .025 to the drawer and it comes in." in told.lines


def test_an_empty_drawer_is_said(scene):
    ShimStock.objects.all().delete()
    read_both(scene, "0.025", "0.025")
    assert "the drawer cannot make one" in act(scene, "L.stand1").headline


def test_shims_cost_thread_and_it_is_said_when_too_little_is_left(scene):
    scene.left.stands.filter(name="stand1").update(
        bolt_length=Decimal("2.20"), washer_thickness=Decimal("0.12"), thickness_at_bolt=Decimal("1.45"),
        tapped_depth=Decimal("1.35"), bolt_diameter=Decimal("0.4375"),
    )  # fmt: skip
    read_both(scene, "0.025", "0.025")
    told = act(scene, "L.stand1")
    # 2.20 − 0.12 − 1.45 − 0.025 = 0.605; aluminium asks 1.5 × 0.4375 = 0.65625
    assert told.thread.words.startswith("Thread in the head: 0.605 in, asked 0.6563 in: too little.")
    assert told.thread.short


def test_a_change_is_told_with_the_act(scene):
    read_both(scene, "0", "0")
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.4425"))
    told = act(scene, "L.stand1")
    assert told.headline.startswith("Look again: in without shims")
    assert "1E: net lift was 0.7000 in when it was read, now 0.7040 in." in told.lines


def test_no_shims_has_a_name():
    assert shim_words([]) == "no shims"


def fit_tilted(scene: Scene) -> None:
    """Pads of stand 1 are 2.2 in apart, and each valve stands 0.55 in inside one: .004 between the pads is .002 there."""
    stand1 = Stand.objects.select_related("head__build").get(head=scene.left, name="stand1")
    under = {"A": [(Decimal("0.015"), 1)], "B": [(Decimal("0.015"), 1), (Decimal("0.002"), 2)]}
    fit(stand1, scene.person, PackEntry(uuid4(), [], under=under))


def test_a_pack_that_differs_from_pad_to_pad_is_told_pad_by_pad(scene):
    fit_tilted(scene)
    assert "with pad A .015, pad B .015 + .002 + .002 in place" in act(scene, "L.stand1").headline


def test_thread_is_looked_at_under_each_pad(scene):
    fit_tilted(scene)
    state = scene.stand("L.stand1")
    thick, thin = state.engagement(0.019), state.engagement(0.015)
    assert state.engagement_now.engagement == thick.engagement
    assert state.engagement_now.past_thread == thin.past_thread


def test_a_new_pack_after_a_tilted_one_is_worked_from_each_valves_own_place(scene):
    fit_tilted(scene)
    state = scene.stand("L.stand1")
    places = [float(pad.along) for pad in state.pads]
    for valve, pack in zip(state.valves, state.pack_at_valves, strict=True):
        # independent: the straight line through two pads, by its slope
        slope = (0.019 - 0.015) / (places[1] - places[0])
        assert pack == pytest.approx(0.015 + slope * (float(valve.valve.along) - places[0]))
    read_both(scene, "0.010", "0.010")
    state = scene.stand("L.stand1")
    wanted = [pack + 0.010 for pack in state.pack_at_valves]
    assert state.choice.ideal == pytest.approx((max(wanted) + min(wanted)) / 2)


def test_where_one_valve_stands_alone_the_work_is_on_that_one(builder):
    """Hand-worked: a bar over four intakes asks .0255, .0275, .0295 and .0475; one pack of about .0275 serves three."""
    scene = make_canted(builder)
    for address, gap in (("1I", "0.0255"), ("3I", "0.0275"), ("5I", "0.0295"), ("7I", "0.0475")):
        scene.read_gap(address, gap)
    told = act(scene, "L.intake")
    assert "suits 1I and 3I and 5I" in told.headline
    assert [line for line in told.lines if "would take it out" in line] == [
        line for line in told.lines if line.startswith("7I stays")
    ]


def test_readings_that_disagree_by_more_than_the_limit_get_no_pack(scene):
    scene.read_gap("1E", "0.020")
    scene.read_gap("1E", "0.040", sure=True)
    scene.read_gap("1I", "0.030")
    told = act(scene, "L.stand1")
    assert told.headline.startswith("Read again before anything is fitted")
    assert "1E differ by 0.020 in: 0.020, 0.040" in told.lines[0]
    assert not told.offers_pack
