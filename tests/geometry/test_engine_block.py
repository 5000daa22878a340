import math

import numpy as np
import pytest

from valvetrain.geometry.engine_block import (
    bearing_bore_from_shells,
    bearing_clearance,
    clearance_volume,
    compression_ratio,
    displacement,
    mean_piston_speed,
    piston_clearance,
    quench_height,
)
from valvetrain.geometry.errors import GeometryError

# Hand-worked: a bore whose area is one square inch, so that volumes are heights. 16.387064 cc to the inch.
BORE = 2.0 / math.sqrt(math.pi)
CC = 16.387064
ABOVE = {
    "bore": BORE,
    "chamber_volume": 0.20 * CC,
    "gasket_bore": BORE,
    "gasket_thickness": 0.04,
    "deck_clearance": 0.01,
}


def test_displacement_of_one_and_of_all():
    assert displacement(BORE, 3.5) == pytest.approx(3.5)
    assert displacement(BORE, 3.5, cylinders=8) == pytest.approx(28.0)
    assert displacement(np.array([BORE, 2 * BORE]), 1.0).tolist() == pytest.approx([1.0, 4.0])


@pytest.mark.parametrize("cylinders", [0, -1, 1.5, True])
def test_an_engine_has_whole_cylinders(cylinders):
    with pytest.raises(GeometryError, match="cylinders is"):
        displacement(4.0, 3.5, cylinders=cylinders)


def test_what_is_above_the_piston_adds_up():
    assert clearance_volume(**ABOVE) == pytest.approx(0.25)


def test_a_dome_takes_and_a_dish_gives():
    assert clearance_volume(**ABOVE, crown_volume=0.05 * CC) == pytest.approx(0.20)
    assert clearance_volume(**ABOVE, crown_volume=-0.05 * CC) == pytest.approx(0.30)


def test_a_piston_that_stands_proud_takes_room():
    assert clearance_volume(**{**ABOVE, "deck_clearance": -0.01}) == pytest.approx(0.23)


def test_a_wider_gasket_gives_room():
    assert clearance_volume(**{**ABOVE, "gasket_bore": BORE * 1.5}) == pytest.approx(0.25 + 0.04 * 1.25)


def test_compression_ratio():
    # (2.5 + 0.25) / 0.25
    assert compression_ratio(stroke=2.5, **ABOVE) == pytest.approx(11.0)


@pytest.mark.parametrize("dome", [0.25, 0.3])
def test_a_dome_that_fills_everything_is_refused(dome):
    with pytest.raises(GeometryError, match="no room above the piston"):
        compression_ratio(stroke=2.5, **ABOVE, crown_volume=dome * CC * (1 + 1e-12))


def test_the_refusal_names_the_number_at_fault():
    with pytest.raises(GeometryError, match="gasket bore is 0 in") as caught:
        clearance_volume(**{**ABOVE, "gasket_bore": 0.0})
    assert caught.value.where == "gasket_bore"


def test_quench_is_gasket_and_deck():
    assert quench_height(0.040, 0.005) == pytest.approx(0.045)
    assert quench_height(0.040, -0.045) == pytest.approx(-0.005)


def test_clearances_are_on_the_diameter_and_may_be_none():
    assert piston_clearance(4.0, 3.9955) == pytest.approx(0.0045)
    assert piston_clearance(4.0, 4.001) == pytest.approx(-0.001)
    assert bearing_clearance(2.1, 2.0975) == pytest.approx(0.0025)
    assert bearing_clearance(2.1, 2.1) == 0.0


def test_a_bearing_bore_is_its_housing_less_two_shells():
    assert bearing_bore_from_shells(2.25, 0.075) == pytest.approx(2.1)


def test_shells_that_fill_the_housing_are_refused():
    with pytest.raises(GeometryError, match="whole housing"):
        bearing_bore_from_shells(2.0, 1.0)


def test_mean_piston_speed():
    # Hand-worked: 3 in up and 3 in down, 6000 times a minute: 36000 in, 3000 ft.
    assert mean_piston_speed(3.0, 6000.0) == pytest.approx(3000.0)
