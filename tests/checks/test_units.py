"""The factors against NIST SP 811 and against an independent units library."""

import pint
import pytest

from valvetrain.geometry import units

REGISTRY = pint.UnitRegistry()

# Published: NIST SP 811, appendix B, exact factors (from memory; the library below agrees).
FACTORS = [
    (units.inch_to_mm, 25.4, "inch", "millimetre"),
    (units.lbf_to_newton, 4.4482216152605, "pound_force", "newton"),
    (units.lbf_ft_to_newton_metre, 1.3558179483314004, "pound_force * foot", "newton * metre"),
    (units.psi_to_kpa, 6.89475729316836, "psi", "kilopascal"),
    (units.lbf_per_inch_to_newton_per_mm, 0.175126835246476, "pound_force / inch", "newton / millimetre"),
]


@pytest.mark.parametrize(("convert", "factor", "one", "other"), FACTORS)
def test_the_published_factor(convert, factor, one, other):
    assert convert(1.0) == pytest.approx(factor, rel=3e-15)


@pytest.mark.parametrize(("convert", "factor", "one", "other"), FACTORS)
def test_the_library_agrees(convert, factor, one, other):
    # Independent method.
    assert convert(37.25) == pytest.approx(REGISTRY.Quantity(37.25, one).to(other).magnitude, rel=1e-14)


def test_the_published_inch_pound():
    # Published: NIST SP 811 (from memory).
    assert pytest.approx(0.1129848290276167, rel=1e-15) == units.NEWTON_METRE_PER_LBF_IN
