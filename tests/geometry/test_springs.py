import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.spring_wire import (
    deflection_per_coil,
    load_for_stress,
    rate_from_wire,
    solid_height,
    spring_weight,
    surge_frequency,
)
from valvetrain.geometry.springs import (
    Spring,
    coil_bind_margin,
    height_for_load,
    load_at,
    nest,
    open_height,
    spring_rate,
    spring_shim,
)

# Hand-worked: 600 lbf/in gives 360 more for 0.6 of lift.
HEIGHTS = {"installed_height": 2.0, "open_height": 1.4}
KNOWN = {"spring_rate": 600.0, "seat_load": 200.0, "installed_height": 2.0}


def test_rate_from_two_loads():
    assert spring_rate(seat_load=200.0, open_load=560.0, **HEIGHTS) == pytest.approx(600.0)


def test_rates_of_a_whole_set():
    rates = spring_rate(seat_load=np.array([200.0, 205.0]), open_load=560.0, **HEIGHTS)
    assert rates.tolist() == pytest.approx([600.0, 591.6666667])


@pytest.mark.parametrize("height", [2.0, 2.1])
def test_an_open_height_that_is_not_less_is_refused(height):
    with pytest.raises(GeometryError, match="open height is not less"):
        spring_rate(seat_load=200.0, open_load=560.0, installed_height=2.0, open_height=height)


@pytest.mark.parametrize("load", [200.0, 150.0])
def test_an_open_load_that_is_not_more_is_refused(load):
    with pytest.raises(GeometryError, match="open load is not more"):
        spring_rate(seat_load=200.0, open_load=load, **HEIGHTS)


def test_open_height_is_installed_less_lift():
    assert open_height(2.0, 0.6) == pytest.approx(1.4)


@pytest.mark.parametrize("lift", [2.0, 2.5])
def test_a_lift_of_the_whole_spring_is_refused(lift):
    with pytest.raises(GeometryError, match="whole spring"):
        open_height(2.0, lift)


def test_a_spring_that_binds_has_a_negative_margin():
    assert coil_bind_margin(1.4, 1.34) == pytest.approx(0.06)
    assert coil_bind_margin(1.4, 1.4) == 0.0
    assert coil_bind_margin(1.4, 1.41) == pytest.approx(-0.01)


def test_a_spring_that_stands_tall_takes_a_shim():
    assert spring_shim(2.03, 2.0) == pytest.approx(0.03)
    assert spring_shim(1.99, 2.0) == pytest.approx(-0.01)


def test_load_at_heights_through_the_lift():
    loads = load_at(np.array([2.0, 1.7, 1.4]), **KNOWN)
    assert loads.tolist() == pytest.approx([200.0, 380.0, 560.0])


def test_a_loose_spring_pushes_nothing():
    # Free height: 200 / 600 above installed.
    assert load_at(2.0 + 1 / 3, **KNOWN) == pytest.approx(0.0, abs=1e-12)
    assert load_at(3.0, **KNOWN) == 0.0


@pytest.mark.parametrize("load", [0.0, 200.0, 560.0])
def test_height_for_a_load_gives_the_load_back(load):
    assert load_at(height_for_load(load, **KNOWN), **KNOWN) == pytest.approx(load, abs=1e-12)


def test_a_load_out_of_reach_is_refused():
    with pytest.raises(GeometryError, match="cannot give that load"):
        height_for_load(1400.0, **KNOWN)


OUTER = Spring(spring_rate=400.0, seat_load=140.0, installed_height=2.0, solid_height=1.3)
INNER = Spring(spring_rate=200.0, seat_load=60.0, installed_height=1.9, solid_height=1.22)


def test_springs_in_springs_add_up():
    both = nest([OUTER, INNER], 0.6)
    assert (both.spring_rate, both.seat_load, both.open_load) == pytest.approx((600.0, 200.0, 560.0))


def test_the_spring_with_least_room_binds_first():
    # Outer: 2.0 - 0.6 - 1.3. Inner: 1.9 - 0.6 - 1.22.
    both = nest([OUTER, INNER], 0.6)
    assert (both.margin, both.binds_first) == (pytest.approx(0.08), 1)
    assert nest([OUTER], 0.75).margin == pytest.approx(-0.05)


def test_a_set_of_nothing_is_refused():
    with pytest.raises(GeometryError, match="no spring"):
        nest([], 0.6)


def test_a_spring_that_is_solid_as_installed_is_refused():
    with pytest.raises(GeometryError, match="solid at 2 in"):
        Spring(spring_rate=400.0, seat_load=140.0, installed_height=2.0, solid_height=2.0)


def test_ends_that_are_not_ground_take_a_wire_more():
    assert solid_height(0.2, 6.0) == pytest.approx(1.2)
    assert solid_height(0.2, 6.0, ground=False) == pytest.approx(1.4)


WIRE = {"wire_diameter": 0.2, "coil_diameter": 1.2}


def test_rate_and_stress_agree_about_one_spring():
    # Independent method: load over deflection at any stress is the rate.
    load = load_for_stress(80_000.0, **WIRE)
    deflection = 5.0 * deflection_per_coil(80_000.0, shear_modulus=11.2e6, **WIRE)
    assert load / deflection == pytest.approx(rate_from_wire(shear_modulus=11.2e6, active_coils=5.0, **WIRE))


def test_the_weight_is_that_of_the_wire():
    # Independent method: length of five turns times the wire's section times the density.
    section, length = np.pi * 0.1**2, 5.0 * np.pi * 1.2
    assert spring_weight(active_coils=5.0, density=0.284, **WIRE) == pytest.approx(section * length * 0.284)


def test_a_coil_no_wider_than_its_wire_is_refused():
    with pytest.raises(GeometryError, match="no wider than its wire"):
        load_for_stress(80_000.0, wire_diameter=0.2, coil_diameter=0.2)


@pytest.mark.parametrize("name", ["shear_modulus", "active_coils"])
def test_nothing_of_the_wire_may_be_zero(name):
    with pytest.raises(GeometryError, match="above zero"):
        rate_from_wire(**{"shear_modulus": 11.2e6, "active_coils": 5.0, **WIRE, name: 0.0})


def test_a_stiffer_or_lighter_spring_rings_higher():
    assert surge_frequency(400.0, 0.2) == pytest.approx(2 * surge_frequency(100.0, 0.2))
    assert surge_frequency(100.0, 0.05) == pytest.approx(2 * surge_frequency(100.0, 0.2))
