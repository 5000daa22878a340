from dataclasses import replace

import numpy as np
import pytest

from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.lobe import card_lobe
from valvetrain.geometry.motion import (
    ValveMotion,
    equivalent_mass,
    mass_from_grams,
    mass_from_pounds,
    speed_limit,
    spring_margin,
    valve_motion,
)

LOBE = card_lobe([(0.020, 280.0), (0.050, 248.0), (0.200, 160.0)], max_lift=0.420, nose_at=108.0)
LINKAGE = PushrodLinkage(
    RockerArm(1.5, 0.25, 0.35),
    shaft_height=-0.075,
    shaft_offset=1.48,
    cup_radius=0.95,
    cup_angle=186.0,
    lifter_point=(-2.6, -8.4, 0.25),
    lifter_direction=(0.12, 1.0, -0.05),
    lash=0.016,
)
ANGLES = np.arange(-90.0, 300.0, 0.5)
SPRING = {"seat_load": 200.0, "spring_rate": 500.0}


def _at(rpm, drive=1.6, **more):
    return valve_motion(LOBE, ANGLES, rpm=rpm, drive=drive, **more)


def test_a_constant_ratio_multiplies_and_lash_comes_off():
    # Hand-worked: 0.420 x 1.6 - 0.020.
    motion = valve_motion(LOBE, 108.0, rpm=7000.0, drive=1.6, lash=0.020)
    assert motion.lift.tolist() == pytest.approx([0.652])
    assert motion.velocity.tolist() == pytest.approx([0.0], abs=1e-6)
    assert motion.acceleration[0] < 0.0


def test_velocity_goes_with_speed_and_acceleration_with_its_square():
    slow, fast = _at(3000.0), _at(6000.0)
    assert fast.velocity.tolist() == pytest.approx((2 * slow.velocity).tolist())
    assert fast.acceleration.tolist() == pytest.approx((4 * slow.acceleration).tolist())
    assert fast.lift.tolist() == slow.lift.tolist()


def test_on_its_seat_the_valve_stands_still():
    motion = _at(7000.0, lash=0.030)
    seated = motion.lift == 0.0
    assert 0 < seated.sum() < seated.size
    assert not motion.velocity[seated].any()
    assert not motion.acceleration[seated].any()


def test_a_linkage_gives_its_own_lift():
    assert _at(7000.0, LINKAGE).lift.tolist() == pytest.approx(LINKAGE.valve_lift(LOBE.lift(ANGLES)).tolist())


@pytest.mark.parametrize("drive", [1.6, LINKAGE], ids=["ratio", "linkage"])
def test_velocity_and_acceleration_are_the_slopes_in_time(drive):
    # Independent method: difference quotients over half a thousandth of a degree, away from the seat.
    rpm, step = 6000.0, 5e-4
    angles = np.linspace(-20.0, 230.0, 37) + 0.123
    seconds = step / (6.0 * rpm)
    before, now, after = (
        valve_motion(LOBE, angles + shift, rpm=rpm, drive=drive) for shift in (-step, 0.0, step)
    )
    slope = (after.lift - before.lift) / (2 * seconds)
    bend = (after.velocity - before.velocity) / (2 * seconds)
    assert now.velocity.tolist() == pytest.approx(slope.tolist(), rel=1e-6, abs=1e-3)
    assert now.acceleration.tolist() == pytest.approx(bend.tolist(), rel=1e-5, abs=2.0)


def test_a_lash_beside_a_linkage_is_refused():
    with pytest.raises(GeometryError, match="the linkage has its own"):
        _at(6000.0, LINKAGE, lash=0.016)


@pytest.mark.parametrize(
    ("rpm", "drive", "says"), [(0.0, 1.6, "engine speed is 0 rpm"), (1.0, -1.0, "ratio is -1")]
)
def test_a_speed_or_ratio_of_nothing_is_refused(rpm, drive, says):
    with pytest.raises(GeometryError, match=says):
        _at(rpm, drive)


def test_masses_from_the_scale():
    # Hand-worked: 453.59237 g are a pound, and standard gravity is 386.0886 in/s2.
    assert mass_from_grams(453.59237) == pytest.approx(mass_from_pounds(1.0), rel=1e-14)
    assert mass_from_pounds(386.0886) == pytest.approx(1.0, rel=1e-6)
    assert mass_from_grams(0.0) == 0.0


def test_the_parts_add_up_at_the_valve():
    # Hand-worked: 150 + 90/3 + 30 + 256/2.56 = 310 g.
    mass = equivalent_mass(valve=150.0, spring=90.0, rocker=30.0, lifter_side=256.0, ratio=1.6)
    assert mass == pytest.approx(mass_from_grams(310.0), rel=1e-14)
    assert equivalent_mass(valve=150.0) == mass_from_grams(150.0)


def test_the_margin_is_spring_and_inertia():
    motion = ValveMotion(*(np.array([0.0]), 6000.0, np.array([0.6]), np.array([0.0]), np.array([-400_000.0])))
    # Hand-worked: 200 + 500 x 0.6 - 400.
    assert spring_margin(motion, **SPRING, mass=0.001).tolist() == [100.0]


def test_the_margin_shrinks_over_the_nose_as_the_engine_speeds_up():
    slow, fast = (spring_margin(_at(rpm), **SPRING, mass=0.0016) for rpm in (4000.0, 8000.0))
    assert fast.min() < slow.min() < 400.0
    assert fast.max() > slow.max()


@pytest.mark.parametrize("drive", [1.6, LINKAGE], ids=["ratio", "linkage"])
def test_at_the_limit_the_least_margin_is_nothing(drive):
    # The limit worked at one speed, the margin worked afresh at the limit.
    limit = speed_limit(_at(5000.0, drive), **SPRING, mass=0.0016)
    margin = spring_margin(_at(limit.rpm, drive), **SPRING, mass=0.0016)
    assert margin.min() == pytest.approx(0.0, abs=1e-9)
    assert ANGLES[np.argmin(margin)] == limit.crank_angle
    assert spring_margin(_at(limit.rpm * 1.001, drive), **SPRING, mass=0.0016).min() < 0.0
    assert spring_margin(_at(limit.rpm * 0.999, drive), **SPRING, mass=0.0016).min() > 0.0


def test_the_limit_does_not_depend_on_the_speed_it_is_worked_at():
    one, other = (speed_limit(_at(rpm), **SPRING, mass=0.0016) for rpm in (1000.0, 9000.0))
    assert one.rpm == pytest.approx(other.rpm, rel=1e-12)


def test_four_times_the_mass_halves_the_limit():
    light, heavy = (speed_limit(_at(6000.0), **SPRING, mass=mass).rpm for mass in (0.001, 0.004))
    assert heavy == pytest.approx(light / 2)


def test_without_mass_or_nose_there_is_no_limit():
    with pytest.raises(GeometryError, match="no inertia works against the spring"):
        speed_limit(_at(6000.0), **SPRING, mass=0.0)
    seated = valve_motion(LOBE, [400.0, 410.0], rpm=6000.0, drive=1.6)
    with pytest.raises(GeometryError, match="over the nose"):
        speed_limit(seated, **SPRING, mass=0.0016)


def test_a_lift_that_the_linkage_cannot_follow_is_refused():
    with pytest.raises(GeometryError, match=r"past the valve axis|to join the rocker"):
        valve_motion(
            card_lobe([(0.05, 248.0)], max_lift=1.5, nose_at=108.0),
            108.0,
            rpm=6000.0,
            drive=replace(LINKAGE, cup_angle=200.0),
        )
