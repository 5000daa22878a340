"""Companions, lash by overlap, and growth against what others print."""

import pytest

from valvetrain.geometry.firing import companions, parse_firing_order
from valvetrain.geometry.lash import EXPANSION, growth, overlap_order

# The order is published in a public repair text; the pairs are hand-worked, half the order apart.
EIGHT, EIGHT_PAIRS = "1-8-4-3-6-5-7-2", ((1, 6), (8, 5), (4, 7), (3, 2))
# Published: TM 5-6115-400-12; the first pair is the manual's own.
SIX, SIX_PAIRS = "1-5-3-6-2-4", ((1, 6), (5, 2), (3, 4))


@pytest.mark.parametrize(("order", "pairs"), [(EIGHT, EIGHT_PAIRS), (SIX, SIX_PAIRS)])
def test_the_companions(order, pairs):
    assert companions(parse_firing_order(order)) == pairs


def test_the_manuals_first_adjustment():
    # Published, as above: with no. 6 exhaust nearly closed and intake starting to open, adjust no. 1.
    first = overlap_order(parse_firing_order(SIX))[0]
    assert (first.cylinder, first.sets_on, first.sets) == (6, 1, "both")


# Published: Callister, Materials Science and Engineering, table B.6, in millionths per degree C:
# 4340 steel, grey iron, aluminium 356.0, aluminium 6061, Ti-6Al-4V.
CALLISTER = {
    "steel": 12.3,
    "grey iron": 11.4,
    "cast aluminium": 21.5,
    "wrought aluminium": 23.6,
    "titanium": 8.6,
}


def test_the_coefficients_are_callisters():
    assert {name: each * 1e6 for name, each in EXPANSION.items()} == pytest.approx(CALLISTER)


def test_the_bridge_in_a_physics_textbook():
    # Published: OpenStax College Physics, section 13.2: 1275 m of steel at 12e-6, 55 degrees: 0.84 m. The
    # answer is scaled to the coefficient that is used here.
    assert growth(1275.0, "steel", warmer_by=55.0) * 12.0 / 12.3 == pytest.approx(0.84, abs=0.005)
