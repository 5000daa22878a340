"""From records to verdicts. Expected numbers are hand-worked from the scene's plain figures."""

from datetime import date
from decimal import Decimal

import pytest

from builds.models import Build, Limit, Person, Shop
from tests.scenes import Scene, make_scene
from valvetrain.gathering import gather
from valvetrain.logbook import record_height
from valvetrain.models import CamCard, HeightGauge, RockerSet
from valvetrain.status import Status
from valvetrain.targets import ready_builds


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def valve(scene: Scene, address: str):
    return next(state for state in scene.state(scene.head_of(address)).valves if state.address == address)


def test_a_fresh_head_waits_to_be_read(scene):
    assert {stand.status for stand in scene.state().stands} == {Status.READ}


def test_the_target_is_worked_out_from_the_cam_card(scene):
    # r + R − k·S = 0.585 − 0.350
    assert valve(scene, "1E").target_top == pytest.approx(0.235)
    assert valve(scene, "1E").inputs.lift_source == "worked out from the cam card"


def test_a_measured_lift_outranks_the_cam_card(scene):
    scene.read_lift("1E", "0.710")
    assert valve(scene, "1E").inputs.lift == pytest.approx(0.710)
    assert valve(scene, "1E").target_top == pytest.approx(0.585 - 0.355)
    assert valve(scene, "1I").inputs.lift == pytest.approx(0.700)


def test_repeated_lifts_are_averaged(scene):
    for text in ("0.708", "0.710", "0.712"):
        scene.read_lift("1E", text)
    inputs = valve(scene, "1E").inputs
    assert (inputs.lift, inputs.lift_count) == (pytest.approx(0.710), 3)
    assert inputs.lift_spread == pytest.approx(0.004)


def test_a_gap_over_the_shaft_means_the_shaft_is_low(scene):
    scene.read_gap("1E", "0.024")
    assert valve(scene, "1E").height_error == pytest.approx(-0.024)


def test_a_feeler_under_the_foot_means_the_shaft_is_high(scene):
    scene.read_gap("1E", "0", foot_feeler="0.010")
    assert valve(scene, "1E").height_error == pytest.approx(0.010)


def test_zero_is_a_reading(scene):
    scene.read_gap("1E", "0")
    assert valve(scene, "1E").verdict == "in"


def test_repeats_are_averaged_and_their_range_is_told(scene):
    scene.read_gap("1E", "0.023")
    scene.read_gap("1E", "0.025")
    assert valve(scene, "1E").height_error == pytest.approx(-0.024)
    assert valve(scene, "1E").spread == pytest.approx(0.002)


@pytest.mark.parametrize(
    ("gap", "verdict"), [("0.005", "in"), ("0.0051", "out"), ("0.0049", "in")], ids=["at", "past", "inside"]
)
def test_exactly_at_the_limit_is_in(scene, gap, verdict):
    scene.read_gap("1E", gap)
    assert valve(scene, "1E").verdict == verdict


def test_a_limit_of_the_shop_is_used(scene):
    Limit.objects.filter(key="stand_height").update(low=Decimal("-0.002"), high=Decimal("0.002"))
    scene.read_gap("1E", "0.004")
    assert valve(scene, "1E").verdict == "out"


def test_a_stand_is_shimmed_once_all_its_valves_are_read(scene):
    scene.read_gap("1E", "0.024")
    assert scene.stand("L.stand1").choice is None
    scene.read_gap("1I", "0.026")
    assert scene.stand("L.stand1").status == Status.SHIM
    assert scene.stand("L.stand1").choice.thickness == pytest.approx(0.025)


def test_a_fitted_pack_must_be_proved(scene):
    scene.read_gap("1E", "0.025")
    scene.read_gap("1I", "0.025")
    scene.fit("L.stand1", "0.015", "0.010")
    stand = scene.stand("L.stand1")
    assert stand.status == Status.PROVE
    assert stand.pack_total == pytest.approx(0.025)
    assert all(not state.reads for state in stand.valves)


def test_a_proved_stand_is_done(scene):
    scene.fit("L.stand1", "0.015", "0.010")
    scene.read_gap("1E", "0.001")
    scene.read_gap("1I", "0.000")
    assert scene.stand("L.stand1").status == Status.DONE


def test_the_next_pack_counts_the_one_in_place(scene):
    scene.fit("L.stand1", "0.015")
    scene.read_gap("1E", "0.010")
    scene.read_gap("1I", "0.010")
    stand = scene.stand("L.stand1")
    assert stand.status == Status.OUT
    assert stand.choice.thickness == pytest.approx(0.025)


def test_a_tilted_pad_takes_a_thicker_pack(scene):
    scene.left.stands.filter(name="stand1").update(pad_tilt=Decimal(60) / 2)
    scene.read_gap("1E", "0.026")
    scene.read_gap("1I", "0.026")
    # t = 0.026 / cos 30° = 0.03002
    assert scene.stand("L.stand1").choice.ideal == pytest.approx(0.026 / 0.8660254, abs=1e-6)


def test_a_changed_cam_card_moves_every_verdict_and_says_why(scene):
    scene.read_gap("1E", "0.000")
    scene.read_gap("1I", "0.000")
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.4425"))  # net .704: the target comes down .002
    stand = scene.stand("L.stand1")
    assert stand.status == Status.LOOK
    assert stand.changed == ["1E: net lift was 0.7000 in when it was read, now 0.7040 in."]
    assert valve(scene, "1E").height_error == pytest.approx(0.002)


def test_a_stand_that_a_change_puts_out_is_out(scene):
    scene.read_gap("1E", "0.000")
    scene.read_gap("1I", "0.000")
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.460"))
    assert scene.stand("L.stand1").status == Status.SHIM
    assert scene.stand("L.stand1").changed


def test_reading_again_settles_a_change(scene):
    scene.read_gap("1E", "0.000")
    scene.read_gap("1I", "0.000")
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.4425"))
    scene.read_gap("1E", "0.000")
    assert scene.stand("L.stand1").status == Status.DONE


def test_a_gauge_measured_anew_asks_for_another_look(scene):
    scene.read_gap("1E", "0.000")
    scene.read_gap("1I", "0.000")
    HeightGauge.objects.update(step=Decimal("0.236"))
    assert (
        "1E: the gauge’s step was 0.2350 in when it was read, now 0.2360 in."
        in scene.stand("L.stand1").changed
    )


def test_another_arm_asks_for_another_look(scene):
    scene.read_gap("1E", "0.000")
    scene.read_gap("1I", "0.000")
    RockerSet.objects.update(tip_diameter=Decimal("0.472"))
    assert any("roller radius" in sentence for sentence in scene.stand("L.stand1").changed)


def test_without_rockers_or_lift_the_valve_says_what_is_missing(scene):
    CamCard.objects.all().delete()
    assert valve(scene, "1E").problem == "Enter the cam card, or measure the net lift of 1E."
    RockerSet.objects.all().delete()
    assert "Enter the rocker set first" in valve(scene, "1E").problem


def test_an_arm_too_short_for_its_lift_is_a_sentence(scene):
    RockerSet.objects.update(arm_length=Decimal("0.300"))
    assert valve(scene, "1E").status(fitted=False) == Status.WAIT
    assert "cannot reach" in valve(scene, "1E").problem


def test_the_top_of_the_shaft_may_be_read_directly(scene):
    record_height(gather([scene.left])[0], scene.person, scene.entry("1E", "0.211", "top_of_shaft"))
    assert valve(scene, "1E").height_error == pytest.approx(-0.024)


def test_the_underside_may_be_read_and_is_below_the_tip(scene):
    record_height(gather([scene.left])[0], scene.person, scene.entry("1E", "-0.489", "underside_of_shaft"))
    # top = −0.489 + 0.700 = 0.211
    assert valve(scene, "1E").height_error == pytest.approx(-0.024)


def test_millimetres_come_to_the_same(scene):
    scene.read_gap("1E", "0.6096", unit="mm")
    assert valve(scene, "1E").height_error == pytest.approx(-0.024, abs=1e-9)


def test_an_engine_that_has_left_keeps_what_it_was_judged_by(scene):
    """A gauge measured anew, another limit and another cam card say nothing about the past."""
    scene.read_gap("1E", "0.004")
    scene.read_gap("1I", "0.000")
    Build.objects.update(went_out_on=date(2026, 3, 1))
    HeightGauge.objects.update(step=Decimal("0.245"))
    Limit.objects.filter(key="stand_height").update(low=Decimal("-0.001"), high=Decimal("0.001"))
    CamCard.objects.update(exhaust_lobe_lift=Decimal("0.460"))
    assert valve(scene, "1E").height_error == pytest.approx(-0.004)
    assert scene.stand("L.stand1").status == Status.DONE
    assert any("gauge’s step was 0.2350" in sentence for sentence in scene.stand("L.stand1").changed)


def test_an_engine_that_has_left_keeps_the_rule_it_was_judged_by(scene):
    """The guard band turned on today says nothing about an engine that left under the plain rule."""
    scene.read_gap("1E", "0.0045")
    scene.read_gap("1I", "0.000")
    Build.objects.update(went_out_on=date(2026, 3, 1))
    Shop.objects.update_or_create(pk=Shop.get().pk, defaults={"guard_band": True})
    assert valve(scene, "1E").verdict == "in"


def test_a_stand_that_shims_cannot_mend_holds_nobody_up(scene):
    for address in ("1E", "1I"):
        scene.read_gap(address, "0", foot_feeler="0.020")
    for address in ("3E", "3I", "5E", "5I", "7E", "7I"):
        scene.read_gap(address, "0.020")
    state = scene.state()
    assert scene.stand("L.stand1").beyond_shims == "lower"
    assert state.next_stand.address == "L.stand2"


def test_a_build_is_ready_when_every_stand_of_every_head_is_in(scene):
    for address in [f"{cylinder}{kind}" for cylinder in range(1, 9) for kind in "IE"]:
        assert ready_builds([scene.build.pk]) == set()
        scene.read_gap(address, "0.001")
    assert ready_builds([scene.build.pk]) == {scene.build.pk}


def test_engines_are_worked_out_in_a_constant_number_of_queries(scene, second, django_assert_num_queries):
    scene.fit("L.stand1", "0.015")
    with django_assert_num_queries(14):
        ready_builds([scene.build.pk])
    others = [make_scene(second, job_number=f"26-1{number}").build.pk for number in range(3)]
    for address in ("1E", "1I", "3E"):
        scene.read_gap(address, "0.010")
    with django_assert_num_queries(14):
        ready_builds([scene.build.pk, *others])
