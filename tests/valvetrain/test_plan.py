"""The plan drawing: parts to scale, and balloons that never overlap."""

import random
from itertools import combinations, pairwise

import pytest
from django.template.loader import render_to_string

from valvetrain.models import Head
from valvetrain.plan import BETWEEN, MARGIN, TARGET, Plan, lay_out, plan_for, spread
from valvetrain.planshapes import StandPlace, ValvePlace

ROUNDING = 0.25  # drawing units; places are rounded to a tenth


def crowded(plan: Plan) -> list[str]:
    """Pairs of balloons that come too close, or lie outside the drawing."""
    wrong = [
        f"{one.address} and {other.address}"
        for one, other in combinations(plan.targets, 2)
        if one.box.overlaps(other.box, BETWEEN - ROUNDING)
    ]
    return wrong + [
        f"{target.address} outside"
        for target in plan.targets
        if target.box.x < 0
        or target.box.x + target.box.w > plan.width
        or target.box.y + target.box.h > plan.height
    ]


def random_head(seed: int) -> Plan:
    """Up to 24 valves thrown anywhere along a head, on up to 12 stands."""
    chance = random.Random(seed)
    stands = [
        StandPlace(
            key=number,
            address=f"L.{'a-long-stand-name' if chance.random() < 0.2 else 'stand'}{number}",
            label="",
            bolt_diameter=0.375,
            pads=tuple(
                (letter, chance.uniform(-2, 30), chance.uniform(-1, 3))
                for letter in "ABCDE"[: chance.randint(0, 5)]
            ),
        )
        for number in range(chance.randint(1, 12))
    ]
    valves = [
        ValvePlace(
            chance.choice(stands).key, f"{n}E", "", n, chance.uniform(0, 20), chance.uniform(0, 3), 0.342
        )
        for n in range(chance.randint(0, 24))
    ]
    return lay_out(stands, valves)


def layout(name: str) -> Head:
    return Head.objects.prefetch_related("valves", "stands__pads").get(layout_name=name)


@pytest.mark.django_db
def test_no_balloon_of_a_layout_comes_close_to_another():
    for head in Head.objects.filter(build=None):
        assert crowded(plan_for(head)) == []


@pytest.mark.parametrize("seed", range(200))
def test_no_balloon_of_any_head_comes_close_to_another(seed: int):
    assert crowded(random_head(seed)) == []


def test_every_balloon_is_large_enough_for_a_glove():
    plan = random_head(3)

    assert min(min(target.box.w, target.box.h) for target in plan.targets) >= TARGET


def test_a_long_head_gets_a_wider_drawing():
    valves = [ValvePlace(1, f"{n}I", "", n, float(n), 1.5, 0.342) for n in range(24)]

    plan = lay_out([StandPlace(1, "shaft", "", 0.375, (("A", 0.0, 0.0), ("B", 23.0, 0.0)))], valves)

    assert plan.width == pytest.approx(24 * TARGET + 23 * BETWEEN + 2 * MARGIN)
    assert plan.pixels == str(round(plan.width * 0.78))


def test_a_head_without_parts_is_drawn_blank():
    plan = lay_out([], [])

    assert (plan.targets, plan.stands, plan.valves, plan.width) == ((), (), (), 1000)


@pytest.mark.django_db
def test_valve_places_are_to_scale():
    head = layout("V8 head, paired stands")
    plan = plan_for(head)
    first, second = list(head.valves.all())[:2]

    drawn = plan.valves[1].centre.x - plan.valves[0].centre.x

    assert drawn / plan.scale == pytest.approx(float(second.along - first.along), abs=0.01)


@pytest.mark.django_db
def test_a_rocker_runs_square_from_its_own_shaft_to_its_valve():
    plan = plan_for(layout("V8 head, canted valves"))
    bar = next(stand for stand in plan.stands if stand.address == "intake")
    valve = next(valve for valve in plan.valves if valve.address == "2I")

    assert valve.rocker[0] == (valve.centre.x, bar.shaft[0].y)


@pytest.mark.django_db
def test_it_asks_the_database_three_times_for_a_head(django_assert_num_queries):
    head = Head.objects.get(layout_name="V8 head, canted valves")

    with django_assert_num_queries(4):
        plan_for(Head.objects.prefetch_related("valves", "stands__pads").get(pk=head.pk))


def test_spreading_leaves_boxes_that_are_apart_where_they_are():
    assert spread([100, 300, 500], [76, 76, 76], low=0, high=1000) == [100, 300, 500]


def test_spreading_moves_two_boxes_on_one_place_equally():
    first, second = spread([500, 500], [76, 76], low=0, high=1000)

    assert (first + second) / 2 == 500
    assert second - first == 76 + BETWEEN


def test_spreading_keeps_boxes_inside_and_in_order():
    centres = spread([-50, -50, 990], [76, 100, 76], low=0, high=300)

    assert centres[0] - 38 >= 0
    assert centres[-1] + 38 <= 300
    assert all(a < b for a, b in pairwise(centres))


@pytest.mark.django_db
def test_a_balloon_tells_its_state_in_a_word_and_links_to_its_place():
    plan = plan_for(layout("In-line four, one shaft"))

    page = render_to_string(
        "valvetrain/_plan.html",
        {"plan": plan, "states": {"2E": "is-out"}, "links": "/here/", "hx_target": "#place", "current": "2E"},
    )

    assert 'aria-label="2E, cylinder 2, exhaust: out"' in page
    assert 'class="plan-valve is-out" href="/here/2E" hx-get="/here/2E" hx-target="#place"' in page
    assert 'aria-current="true"' in page


@pytest.mark.django_db
def test_the_drawing_needs_no_inline_style_and_no_links_where_none_are_given():
    page = render_to_string("valvetrain/_plan.html", {"plan": plan_for(layout("In-line four, one shaft"))})

    assert "style=" not in page
    assert "<a" not in page
    assert 'role="img"' in page
