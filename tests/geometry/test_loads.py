import numpy as np
import pytest

from valvetrain.geometry import loads
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.loads import (
    STEEL,
    TITANIUM,
    Elastic,
    contact_pressure,
    exhaust_opening_load,
    inertia_load,
    linkage_reaction,
    pushrod_load,
    shaft_reaction,
    spring_load,
    tip_load,
)


def test_the_spring_gains_its_rate_for_each_inch():
    # Hand-worked: 200 + 500 x 0.6.
    assert spring_load(np.array([0.0, 0.6]), seat_load=200.0, spring_rate=500.0).tolist() == [200.0, 500.0]


def test_opening_adds_to_the_tip_and_the_nose_takes_off():
    # Hand-worked: 0.001 x 300,000 is 300.
    assert inertia_load(np.array([300_000.0, -300_000.0]), 0.001).tolist() == [300.0, -300.0]
    assert tip_load(0.1, seat_load=200.0, spring_rate=500.0, acceleration=300_000.0, mass=0.001) == 550.0
    assert tip_load(0.6, seat_load=200.0, spring_rate=500.0, acceleration=-600_000.0, mass=0.001) == -100.0


def test_at_rest_the_tip_carries_the_spring():
    assert tip_load(0.6, seat_load=200.0, spring_rate=500.0) == 500.0


def test_parallel_forces_follow_the_trades_rule():
    # Trade fact: load at the tip x (1 + ratio).
    assert shaft_reaction(400.0, 1.5).total == pytest.approx(1000.0)
    assert shaft_reaction(400.0, 1.5).along == pytest.approx(1000.0)


def test_a_leaning_pushrod_by_hand():
    # Hand-worked: 3-4-5: 400 x 1.5 up along the lifter is 750 in the pushrod and 450 across.
    reaction = shaft_reaction(400.0, 1.5, pushrod_direction=(0.6, 0.8, 0.0))
    assert reaction.pushrod_load == pytest.approx(750.0)
    assert (reaction.across, reaction.along) == (pytest.approx(450.0), pytest.approx(1000.0))
    assert reaction.total == pytest.approx(np.hypot(450.0, 1000.0))


def test_a_pushrod_that_leans_along_the_shaft_pushes_endways():
    reaction = shaft_reaction(400.0, 1.5, pushrod_direction=(0.0, 0.8, -0.6))
    assert (reaction.across, reaction.endways) == (0.0, pytest.approx(-450.0))


def test_both_leaning_together_lose_nothing():
    way = (0.6, 0.8, 0.0)
    reaction = shaft_reaction(400.0, 1.5, pushrod_direction=way, lifter_direction=way)
    assert reaction.pushrod_load == pytest.approx(600.0)
    assert reaction.total < 1000.0


def test_the_pushrods_load_with_its_angle():
    # Hand-worked: cos 60 is a half.
    assert pushrod_load(300.0, 1.6, pushrod_angle=60.0) == pytest.approx(960.0)
    assert pushrod_load(300.0, 1.6) == pytest.approx(480.0)


def test_many_reactions_at_once():
    reaction = shaft_reaction(
        np.array([400.0, 0.0]), 1.5, pushrod_direction=[[0.0, 1.0, 0.0], [0.1, 1.0, 0.0]]
    )
    assert reaction.total.tolist() == pytest.approx([1000.0, 0.0])


def test_a_linkage_brings_its_own_ratio_and_lean():
    linkage = PushrodLinkage(
        RockerArm(1.5, 0.25, 0.35),
        shaft_height=-0.05,
        shaft_offset=1.48,
        cup_radius=1.0,
        cup_angle=180.0,
        lifter_point=(-2.48, -8.5, 0.0),
        pushrod_length=8.25,
    )
    # Hand-worked: at 0.2 everything stands true, 1.5 to 1.
    assert linkage_reaction(linkage, 0.2, tip_load=400.0).total == pytest.approx(1000.0)
    assert linkage_reaction(linkage, np.array([0.1, 0.2, 0.3]), tip_load=400.0).total.shape == (3,)


@pytest.mark.parametrize("direction", [(0.0, -1.0, 0.0), (1.0, 0.0, 0.0)])
def test_a_pushrod_that_pushes_the_wrong_way_is_refused(direction):
    with pytest.raises(GeometryError, match="the way the lifter rises"):
        shaft_reaction(400.0, 1.5, pushrod_direction=direction)


@pytest.mark.parametrize("direction", [(0.0, 1.0), (0.0, 0.0, 0.0), 1.0])
def test_a_direction_is_three_numbers(direction):
    with pytest.raises(GeometryError, match="give x, y and z"):
        shaft_reaction(400.0, 1.5, pushrod_direction=direction)


def test_pressure_grows_with_the_root_of_the_load():
    one, four = (contact_pressure(load, roller_radius=0.25, contact_width=0.5) for load in (500.0, 2000.0))
    assert four.pressure == pytest.approx(2.0 * one.pressure)
    assert four.half_width == pytest.approx(2.0 * one.half_width)


def test_a_titanium_tip_takes_less_pressure_from_the_same_roller():
    steel = contact_pressure(1000.0, roller_radius=0.25, contact_width=0.5)
    titanium = contact_pressure(1000.0, roller_radius=0.25, contact_width=0.5, tip=TITANIUM)
    assert titanium.pressure < steel.pressure
    assert titanium.half_width > steel.half_width


def test_no_load_has_no_pressure():
    none = contact_pressure(0.0, roller_radius=0.25, contact_width=0.5)
    assert (none.pressure, none.half_width, none.mean_pressure) == (0.0, 0.0, 0.0)


def test_the_defaults_are_steel():
    assert contact_pressure(1000.0, roller_radius=0.25, contact_width=0.5) == contact_pressure(
        1000.0, roller_radius=0.25, contact_width=0.5, roller=STEEL, tip=Elastic(30.0e6, 0.292)
    )


def test_the_exhaust_opens_against_the_cylinder():
    # Hand-worked: a head of 2 in has pi square inches.
    assert exhaust_opening_load(seat_load=250.0, cylinder_pressure=100.0, head_diameter=2.0) == pytest.approx(
        250.0 + 100.0 * np.pi
    )
    assert exhaust_opening_load(seat_load=250.0, cylinder_pressure=0.0, head_diameter=2.0) == 250.0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: spring_load(0.6, seat_load=-1.0, spring_rate=500.0), "seat load is -1 lbf"),
        (lambda: contact_pressure(-1.0, roller_radius=0.25, contact_width=0.5), "load at the tip is -1 lbf"),
        (lambda: contact_pressure(1.0, roller_radius=0.0, contact_width=0.5), "roller radius is 0 in"),
        (lambda: Elastic(0.0, 0.3), "modulus of elasticity is 0 psi"),
        (lambda: Elastic(30e6, 0.6), r"Poisson's ratio is 0\.6"),
        (lambda: pushrod_load(1.0, 1.5, pushrod_angle=90.0), "below 90 degrees"),
        (
            lambda: exhaust_opening_load(seat_load=1.0, cylinder_pressure=-1.0, head_diameter=1.6),
            "cylinder pressure is -1 psi",
        ),
    ],
)
def test_what_cannot_be_is_refused(call, says):
    with pytest.raises(GeometryError, match=says):
        call()


@pytest.mark.parametrize(
    "name",
    [
        "tip_load",
        "pushrod_load",
        "shaft_reaction",
        "linkage_reaction",
        "contact_pressure",
        "exhaust_opening_load",
    ],
)
def test_it_says_that_it_certifies_nothing(name):
    words = " ".join(getattr(loads, name).__doc__.split()).lower()
    assert "worksheet, it certifies no part" in words
