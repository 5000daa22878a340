"""Peak velocity and acceleration of standard cam laws against their published factors, and units."""

import numpy as np
import pint
import pytest
from scipy.integrate import cumulative_simpson

from valvetrain.geometry.lobe_table import table_lobe
from valvetrain.geometry.motion import mass_from_grams, mass_from_pounds, valve_motion

RISE, LIFT, RPM, RATIO = 120.0, 0.4, 6000.0, 1.6
# Parts of the rise, fine enough that the table's own steps do not show in the peaks.
PART = np.linspace(0.0, 1.0, 481)


def _modified_trapezoid(part):
    """Independent method: the law's acceleration as it is defined, summed twice and scaled to one."""
    fine = np.linspace(0.0, 1.0, 80_001)
    half = np.where(fine <= 0.5, fine, 1.0 - fine)
    ramp = np.sin(4.0 * np.pi * half)
    hold = np.ones_like(half)
    fall = np.sin(4.0 * np.pi * (half - 0.25))
    shape = np.where(half < 0.125, ramp, np.where(half < 0.375, hold, fall))
    bend = np.where(fine <= 0.5, shape, -shape)
    speed = cumulative_simpson(bend, x=fine, initial=0.0)
    lift = cumulative_simpson(speed, x=fine, initial=0.0)
    return np.interp(part, fine, lift / lift[-1])


# Published: Norton, Design of Machinery, comparison of double-dwell laws (cycloidal read again, the others
# from the same table): peak velocity by h/T and peak acceleration by h/T squared.
LAWS = {
    "cycloidal": (lambda x: x - np.sin(2 * np.pi * x) / (2 * np.pi), 2.0, 6.2831853),
    "3-4-5": (lambda x: 10 * x**3 - 15 * x**4 + 6 * x**5, 1.875, 5.7735027),
    "4-5-6-7": (lambda x: 35 * x**4 - 84 * x**5 + 70 * x**6 - 20 * x**7, 2.1875, 7.5131884),
    "modified trapezoid": (_modified_trapezoid, 2.0, 4.888124),
}


@pytest.mark.parametrize("law", LAWS)
def test_the_peaks_of_a_standard_law(law):
    lift, peak_velocity, peak_acceleration = LAWS[law]
    table = LIFT * lift(PART)
    lobe = table_lobe(
        np.concatenate([RISE * PART, RISE * (1.0 + PART[1:])]), np.concatenate([table, table[-2::-1]])
    )
    motion = valve_motion(lobe, np.linspace(2.0, RISE - 2.0, 20_001), rpm=RPM, drive=RATIO)
    seconds = RISE / (6.0 * RPM)
    travel = RATIO * LIFT
    # The curve between a table's rows is a spline: a few parts in a hundred thousand, and a thousandth where
    # the law's own acceleration has corners.
    close = 2e-3 if law == "modified trapezoid" else 5e-5
    assert motion.velocity.max() * seconds / travel == pytest.approx(peak_velocity, rel=5e-5)
    assert motion.acceleration.max() * seconds**2 / travel == pytest.approx(peak_acceleration, rel=close)
    assert -motion.acceleration.min() * seconds**2 / travel == pytest.approx(peak_acceleration, rel=close)


def test_the_mass_against_an_independent_units_library():
    # Independent method.
    registry = pint.UnitRegistry()
    unit = "pound_force * second**2 / inch"
    assert mass_from_grams(100.0) == pytest.approx(
        registry.Quantity(100.0, "gram").to(unit).magnitude, rel=1e-13
    )
    assert mass_from_pounds(2.0) == pytest.approx(
        registry.Quantity(2.0, "pound").to(unit).magnitude, rel=1e-13
    )
