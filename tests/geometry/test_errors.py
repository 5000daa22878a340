import pickle

import pytest

from valvetrain.geometry.errors import GeometryError


def test_it_reads_as_one_sentence():
    assert str(GeometryError("net lift is 0 in", right="give a lift above zero")) == (
        "net lift is 0 in: give a lift above zero"
    )


def test_it_can_stand_without_advice():
    assert str(GeometryError("the valve never opens")) == "the valve never opens"


def test_it_is_caught_as_a_value_error():
    with pytest.raises(ValueError, match="never opens"):
        raise GeometryError("the valve never opens")


def test_it_keeps_the_field_when_passed_between_processes():
    error = pickle.loads(pickle.dumps(GeometryError("gap is -1 in", where="gap", right="zero or more")))
    assert (error.where, error.right, str(error)) == ("gap", "zero or more", "gap is -1 in: zero or more")
