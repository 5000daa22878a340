import pytest

from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import Piece, StandNeed, choose_packs

# Hand-worked throughout: thousandths that can be added up by head.
DRAWER = [Piece(0.005), Piece(0.010), Piece(0.015), Piece(0.030)]


def _choose(rises, stock=DRAWER, *, tolerance=0.005, max_pieces=8, **stand):
    need = StandNeed("L.stand2", rises, **stand)
    (choice,) = choose_packs([need], stock, tolerance=tolerance, max_pieces=max_pieces)
    return choice


def test_one_valve_gets_what_it_wants():
    choice = _choose([0.025])
    assert choice.pieces == ((0.015, 1), (0.010, 1))
    assert choice.residuals == (pytest.approx(0.0, abs=1e-15),)


def test_what_is_left_over_is_positive_when_the_shaft_ends_high():
    # 0.024 is wanted, 0.025 is nearest.
    assert _choose([0.024]).residuals == (pytest.approx(0.001, abs=1e-15),)


def test_two_valves_share_the_error():
    choice = _choose([0.021, 0.029])
    assert choice.thickness == pytest.approx(0.025)
    assert choice.residuals == (pytest.approx(0.004), pytest.approx(-0.004))
    assert choice.worst == pytest.approx(0.004)


def test_of_three_valves_only_the_outer_two_count():
    assert _choose([0.021, 0.0211, 0.029]).thickness == pytest.approx(0.025)


def test_a_stand_that_is_right_gets_nothing():
    choice = _choose([0.0, 0.0])
    assert (choice.thickness, choice.pieces, choice.within, choice.lower_by) == (0.0, (), True, 0.0)


def test_a_stand_that_is_right_keeps_what_it_has():
    choice = _choose([0.0, 0.0], pack_in_place=0.015)
    assert choice.pieces == ((0.015, 1),)


def test_a_pack_may_come_down_to_what_is_left_of_it():
    choice = _choose([-0.010], pack_in_place=0.015)
    assert choice.pieces == ((0.005, 1),)
    assert (choice.lower_by, choice.within) == (0.0, True)


def test_a_stand_too_high_without_shims_must_come_down():
    choice = _choose([-0.018, -0.022], pack_in_place=0.010)
    assert (choice.pieces, choice.within) == ((), False)
    assert choice.ideal == pytest.approx(-0.010)
    assert choice.lower_by == pytest.approx(0.010)
    assert choice.missing is None


def test_how_far_it_must_come_down_is_told_along_the_valve():
    choice = _choose([-0.020], pad_tilt=30.0)
    assert choice.lower_by == pytest.approx(0.020)


def test_a_stand_a_little_high_is_within_though_it_could_come_down():
    choice = _choose([-0.003])
    assert (choice.within, choice.lower_by) == (True, pytest.approx(0.003))


def test_a_tilted_pad_takes_more():
    # cos 60 would be a half; at 45 the pack is 1.41421356 times the rise.
    choice = _choose([0.020], [Piece(0.028), Piece(0.0284), Piece(0.0283)], pad_tilt=45.0)
    assert choice.pieces == ((0.0283, 1),)
    assert choice.ideal == pytest.approx(0.0282842712, abs=5e-11)


def test_exactly_at_the_limit_is_within():
    # 0.1 + 0.2 is not 0.3 in floating point: the sums must not fail a valve for it.
    assert _choose([0.3], [Piece(0.1), Piece(0.195)], tolerance=0.005).within
    assert not _choose([0.3], [Piece(0.1), Piece(0.1949)], tolerance=0.005, max_pieces=2).within


def test_a_pack_goes_under_every_pad():
    assert _choose([0.030], [Piece(0.015, count=3)], pads=2).pieces == ((0.015, 1),)
    assert _choose([0.030], [Piece(0.015, count=4)], pads=2).pieces == ((0.015, 2),)
    assert _choose([0.030], [Piece(0.015, count=4)], pads=3).pieces == ((0.015, 1),)


def test_pieces_that_are_used_up_are_not_there():
    assert _choose([0.030], [Piece(0.030, count=0), Piece(0.015)]).pieces == ((0.015, 2),)


def test_the_same_thickness_twice_is_added_up():
    assert _choose([0.030], [Piece(0.015, count=2), Piece(0.015, count=2)]).pieces == ((0.015, 2),)
    assert _choose([0.060], [Piece(0.015, count=2), Piece(0.015)]).pieces == ((0.015, 4),)


def test_a_metric_shim_and_its_inch_name_are_one_thickness():
    # 0.254 mm is 0.010 in exactly.
    assert _choose([0.020], [Piece(0.010, count=2), Piece(0.254 / 25.4, count=2)]).pieces == ((0.010, 2),)


def test_metric_shims_add_up_without_rounding():
    choice = _choose([0.7 / 25.4], [Piece(tenths / 254) for tenths in (1, 2, 5)], tolerance=0.0)
    assert choice.within
    assert [count for _, count in choice.pieces] == [1, 1]


def test_the_most_pieces_are_kept():
    assert _choose([0.030], [Piece(0.005)], max_pieces=5).pieces == ((0.005, 5),)


def test_each_stand_has_the_whole_drawer():
    needs = [StandNeed("L.stand1", [0.015]), StandNeed("L.stand2", [0.015], pads=1)]
    choices = choose_packs(needs, [Piece(0.015, count=2)], tolerance=0.005)
    assert [choice.name for choice in choices] == ["L.stand1", "L.stand2"]
    assert all(choice.pieces == ((0.015, 1),) for choice in choices)


def test_no_stands_no_packs():
    assert choose_packs([], DRAWER, tolerance=0.005) == ()


# When the drawer cannot do it


def test_an_empty_drawer_misses_the_whole_pack():
    choice = _choose([0.024], [])
    assert (choice.missing, choice.missing_joins) == (pytest.approx(0.024), ())


def test_it_names_the_shim_that_would_do_with_what_is_there():
    choice = _choose([0.024], [Piece(0.015), Piece(0.040)], tolerance=0.002)
    assert (choice.missing, choice.missing_joins) == (pytest.approx(0.009), ((0.015, 1),))


def test_the_missing_shim_does_it():
    stock = [Piece(0.010, count=2), Piece(0.040)]
    choice = _choose([0.024, 0.026], stock, tolerance=0.002)
    again = _choose([0.024, 0.026], [*stock, Piece(choice.missing)], tolerance=0.002)
    assert (choice.within, again.within) == (False, True)
    assert again.worst == pytest.approx(0.001)


def test_the_missing_shim_counts_as_a_piece():
    choice = _choose([0.024], [Piece(0.005)], tolerance=0.001, max_pieces=3)
    assert (choice.missing, choice.missing_joins) == (pytest.approx(0.014), ((0.005, 2),))


def test_nothing_is_missing_when_it_is_within():
    assert _choose([0.024]).missing is None


# When no pack can


def test_valves_that_disagree_by_more_than_the_limit_allows():
    choice = _choose([0.019, 0.031])
    assert (choice.spread_too_wide, choice.within, choice.missing) == (True, False, None)


def test_valves_that_disagree_by_just_the_limit_can_be_set():
    choice = _choose([0.020, 0.030])
    assert (choice.spread_too_wide, choice.within) == (False, True)


def test_the_tip_work_takes_away_what_is_left():
    # The low valve wants its tip shorter, the high one longer, each by what is left over.
    choice = _choose([0.019, 0.031])
    assert choice.tip_work == (pytest.approx(0.006), pytest.approx(-0.006))
    assert _choose([0.019 + choice.tip_work[0], 0.031 + choice.tip_work[1]]).worst == pytest.approx(
        0.0, abs=1e-15
    )


# Refusals


@pytest.mark.parametrize("thickness", [0.0, -0.01, float("nan"), 1e-10])
def test_a_shim_without_thickness_is_refused(thickness):
    with pytest.raises(GeometryError, match="shim thickness"):
        _choose([0.02], [Piece(thickness)])


@pytest.mark.parametrize("count", [-1, 1.5, True])
def test_a_count_that_is_not_whole_is_refused(count):
    with pytest.raises(GeometryError, match="count is"):
        Piece(0.010, count=count)


def test_a_stand_without_valves_is_refused():
    with pytest.raises(GeometryError, match="no valve"):
        StandNeed("L.stand2", [])


def test_a_rise_that_is_no_number_is_refused():
    with pytest.raises(GeometryError, match="rise is nan"):
        StandNeed("L.stand2", [0.01, float("nan")])


def test_a_stand_without_pads_is_refused():
    with pytest.raises(GeometryError, match="pads is 0"):
        StandNeed("L.stand2", [0.01], pads=0)


@pytest.mark.parametrize("pieces", [0, 33])
def test_a_pack_of_no_pieces_or_a_heap_is_refused(pieces):
    with pytest.raises(GeometryError, match="from 1 to 32"):
        _choose([0.02], max_pieces=pieces)


def test_a_limit_below_zero_is_refused():
    with pytest.raises(GeometryError, match="limit is"):
        _choose([0.02], tolerance=-0.001)


def test_a_leaner_pack_that_is_close_enough_is_chosen():
    """Hand-worked: 0.0253 from .015 + .010 leaves −0.0003; .020 + .005 + .0003 would be exact."""
    drawer = [Piece(0.015), Piece(0.010), Piece(0.020), Piece(0.005), Piece(0.0003)]
    need = [StandNeed("L.stand1", (0.0253,))]
    exact = choose_packs(need, drawer, tolerance=0.005)[0]
    lean = choose_packs(need, drawer, tolerance=0.005, close_enough=0.0005)[0]
    assert sum(count for _thickness, count in exact.pieces) == 3
    assert sum(count for _thickness, count in lean.pieces) == 2
    assert lean.worst == pytest.approx(0.0003, abs=1e-9)


def test_close_enough_never_lets_a_stand_out_of_its_limit():
    """Hand-worked: without the .0003 the stand would be 0.0003 off, and the limit here is 0.0002."""
    drawer = [Piece(0.015), Piece(0.010), Piece(0.0003)]
    choice = choose_packs([StandNeed("s", (0.0253,))], drawer, tolerance=0.0002, close_enough=0.0005)[0]
    assert choice.within
    assert choice.thickness == pytest.approx(0.0253, abs=1e-9)
