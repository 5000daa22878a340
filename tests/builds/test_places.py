"""The engine as a drawing to tap on: every cylinder and main once, large enough and apart, whatever the engine."""

from itertools import combinations

import pytest

from builds.engine_plan import WIDTH, Spot, engine_plan
from builds.models import Engine

# At this width on the tablet [px] the drawing is narrowest; a finger needs 56 px, and 8 px between.
NARROWEST = 740
TOUCH, APART = 56 * WIDTH / NARROWEST, 8 * WIDTH / NARROWEST


def apart(one: Spot, other: Spot) -> float:
    """How far two boxes are from one another, across or down."""
    across = max(one.x, other.x) - min(one.x + one.w, other.x + other.w)
    down = max(one.y, other.y) - min(one.y + one.h, other.y + other.h)
    return max(across, down)


@pytest.mark.parametrize(("cylinders", "mains"), [(1, 1), (4, 5), (8, 5), (12, 7), (24, 13)])
def test_every_place_of_an_engine_is_large_enough_apart_and_on_the_drawing(
    cylinders: int, mains: int
) -> None:
    plan = engine_plan(Engine(cylinders=cylinders, mains=mains))
    spots = [*plan.bores, *plan.mains, plan.whole]
    assert [spot.address for spot in spots] == [
        *(f"cyl{number}" for number in range(1, cylinders + 1)),
        *(f"main{number}" for number in range(1, mains + 1)),
        "engine",
    ]
    assert min(min(spot.w, spot.h) for spot in spots) >= TOUCH
    assert all(apart(one, other) >= APART for one, other in combinations(spots, 2))
    assert all(
        spot.x >= 0 and spot.x + spot.w <= plan.width and spot.y + spot.h <= plan.height for spot in spots
    )


def test_cylinders_stand_in_the_order_of_their_numbers() -> None:
    row = engine_plan(Engine(cylinders=8, mains=5)).bores
    assert [spot.x for spot in row] == sorted(spot.x for spot in row)
    assert len({spot.y for spot in row}) == 1
