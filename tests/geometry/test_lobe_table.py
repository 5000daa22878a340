import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.lobe_table import table_lobe

RISE = np.arange(0.0, 241.0, 2.0)
TABLE = 0.2 * (1.0 - np.cos(np.radians(1.5 * RISE)))


def test_a_table_is_followed_through_every_row():
    lobe = table_lobe(RISE, TABLE)
    assert lobe.lift(RISE).tolist() == pytest.approx(TABLE.tolist(), abs=1e-12)
    assert (lobe.nose_at, lobe.max_lift) == (pytest.approx(120.0, abs=1e-6), pytest.approx(0.4, abs=1e-9))
    assert lobe.lift([-10.0, 250.0]).tolist() == [0.0, 0.0]


def test_a_table_gives_its_slopes():
    # Hand-worked: 0.2 (1 - cos 1.5a) has slope 0.3 sin 1.5a and bend 0.45 cos 1.5a, for each radian.
    lobe = table_lobe(RISE, TABLE)
    a, radian = np.array([40.0, 90.0, 150.0]), np.pi / 180
    assert lobe.velocity(a).tolist() == pytest.approx(
        (0.3 * np.sin(1.5 * a * radian) * radian).tolist(), rel=1e-6
    )
    assert lobe.acceleration(a).tolist() == pytest.approx(
        (0.45 * np.cos(1.5 * a * radian) * radian**2).tolist(), rel=1e-4
    )


def test_smoothing_quietens_readings_to_a_ten_thousandth():
    read = np.round(TABLE, 4)
    rough, smooth = table_lobe(RISE, read), table_lobe(RISE, read, smoothing=0.00005)
    true = 0.45 * np.cos(1.5 * np.radians(RISE)) * (np.pi / 180) ** 2
    inside = slice(10, -10)
    errors = [np.abs(lobe.acceleration(RISE) - true)[inside].max() for lobe in (rough, smooth)]
    assert errors[1] < 0.2 * errors[0]
    assert np.abs(smooth.lift(RISE) - TABLE).max() < 0.0003


def test_a_table_with_a_dwell_has_its_nose_on_it():
    # Hand-worked: 20 degrees held at most lift, from 120 on.
    held = np.concatenate([TABLE[:61], np.full(10, TABLE[60]), TABLE[61:]])
    lobe = table_lobe(np.arange(held.size) * 2.0, held, smoothing=0.0001)
    assert 118.0 < lobe.nose_at < 142.0
    assert lobe.max_lift == pytest.approx(0.4, abs=0.0005)


def test_a_tables_duration_is_found_between_its_rows():
    # Hand-worked: half of the lift is passed at 60 and 180.
    lobe = table_lobe(RISE, TABLE)
    assert lobe.events_at(0.2) == (pytest.approx(60.0, abs=1e-6), pytest.approx(180.0, abs=1e-6))


def _spoilt(place, value):
    spoilt = TABLE.copy()
    spoilt[place] = value
    return spoilt


@pytest.mark.parametrize(
    ("angles", "lifts", "says"),
    [
        (RISE, TABLE[:-1], "121 angles and 120 lifts"),
        (RISE[:7], TABLE[:7], "the table has 7 rows"),
        (RISE[::-1], TABLE, r"do not rise: row 2 is 238 after 240"),
        (np.where(RISE == 60.0, 58.0, RISE), TABLE, "row 31 is 58 after 58"),
        (RISE * 4.0, TABLE, "the table runs over 960 deg"),
        (RISE, _spoilt(30, np.nan), r"lift in the table is nan.*number 31 of 121"),
        (RISE, _spoilt(0, 0.01), r"does not return to zero: it starts at 0\.01"),
        (RISE, _spoilt(-1, 0.01), r"ends at 0\.01"),
        (RISE, _spoilt(3, -0.01), r"goes down to -0\.01"),
        (RISE, TABLE * 0.0, "the table has no lift"),
    ],
)
def test_a_table_that_is_no_lobe_is_refused(angles, lifts, says):
    with pytest.raises(GeometryError, match=says):
        table_lobe(angles, lifts)
