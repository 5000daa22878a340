import numpy as np
import pytest

from valvetrain.geometry import units
from valvetrain.geometry.errors import GeometryError

PAIRS = [
    (units.inch_to_mm, units.mm_to_inch),
    (units.lbf_to_newton, units.newton_to_lbf),
    (units.lbf_ft_to_newton_metre, units.newton_metre_to_lbf_ft),
    (units.psi_to_kpa, units.kpa_to_psi),
    (units.lbf_per_inch_to_newton_per_mm, units.newton_per_mm_to_lbf_per_inch),
]


@pytest.mark.parametrize(("there", "back"), PAIRS)
def test_there_and_back_is_the_same(there, back):
    numbers = np.array([-3.0, 0.0, 0.001, 1.0, 250.0])
    np.testing.assert_allclose(back(there(numbers)), numbers, rtol=1e-15)


@pytest.mark.parametrize("convert", [convert for pair in PAIRS for convert in pair])
def test_zero_stays_zero(convert):
    assert convert(0.0) == 0.0


@pytest.mark.parametrize("convert", [convert for pair in PAIRS for convert in pair])
def test_it_refuses_nan(convert):
    with pytest.raises(GeometryError, match="finite"):
        convert(float("nan"))
