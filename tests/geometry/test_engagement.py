import numpy as np
import pytest

from valvetrain.geometry.engagement import (
    bolt_reach,
    engagement_verdict,
    required_engagement,
    thread_engagement,
)
from valvetrain.geometry.errors import GeometryError

# Hand-worked: a 2.000 bolt through a 0.100 washer and a 1.250 stand leaves 0.650.
STAND = {"bolt_length": 2.0, "washer": 0.1, "stand_thickness": 1.25}


def test_the_pack_takes_its_thickness_from_the_thread():
    assert thread_engagement(**STAND, pack=0.0, tapped_depth=1.0) == pytest.approx(0.65)
    assert thread_engagement(**STAND, pack=0.15, tapped_depth=1.0) == pytest.approx(0.50)


@pytest.mark.parametrize(("depth", "thread"), [(0.64, 0.64), (0.65, 0.65), (0.66, 0.65)])
def test_there_is_no_more_thread_than_is_tapped(depth, thread):
    assert thread_engagement(**STAND, pack=0.0, tapped_depth=depth) == pytest.approx(thread)


@pytest.mark.parametrize(("pack", "thread"), [(0.64, 0.01), (0.65, 0.0), (0.66, 0.0)])
def test_a_bolt_that_does_not_reach_has_no_thread(pack, thread):
    assert thread_engagement(**STAND, pack=pack, tapped_depth=1.0) == pytest.approx(thread, abs=1e-12)


def test_the_reach_tells_how_far_short_the_bolt_is():
    assert bolt_reach(**STAND, pack=0.70) == pytest.approx(-0.05)


@pytest.mark.parametrize(("material", "required"), [("iron", 0.375), ("steel", 0.375), ("aluminium", 0.5625)])
def test_what_is_asked_by_material(material, required):
    # Common practice, no source: 1.0 diameter in iron and steel, 1.5 in aluminium.
    assert required_engagement(0.375, material) == pytest.approx(required)


def test_a_shop_may_ask_for_more():
    assert required_engagement(0.375, "iron", multiples={"iron": 2.0}) == pytest.approx(0.75)


def test_an_unknown_material_is_refused_with_the_known_ones():
    with pytest.raises(GeometryError, match=r"'cheese'.*aluminium, iron, steel"):
        required_engagement(0.375, "cheese")


@pytest.mark.parametrize(("pack", "enough"), [(0.0874, True), (0.0875, True), (0.0876, False)])
def test_the_verdict_on_either_side_of_what_is_asked(pack, enough):
    # 0.650 less 0.0875 is 0.5625, just what aluminium asks of a 3/8 bolt.
    verdict = engagement_verdict(
        **STAND, pack=pack, tapped_depth=1.0, bolt_diameter=0.375, material="aluminium"
    )
    assert verdict.enough is enough
    assert verdict.margin == pytest.approx(0.0875 - pack, abs=1e-12)


def test_a_bolt_past_the_tapped_depth_is_told():
    verdict = engagement_verdict(**STAND, pack=0.0, tapped_depth=0.6, bolt_diameter=0.375, material="iron")
    assert verdict.enough
    assert verdict.past_thread == pytest.approx(0.05)


def test_many_bolts_at_once():
    verdict = engagement_verdict(
        **STAND, pack=np.array([0.0, 0.2]), tapped_depth=1.0, bolt_diameter=0.375, material="aluminium"
    )
    assert verdict.enough.tolist() == [True, False]


@pytest.mark.parametrize("name", ["washer", "pack", "bolt_length", "stand_thickness"])
def test_a_length_below_zero_is_refused(name):
    with pytest.raises(GeometryError, match=r"-0\.1 in"):
        thread_engagement(**{**STAND, "pack": 0.0, name: -0.1}, tapped_depth=1.0)
