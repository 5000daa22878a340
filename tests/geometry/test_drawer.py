import pytest

from valvetrain.geometry.drawer import Drawer

# Hand-worked throughout: small whole numbers that can be added up on a finger.


def _drawer(thicknesses, limits=None, max_pieces=4, ceiling=1000):
    limits = limits or [max_pieces] * len(thicknesses)
    return Drawer(thicknesses, limits, max_pieces=max_pieces, ceiling=ceiling)


@pytest.mark.parametrize("wanted", [-5, 0, 1])
def test_nothing_is_nearest_to_little_or_less(wanted):
    assert _drawer([10, 4]).nearest(wanted) == [0, 0]


def test_counts_come_back_in_the_order_of_the_thicknesses():
    assert _drawer([30, 20, 10, 5, 1]).nearest(66) == [2, 0, 0, 1, 1]


def test_fewest_pieces_of_equally_near_packs():
    assert _drawer([12, 7, 5, 3]).nearest(12) == [1, 0, 0, 0]


def test_fewest_thicknesses_of_as_few_pieces():
    # 12 is 6 + 6 as well as 7 + 5.
    assert _drawer([7, 6, 5]).nearest(12) == [0, 2, 0]


def test_few_pieces_come_before_few_thicknesses():
    # 12 is 4 + 4 + 4 as well as 7 + 5.
    assert _drawer([7, 5, 4]).nearest(12) == [1, 1, 0]


def test_the_thinner_of_two_that_miss_by_as_much():
    assert _drawer([12, 8], max_pieces=1).nearest(10) == [0, 1]


def test_a_limit_is_kept():
    assert _drawer([10, 3], limits=[1, 4]).nearest(20) == [1, 3]


def test_the_most_pieces_are_kept_across_both_halves():
    assert _drawer([10, 1], max_pieces=2).nearest(23) == [2, 0]


def test_an_empty_drawer_makes_nothing():
    assert _drawer([]).nearest(10) == []


@pytest.mark.parametrize(("wanted", "counts"), [(9, [0, 0]), (10, [1, 0]), (24, [2, 0]), (25, [1, 1])])
def test_the_thickest_within_never_goes_over(wanted, counts):
    assert _drawer([10, 15]).thickest_within(wanted, max_pieces=2) == counts


def test_the_thickest_within_may_be_held_to_fewer_pieces():
    assert _drawer([10, 4]).thickest_within(24, max_pieces=2) == [2, 0]
    assert _drawer([10, 4]).thickest_within(24, max_pieces=0) == [0, 0]
