from decimal import Decimal

import numpy as np
import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.guard import plain, require, scalar


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf"), None])
def test_it_refuses_what_is_not_a_finite_number(number):
    with pytest.raises(GeometryError, match="net lift is"):
        require("lift", number)


@pytest.mark.parametrize("value", ["0.75", ["0.75"], True, [True, False], 1j, object()])
def test_it_refuses_what_is_not_a_number_at_all(value):
    with pytest.raises(GeometryError, match="not a number"):
        require("lift", value)


def test_it_refuses_zero_where_it_must_be_above():
    with pytest.raises(GeometryError, match="net lift is 0 in: it must be above zero"):
        require("lift", 0.0)


def test_it_takes_zero_where_zero_is_a_reading():
    assert require("gap", 0.0) == 0.0


def test_it_says_which_number_of_many_is_wrong():
    with pytest.raises(GeometryError, match=r"gap over the shaft is -0.002 in \(number 3 of 4\)"):
        require("gap", [0.0, 0.01, -0.002, -0.003])


def test_it_finds_a_nan_among_many():
    with pytest.raises(GeometryError, match=r"not a finite number \(number 2 of 3\)"):
        require("step", [0.2, np.nan, 0.3])


@pytest.mark.parametrize("end", [0.0, 1.0])
def test_both_ends_of_square_at_are_in(end):
    assert require("square_at", end) == end


@pytest.mark.parametrize("past", [-1e-9, 1.0 + 1e-9])
def test_just_past_the_ends_of_square_at_is_out(past):
    with pytest.raises(GeometryError, match="from 0 to 1"):
        require("square_at", past)


def test_it_names_the_argument_for_the_form():
    with pytest.raises(GeometryError) as caught:
        require("pad_tilt", 50.0)
    assert caught.value.where == "pad_tilt"


def test_whole_numbers_and_exact_decimals_come_back_as_floats():
    assert [require("lift", value) for value in (1, np.int64(1), Decimal("1.0"))] == [1.0, 1.0, 1.0]
    assert isinstance(require("lift", Decimal("1.0")), float)


def test_an_array_of_no_valves_is_no_error():
    assert require("lift", []).shape == (0,)


def test_one_number_is_asked_where_one_is_needed():
    with pytest.raises(GeometryError, match="arm length is 2 numbers: give one number"):
        scalar("length", [1.5, 1.6])


def test_a_single_result_is_a_plain_float():
    assert type(plain(np.float64(0.5))) is float
    assert type(plain(np.asarray(0.5))) is float
