"""How well a height is known, what most of the doubt comes from, and the three verdicts at the bench."""

from decimal import Decimal
from math import hypot, inf
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import Instrument, Limit, Person, Shop, UsualUncertainty
from builds.recording import Entry
from tests.bench.recompute import full_engine, queries_of
from tests.scenes import Scene, make_scene
from valvetrain.acts import act_for
from valvetrain.budgets import HeightBudget
from valvetrain.gathering import gather
from valvetrain.logbook import record_height, record_lift
from valvetrain.models import Head, HeightGauge, RockerSet
from valvetrain.states import HeadState
from valvetrain.status import Status
from valvetrain.targets import head_state, ready_builds
from valvetrain.valvestate import ValveState

# What it takes to say of any number of jobs whether they are ready; regression only.
READINESS_QUERIES = 14
# The same, with everything that is worked out of it and all tools; regression only.
RECOMPUTE_QUERIES = 16


@pytest.fixture
def scene(builder: Person) -> Scene:
    return make_scene(builder)


def usual(**figures: str) -> None:
    """Set every usual uncertainty to nothing but these; each is U at k = 2."""
    UsualUncertainty.objects.update(uncertainty=0)
    for key, figure in figures.items():
        UsualUncertainty.objects.filter(key=key.replace("_", "-")).update(uncertainty=Decimal(figure))


def guard_band(on: bool = True, coverage: str = "2") -> None:
    Shop.get()
    Shop.objects.update(guard_band=on, guard_coverage=Decimal(coverage))


def state(scene: Scene, head: Head | None = None) -> HeadState:
    fresh = Head.objects.select_related("build__engine__customer").get(pk=(head or scene.left).pk)
    return head_state(gather([fresh], with_tools=True)[0])


def valve(scene: Scene, address: str = "1E") -> ValveState:
    return next(found for found in state(scene).valves if found.address == address)


def budget(scene: Scene, address: str = "1E") -> HeightBudget:
    found = valve(scene, address).budget
    assert found is not None
    return found


def lift(scene: Scene, address: str) -> None:
    """Measure a net lift as the bench does: by dial, no instrument named."""
    (records,) = gather([scene.head_of(address)])
    record_lift(records, scene.person, Entry(uuid4(), address, "net_lift", "0.700", "in"))


def by_depth(scene: Scene, address: str, text: str, way: str) -> None:
    """Read a height as the bench does: by depth micrometer, no instrument named."""
    (records,) = gather([scene.head_of(address)])
    record_height(records, scene.person, Entry(uuid4(), address, way, text, "in", sure=True))


def adds(scene: Scene) -> dict[str, float]:
    """What each input adds to u, by its key."""
    found = budget(scene)
    return {line.key: line.adds / found.budget.coverage for line in found.lines}


def test_every_input_adds_what_its_tool_says_times_its_sensitivity(scene):
    """Hand-worked: gap and step count once, lift by k = ½, each diameter by ½; the shaft's cancels or counts once."""
    usual(feeler="0.0008", height_gauge="0.0006", micrometer="0.0004", dial="0.002")
    lift(scene, "1E")
    scene.read_gap("1E", "0.024", foot_feeler="0.010")
    assert adds(scene) == pytest.approx(
        {
            "gap_0": 0.0004, "foot_0": 0.0004, "step_0": 0.0003, "net_lift": 0.0005, "tip_diameter": 0.0001,
            "shaft_diameter": 0.0001,
        },
        abs=1e-9,
    )  # fmt: skip
    together = hypot(0.0004, 0.0004, 0.0003, 0.0005, 0.0001, 0.0001)
    assert budget(scene).expanded == pytest.approx(2 * together, abs=1e-9)


def test_no_blade_under_the_foot_adds_nothing(scene):
    scene.read_gap("1E", "0.024")
    assert "foot_0" not in adds(scene)


def test_a_gap_of_nothing_has_a_budget_too(scene):
    usual(feeler="0.0008")
    scene.read_gap("1E", "0")
    assert adds(scene)["gap_0"] == pytest.approx(0.0004, abs=1e-9)


def test_a_dummy_shaft_counts_by_half_its_diameter_and_the_shaft_no_longer(scene):
    """Hand-worked: with a dummy, top now = g − m − ½·dummy + R and the target holds R as well: R falls out."""
    HeightGauge.objects.update(dummy_diameter=Decimal("0.69"))
    usual(micrometer="0.0004")
    scene.read_gap("1E", "0.024")
    found = adds(scene)
    assert found["dummy_0"] == pytest.approx(0.0001, abs=1e-9)
    assert found["shaft_diameter"] == pytest.approx(0.0, abs=1e-9)


def test_a_lift_from_the_cam_card_is_known_from_the_cards_figures(scene):
    """Hand-worked: ½·1.6·u(lobe), ½·.44·u(ratio), ½·u(lash)."""
    usual(card="0.001", ratio="0.01", feeler="0.0004")
    scene.read_gap("1E", "0.024")
    found = adds(scene)
    assert found["lobe_lift"] == pytest.approx(0.0004, abs=1e-9)
    assert found["ratio"] == pytest.approx(0.0011, abs=1e-9)
    assert found["lash"] == pytest.approx(0.0001, abs=1e-9)


def test_a_ratio_that_is_not_square_at_half_lift_counts_the_lift_by_its_own_part(scene):
    RockerSet.objects.update(square_at=Decimal("0.4"))
    usual(dial="0.002")
    lift(scene, "1E")
    scene.read_gap("1E", "0.024")
    assert adds(scene)["net_lift"] == pytest.approx(0.0004, abs=1e-9)


def test_the_underside_counts_a_whole_shaft(scene):
    """Hand-worked: the underside read + 2R against r + R − kS: R counts once, its diameter by ½."""
    usual(depth_micrometer="0.001", micrometer="0.0004")
    by_depth(scene, "1E", "-0.489", "underside_of_shaft")
    found = adds(scene)
    assert found["shaft_diameter"] == pytest.approx(0.0001, abs=1e-9)
    assert not [key for key in found if key.startswith(("gap", "step"))]


def test_repeats_bring_their_scatter_with_their_degrees_of_freedom(scene):
    usual()
    for gap in ("0.020", "0.022", "0.021"):
        scene.read_gap("1E", gap)
    assert adds(scene)["scatter"] == pytest.approx(0.001 / 3**0.5, abs=1e-9)
    assert budget(scene).budget.degrees_of_freedom == pytest.approx(2)


def test_one_reading_has_no_scatter_and_is_known_well(scene):
    scene.read_gap("1E", "0.024")
    assert "scatter" not in adds(scene)
    assert budget(scene).budget.degrees_of_freedom == inf


def test_two_ways_of_reading_count_by_their_part_of_the_mean(scene):
    usual(feeler="0.0008", depth_micrometer="0.0004")
    scene.read_gap("1E", "0.024")
    by_depth(scene, "1E", "0.211", "top_of_shaft")
    found = adds(scene)
    assert found["gap_0"] == pytest.approx(0.0002, abs=1e-9)
    assert found["reading_1"] == pytest.approx(0.0001, abs=1e-9)


def test_tools_without_any_uncertainty_leave_none(scene):
    usual()
    scene.read_gap("1E", "0.024")
    assert budget(scene).expanded == 0.0
    assert budget(scene).most is None
    assert budget(scene).offers == []


def test_the_gauge_and_the_blades_in_the_drawer_come_before_the_usual(scene):
    Instrument.objects.create(mark="FE-1", kind="feeler", uncertainty=Decimal("0.0002"))
    Instrument.objects.create(mark="FE-2", kind="feeler", uncertainty=Decimal("0.0003"))
    Instrument.objects.create(mark="FE-9", kind="feeler", uncertainty=Decimal("0.009"), in_use=False)
    scene.read_gap("1E", "0.024")
    gap = next(line for line in budget(scene).lines if line.key == "gap_0")
    assert gap.known is not None
    assert (gap.known.name, gap.uncertainty) == ("FE-2", pytest.approx(0.00015))


def test_what_most_comes_from_stands_first_and_the_shares_make_a_whole(scene):
    usual(feeler="0.0008", height_gauge="0.0006")
    lift(scene, "1E")
    scene.read_gap("1E", "0.024")
    lines = budget(scene).lines
    assert [line.key for line in lines[:2]] == ["gap_0", "step_0"]
    assert [line.share for line in lines[:2]] == pytest.approx([64.0, 36.0])
    assert sum(line.share for line in lines) == pytest.approx(100.0)
    assert lines[0].without == pytest.approx(0.0006)


def test_a_better_tool_is_said_with_what_it_buys(scene):
    usual(feeler="0.0012", height_gauge="0.0005", depth_micrometer="0.0005")
    Instrument.objects.create(mark="DM-1", kind="depth-micrometer")
    lift(scene, "1E")
    scene.read_gap("1E", "0.024")
    offers = {offer.act: offer.expanded for offer in budget(scene).offers}
    assert offers == {"Read from the tip to the top of the shaft with DM-1": pytest.approx(0.0005)}


def test_a_lift_from_the_card_is_offered_to_be_measured(scene):
    usual(ratio="0.01", dial="0.001")
    scene.read_gap("1E", "0.024")
    offer = budget(scene).offers[0]
    assert offer.act == "Measure the net lift with a dial indicator"
    assert offer.expanded == pytest.approx(0.0005, abs=1e-9)


def test_a_micrometer_is_offered_instead_of_a_scale(scene):
    usual(scale="0.010", micrometer="0.0002", dial="0.001")
    scale = Instrument.objects.create(mark="SC-1", kind="scale")
    scene.gauge.instrument.kind = "scale"
    scene.gauge.instrument.save()
    lift(scene, "1E")
    scene.read_gap("1E", "0.024")
    assert scale.unit_kind == "length"
    assert "Read the gauge’s step with a caliper instead of HG-1" in [
        offer.act for offer in budget(scene).offers
    ]


# ---- verdicts ------------------------------------------------------------------------------------------------------


def near_the_limit(scene: Scene) -> None:
    """U = 0.0010 and a stand whose 1E stands 0.0045 low, 1I right."""
    usual(feeler="0.001")
    for address in ("1E", "1I"):
        lift(scene, address)
    scene.read_gap("1E", "0.0045")
    scene.read_gap("1I", "0.001")


@pytest.mark.parametrize(
    ("gap", "off", "on"),
    [
        ("0.0039", "in", "in"),
        ("0.0041", "in", "undecided"),
        ("0.0059", "out", "undecided"),
        ("0.0061", "out", "out"),
    ],
)
def test_a_valve_is_judged_by_the_shops_rule(scene, gap, off, on):
    usual(feeler="0.001")
    lift(scene, "1E")
    scene.read_gap("1E", gap)
    assert valve(scene).verdict == off
    guard_band()
    assert valve(scene).verdict == on


def test_exactly_at_the_limit_is_in_without_the_rule_and_undecided_with_it(scene):
    near_the_limit(scene)
    scene.read_gap("3E", "0.005")
    assert valve(scene, "3E").verdict == "in"
    guard_band()
    assert valve(scene, "3E").verdict == "undecided"


def test_without_any_uncertainty_the_rule_changes_nothing(scene):
    usual()
    guard_band()
    scene.read_gap("1E", "0.005")
    assert valve(scene).verdict == "in"


def test_the_shops_k_widens_the_band(scene):
    near_the_limit(scene)
    scene.read_gap("3E", "0.0032")
    guard_band(coverage="4")
    lift(scene, "3E")
    assert valve(scene, "3E").verdict == "undecided"


def test_an_undecided_stand_is_not_done_and_is_drawn_to_be_looked_at(scene):
    near_the_limit(scene)
    guard_band()
    stand = state(scene).stands[0]
    assert stand.status == Status.UNDECIDED
    assert state(scene).on_plan["L.stand1"] == "is-look"
    assert not state(scene).done


def test_what_would_settle_it_is_said_and_the_pack_that_would(scene):
    near_the_limit(scene)
    guard_band()
    act = act_for(state(scene).stands[0])
    assert act.headline == "Undecided, too near the limit to call: 1E 0.0045 in low, ± 0.0010 in."
    assert act.lines[0] == "The doubt at 1E comes most from the gap over the shaft (feeler set): 100 %."
    assert act.lines[1].startswith(
        "Read from the tip to the top of the shaft with a depth micrometer: ± 0.0000 in."
    )
    assert act.lines[1].endswith("With the same height that settles it.")
    # Hand-worked: .005 less U = .001.
    assert act.lines[2].startswith("With these tools it is in once it stands within 0.004 in of right")
    assert act.lines[-1].startswith("Or make the pack .003: leaves")
    assert act.offers_pack


def test_a_limit_narrower_than_the_tools_says_so(scene):
    near_the_limit(scene)
    guard_band()
    Limit.objects.filter(key="stand_height").update(low=Decimal("-0.0009"), high=Decimal("0.0009"))
    scene.read_gap("1E", "0.0045", characteristic="stand_gap")
    scene.read_gap("3E", "0")
    found = valve(scene, "3E")
    assert (found.verdict, found.too_coarse) == ("undecided", True)


def test_a_job_with_an_undecided_stand_is_not_ready(scene):
    for address in [f"{cylinder}{kind}" for cylinder in range(1, 9) for kind in "IE"]:
        scene.read_gap(address, "0.0045")
    assert ready_builds([scene.build.pk]) == {scene.build.pk}
    usual(feeler="0.002")
    guard_band()
    assert ready_builds([scene.build.pk]) == set()


def test_a_budget_is_not_told_where_the_tools_were_not_read(scene):
    scene.read_gap("1E", "0.024")
    (records,) = gather([Head.objects.select_related("build__engine__customer").get(pk=scene.left.pk)])
    assert all(found.budget is None for found in head_state(records).valves)


# ---- on the page ---------------------------------------------------------------------------------------------------


def budget_url(scene: Scene, address: str = "1E") -> str:
    return reverse("height-budget", args=[scene.left.pk, valve(scene, address).valve.pk])


def test_the_bench_shows_how_well_the_height_is_known(scene, bench_client):
    usual(feeler="0.0012")
    lift(scene, "1E")
    scene.read_gap("1E", "0.0243")
    page = bench_client.get(reverse("bench-at", args=[scene.left.pk, "1E"])).text
    assert 'in low, <span class="whole">± 0.0012 in</span>' in page
    assert "most from the gap over the shaft (feeler set): 100 %" in page


def test_the_budget_comes_on_tap_and_as_a_page(scene, bench_client):
    scene.read_gap("1E", "0.024")
    whole = bench_client.get(budget_url(scene)).text
    part = bench_client.get(budget_url(scene), headers={"hx-request": "true"}).text
    assert "<!doctype html>" in whole
    assert "<!doctype html>" not in part
    assert (
        "Nominal rocker ratio" not in part
    )  # the input's own name stands there, with where it is known from
    assert "nominal rocker ratio: ± 0.010 (k 2), usual for its kind" in part


def test_a_reader_of_millimetres_sees_the_budget_in_millimetres(scene, bench_client, builder):
    Person.objects.filter(pk=builder.pk).update(length_unit="mm")
    scene.read_gap("1E", "0.024")
    assert "mm low, ± " in bench_client.get(budget_url(scene)).text


def test_a_valve_that_is_not_read_has_no_budget_and_says_so(scene, bench_client):
    assert "Nothing is read here yet" in bench_client.get(budget_url(scene)).text


def test_a_valve_of_another_head_is_a_404(scene, bench_client):
    other = state(scene, scene.right).valves[0].valve
    assert bench_client.get(reverse("height-budget", args=[scene.left.pk, other.pk])).status_code == 404


def test_nobody_sees_a_budget_without_a_log_in(scene):
    assert Client().get(budget_url(scene)).status_code == 302


def test_changing_the_rule_is_seen_at_the_next_reading(scene, bench_client):
    """What the bench keeps from save to save goes by the database's own token: a rule written past the ORM counts too."""
    near_the_limit(scene)
    page = reverse("bench-at", args=[scene.left.pk, "1E"])
    assert "Undecided" not in bench_client.get(page).text
    guard_band()
    assert "Undecided, too near the limit to call" in bench_client.get(page).text


@pytest.mark.parametrize("guarded", [False, True])
def test_four_engines_take_as_many_queries_as_one(scene, second, guarded, django_assert_num_queries):
    guard_band(guarded)
    wanted = READINESS_QUERIES + 2 * guarded  # the rule needs the tools and their usual uncertainties
    scene.fit("L.stand1", "0.015")
    scene.read_gap("3E", "0.010")
    with django_assert_num_queries(wanted):
        ready_builds([scene.build.pk])
    others = [make_scene(second, job_number=f"26-2{number}") for number in range(3)]
    for each in (scene, *others):
        each.read_gap("3E", "0.010")
    with django_assert_num_queries(wanted):
        ready_builds([scene.build.pk, *(each.build.pk for each in others)])


def test_all_of_four_engines_takes_as_many_queries_as_all_of_one(second):
    """Records, targets, verdicts, budgets and packs, as `tests.bench.recompute` times them; regression only."""
    engines = [full_engine(second, number) for number in range(1, 5)]
    for each in engines:
        each.fit("L.stand1", "0.015")
    guard_band()
    builds = [each.build.pk for each in engines]
    assert (queries_of(builds[:1]), queries_of(builds)) == (RECOMPUTE_QUERIES, RECOMPUTE_QUERIES)
