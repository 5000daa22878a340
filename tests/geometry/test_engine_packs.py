from itertools import combinations_with_replacement, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from valvetrain.geometry.engine_packs import choose_engine_packs
from valvetrain.geometry.engine_stands import EngineStand
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.packs import Piece, StandNeed, choose_packs

# Hand-worked throughout: thousandths that can be added up by head.
DRAWER = [Piece(0.005, 8), Piece(0.010, 4), Piece(0.015, 4), Piece(0.030, 2)]


def _choose(*stands, stock=DRAWER, tolerance=0.005, **wanted):
    return choose_engine_packs(stands, stock, tolerance=tolerance, **wanted)


def _one(rises, stock=DRAWER, *, tolerance=0.005, max_pieces=8, **stand):
    engine = _choose(
        EngineStand("s", rises, **stand), stock=stock, tolerance=tolerance, max_pieces=max_pieces
    )
    return engine.stands[0]


def _rules(engine):
    return {stage.rule: stage.value for stage in engine.stages}


def test_one_stand_gets_what_it_wants_under_every_pad():
    stand = _one([0.025, 0.025], pads_at=(0.0, 1.0, 2.0))
    assert [pack.pieces for pack in stand.packs] == [((0.015, 1), (0.010, 1))] * 3
    assert (stand.worst, stand.pieces, stand.within, stand.why_out) == (pytest.approx(0.0), 6, True, "")


def test_what_is_left_over_is_positive_when_the_shaft_ends_high():
    assert _one([0.024]).residuals == (pytest.approx(0.001),)


def test_two_stands_cannot_have_the_same_shim():
    # Each alone would take the .015 twice; there are two, so one of them makes it from thirds.
    stock = [Piece(0.015, 2), Piece(0.005, 6)]
    engine = _choose(EngineStand("a", [0.015]), EngineStand("b", [0.015]), stock=stock)
    assert engine.taken == ((0.015, 2), (0.005, 6))
    assert (engine.worst, engine.pieces) == (pytest.approx(0.0), 8)


def test_the_worst_of_the_engine_comes_first():
    # One .010 pair for two stands that want .010 and .016: the one that is further off gets it.
    engine = _choose(EngineStand("a", [0.010]), EngineStand("b", [0.016]), stock=[Piece(0.010, 2)])
    assert [stand.residuals[0] for stand in engine.stands] == pytest.approx([-0.010, -0.006])
    assert engine.out == ("a", "b")


def test_a_hopeless_stand_does_not_excuse_the_others():
    # Its valves are 0.040 apart, so it stays 0.020 off; the other one is still set exactly.
    engine = _choose(EngineStand("a", [0.0, 0.040]), EngineStand("b", [0.012, 0.018]))
    assert [stand.why_out for stand in engine.stands] == ["valves disagree", ""]
    assert [stand.worst for stand in engine.stands] == pytest.approx([0.020, 0.003])
    assert engine.addition is None


def test_as_few_stands_out_as_can_be():
    # a is 0.020 off whatever is done. Two pairs of .006 for b, c and d, of which one pair sets one of them.
    stands = [EngineStand("a", [-0.020])] + [EngineStand(name, [0.009]) for name in "bcd"]
    engine = _choose(*stands, stock=[Piece(0.006, 4)])
    assert _rules(engine)["stands out"] == 2
    assert engine.stands[0].why_out == "too high"


def test_the_limit_is_kept_though_it_is_no_whole_step():
    # One shim under a pad. Both leave 0.0052 in whole steps, and only the first is within 0.00514.
    stock = [Piece(0.00998, 2), Piece(0.00995, 2)]
    engine = _choose(EngineStand("s", [0.01511]), stock=stock, tolerance=0.00514, max_pieces=1)
    assert (engine.within, engine.worst) == (True, pytest.approx(0.00513))
    assert _rules(engine)["stands out"] == 0


def test_differences_that_nobody_can_read_do_not_cost_shims():
    # 0.02504 is two shims and a foil; two shims are 0.00004 off, less than a tenth.
    stock = [Piece(0.015), Piece(0.010), Piece(0.00004)]
    assert _one([0.02504], stock).packs[0].pieces == ((0.015, 1), (0.010, 1), (0.00004, 1))
    assert _one([0.02503], stock).pieces == 4


def test_packs_close_enough_save_shims():
    # 0.0253 exactly is .020 + .005 + .0003; two shims are 0.0003 off.
    stock = [Piece(0.015), Piece(0.010), Piece(0.020), Piece(0.005), Piece(0.0003)]
    assert _one([0.0253], stock).pieces == 6
    lean = _choose(EngineStand("s", [0.0253]), stock=stock, close_enough=0.0005)
    assert (lean.pieces, lean.worst) == (4, pytest.approx(0.0003))
    assert [stage.rule for stage in lean.stages] == ["worst", "sum", "pieces", "leaner", "sum again"]


def test_close_enough_never_lets_a_stand_out_of_its_limit():
    stock = [Piece(0.015), Piece(0.010), Piece(0.0003)]
    engine = _choose(EngineStand("s", [0.0253]), stock=stock, tolerance=0.0002, close_enough=0.0005)
    assert engine.within


def test_shims_that_must_be_in_are_in_and_count():
    stand = _one([0.025], forced=[(0.005, 1)])
    assert stand.packs[0].pieces == ((0.010, 2), (0.005, 1))
    assert _one([0.001], forced=[(0.030, 1)]).why_out == "too high"


def test_a_pack_in_place_is_taken_off_again():
    # Read with .015 in, the stand wants .010 less: .005 stays.
    assert _one([-0.010], packs_in_place=(0.015, 0.015)).packs[0].pieces == ((0.005, 1),)


def test_a_stand_too_high_says_how_far_it_must_come_down():
    stand = _one([-0.018, -0.022], packs_in_place=(0.010, 0.010))
    assert (stand.why_out, stand.ideal) == ("too high", (pytest.approx(-0.010),) * 2)
    assert (stand.lower_by, stand.pieces) == (pytest.approx(0.010), 0)


def test_a_tilted_pad_takes_more():
    # 0.030 under a pad at 45 degrees lifts 0.0212132.
    assert _one([0.0212], pad_tilt=45.0).packs[0].pieces == ((0.030, 1),)


# Stands that may tilt

TILTING = {"pads_at": (0.0, 4.0), "valves_at": (1.0, 3.0), "allow_tilt": True}


def test_pads_may_differ_where_tilt_is_allowed():
    # On the line through .010 and .030 the valves get .015 and .025.
    stand = _one([0.015, 0.025], **TILTING)
    assert [pack.thickness for pack in stand.packs] == pytest.approx([0.010, 0.030])
    assert stand.worst == pytest.approx(0.0)
    assert _one([0.015, 0.025], **{**TILTING, "allow_tilt": False}).worst == pytest.approx(0.005)


def test_a_valve_beyond_the_last_pad_moves_more_than_the_pad():
    # Half as far again beyond the second pad: 1.5 x .010 for .010 under that pad alone.
    stand = _one([0.0, 0.015], pads_at=(0.0, 2.0), valves_at=(0.0, 3.0), allow_tilt=True)
    assert [pack.thickness for pack in stand.packs] == pytest.approx([0.0, 0.010])


def test_pads_in_any_order():
    stand = _one([0.015, 0.025], **{**TILTING, "pads_at": (4.0, 0.0)})
    assert [pack.thickness for pack in stand.packs] == pytest.approx([0.030, 0.010])


def test_three_pads_stay_on_one_line():
    three = {"pads_at": (0.0, 2.0, 4.0), "valves_at": (0.0, 2.0, 4.0), "allow_tilt": True}
    crooked = [0.010, 0.030, 0.010]
    straight = _one(crooked, **three)
    assert straight.worst == pytest.approx(0.010)
    bent = _one(crooked, bending=0.020, **three)
    assert [pack.thickness for pack in bent.packs] == pytest.approx(crooked)
    first, middle, last = (pack.thickness for pack in _one(crooked, bending=0.010, **three).packs)
    assert abs(middle - (first + last) / 2) <= 0.010 + 1e-9


def test_valves_that_disagree_on_a_tilting_stand():
    # Three valves in a row, the middle one 0.024 above the line of the others: 0.012 each at best.
    stand = _one([0.0, 0.024, 0.0], pads_at=(0.0, 4.0), valves_at=(0.0, 2.0, 4.0), allow_tilt=True)
    assert (stand.why_out, stand.ideal) == ("valves disagree", (pytest.approx(0.012),) * 2)


# Proof


def test_every_rule_is_proved():
    engine = _choose(EngineStand("a", [0.024, 0.020]), EngineStand("b", [0.041]))
    assert engine.proved
    assert [stage.rule for stage in engine.stages] == ["worst", "sum", "pieces"]
    assert all(stage.value == pytest.approx(stage.bound) and stage.gap == 0.0 for stage in engine.stages)


def test_what_is_not_proved_in_time_says_so():
    # No drawer of this kind can be settled in a microsecond.
    stands = [EngineStand(str(n), [0.0301 + 0.0073 * n, 0.0327 + 0.0071 * n]) for n in range(8)]
    stock = [Piece(mil / 1000, 4) for mil in (1, 2, 3, 5, 8, 10, 15, 20, 25)]
    engine = _choose(*stands, stock=stock, seconds=1e-6)
    assert not engine.proved
    assert engine.stages[0].bound < engine.stages[0].value
    assert engine.worst == pytest.approx(max(stand.worst for stand in engine.stands))


def test_thicknesses_from_a_micrometer_need_no_common_step():
    # Independent method: the stand by stand choice, which forms every sum; a tenth is the finest that counts.
    drawer = [Piece(size) for size in (0.00512345678, 0.0098765432, 0.0150707071, 0.0299999917)]
    rises = [[0.0231, 0.0247], [0.0418, 0.0433]]
    engine = _choose(*(EngineStand(f"s{n}", each) for n, each in enumerate(rises)), stock=drawer)
    alone = choose_packs([StandNeed(f"s{n}", each) for n, each in enumerate(rises)], drawer, tolerance=0.005)
    assert engine.proved
    for stand, best in zip(engine.stands, alone, strict=True):
        assert best.worst - 1e-7 <= stand.worst <= best.worst + 0.0001
        assert stand.packs[0].thickness == pytest.approx(
            sum(size * count for size, count in stand.packs[0].pieces), abs=4e-8
        )


@pytest.mark.parametrize("sizes", [11, 16])
def test_a_drawer_too_full_to_form_every_sum_is_still_proved(sizes):
    # Micrometres, no two sizes in step: with eleven there are more pairs of sums than are formed, with
    # sixteen more sums.
    drawer = [Piece((30 + 61 * n + (n + 2) ** 0.5) / 25400) for n in range(sizes)]
    tilting = EngineStand("t", [0.0353, 0.0408], **TILTING)
    engine = _choose(EngineStand("s", [0.0251]), tilting, stock=drawer, finest=0.001, seconds=60.0)
    assert engine.proved
    assert engine.worst <= 0.001


# What to add


def test_it_names_the_one_shim_that_is_missing():
    # .015 is there; .009 more would be exact and .006 to .010 would do. Under two pads: two of them.
    engine = _choose(EngineStand("s", [0.024]), stock=[Piece(0.015, 2)], tolerance=0.003)
    assert engine.stands[0].why_out == "drawer"
    assert engine.addition.shims == ((0.009, 2),)


def test_of_two_as_cheap_it_adds_what_brings_the_stand_to_the_middle():
    # .003 would do beside .015 and leave it .005 low, on the edge; .008 costs as much and leaves it right.
    engine = _choose(EngineStand("s", [0.023]), stock=[Piece(0.015, 2)], tolerance=0.005)
    assert engine.addition.shims == ((0.008, 2),)
    assert engine.addition.proved


def test_a_stand_may_have_a_closer_limit_of_its_own():
    # .021 is .003 off .024: in by the engine's .005, out by the .002 of its own.
    stands = [EngineStand("a", [0.024], tolerance=0.002), EngineStand("b", [0.024])]
    engine = _choose(*stands, stock=[Piece(0.021, 4)], tolerance=0.005)
    assert engine.out == ("a",)
    assert [stand.why_out for stand in engine.stands] == ["drawer", ""]


def test_it_asks_for_more_of_what_is_known_before_something_new():
    # .009 would leave it right; .010 leaves .001, which is close enough here, and it has a place in the drawer.
    known = [Piece(0.015, 2), Piece(0.010, 0)]
    engine = _choose(EngineStand("s", [0.024]), stock=known, tolerance=0.003, close_enough=0.001)
    assert engine.addition.shims == ((0.010, 2),)


def test_shims_run_out_over_the_engine():
    # Each stand could have its .020 alone; there are enough for one.
    stands = [EngineStand("a", [0.020]), EngineStand("b", [0.020])]
    engine = _choose(*stands, stock=[Piece(0.020, 2)])
    assert engine.out in {("a",), ("b",)}
    assert engine.addition.shims == ((0.020, 2),)


def test_two_thicknesses_where_one_is_not_enough():
    # One shim under a pad, two stands far apart: no one thickness sets both.
    stands = [EngineStand("a", [0.020]), EngineStand("b", [0.050])]
    engine = _choose(*stands, stock=[], tolerance=0.001, max_pieces=1, to_buy=[0.010, 0.020, 0.050])
    assert engine.addition.shims == ((0.050, 2), (0.020, 2))
    assert engine.addition.proved


def test_nothing_offered_will_do():
    engine = _choose(EngineStand("a", [0.020]), stock=[], tolerance=0.001, max_pieces=1, to_buy=[0.010])
    assert engine.addition is None
    assert _choose(EngineStand("a", [0.020]), stock=[], to_buy=[]).addition is None


# Next to nothing


def test_no_stands_no_packs():
    engine = _choose()
    assert (engine.stands, engine.worst, engine.pieces, engine.within, engine.proved) == (
        (),
        0.0,
        0,
        True,
        True,
    )


def test_an_empty_drawer_leaves_everything_as_it_is():
    engine = _choose(EngineStand("a", [0.003]), EngineStand("b", [0.004, 0.002]), stock=[])
    assert (engine.pieces, engine.worst, engine.within) == (0, pytest.approx(0.004), True)


def test_a_drawer_of_too_few_for_the_pads_is_as_good_as_empty():
    assert _one([0.005], [Piece(0.005, 1)]).pieces == 0


def test_the_same_thickness_twice_is_added_up():
    assert _one([0.010], [Piece(0.005, 2), Piece(0.005, 2)]).pieces == 4


# Refusals


@pytest.mark.parametrize(
    ("stand", "match"),
    [
        ({"rises": ()}, "no valve"),
        ({"rises": (0.01,), "pads_at": ()}, "no pad"),
        ({"rises": (0.01,), "pads_at": (1.0, 1.0)}, "two pads in one place"),
        ({"rises": (0.01,), "packs_in_place": (0.01,)}, "2 pads and 1 packs in place"),
        ({"rises": (0.01,), "valves_at": (0.0, 1.0)}, "1 rises and 2 places"),
        ({"rises": (0.01,), "allow_tilt": True}, "where its valves are is not said"),
        ({"rises": (0.01,), "packs_in_place": (0.01, 0.02)}, "where its valves are is not said"),
        ({"rises": (0.01,), "bending": -0.001}, "bending allowance"),
        ({"rises": (0.01,), "forced": ((0.01, -1),)}, "must have -1 shims"),
        ({"rises": (float("nan"),)}, "rise is nan"),
    ],
)
def test_a_stand_that_cannot_be_is_refused(stand, match):
    with pytest.raises(GeometryError, match=match):
        EngineStand("L.stand2", **stand)


@pytest.mark.parametrize(
    ("forced", "max_pieces", "match"),
    [
        ((0.007, 1), 8, "drawer has none"),
        ((0.010, 3), 2, "3 shims under a pad and 2 are allowed"),
        ((0.010, 3), 8, "must have 6 shims of 0.01 in and the drawer has 4"),
    ],
)
def test_shims_that_cannot_be_in_are_refused(forced, max_pieces, match):
    with pytest.raises(GeometryError, match=match):
        _one([0.010], forced=[forced], max_pieces=max_pieces)


def test_a_stand_twice_is_refused():
    with pytest.raises(GeometryError, match="stand a is given twice"):
        _choose(EngineStand("a", [0.01]), EngineStand("a", [0.01]))


@pytest.mark.parametrize("pieces", [0, 33, True, 2.0])
def test_a_pack_of_no_pieces_or_a_heap_is_refused(pieces):
    with pytest.raises(GeometryError, match="from 1 to 32"):
        _choose(EngineStand("a", [0.01]), max_pieces=pieces)


@pytest.mark.parametrize(
    ("wanted", "match"),
    [({"finest": 0.0}, "finest"), ({"seconds": 0.0}, "time"), ({"close_enough": -1.0}, "limit")],
)
def test_a_number_out_of_range_is_refused(wanted, match):
    with pytest.raises(GeometryError, match=match):
        _choose(EngineStand("a", [0.01]), **wanted)


def test_a_shim_too_thin_to_count_is_refused():
    with pytest.raises(GeometryError, match="no shim is that thin"):
        _one([0.01], [Piece(1e-10)])


# Against every engine that can be set by hand
#
# Independent method: all packs of all stands are tried, in whole quarters of a thousandth. Pads stand at 0,
# 2 and 4 and valves at whole numbers, so that a valve gets halves or quarters of what its pads get.

mils = st.integers(-6, 24)
two_pads = st.sampled_from([(0, 4), (0, 2, 4)])


@st.composite
def engines(draw, most=3):
    count = draw(st.integers(1, most))
    stands = []
    for number in range(count):
        pads = draw(two_pads)
        tilts = draw(st.booleans()) and count < 3
        places = draw(st.lists(st.sampled_from([0, 1, 3, 5]), min_size=1, max_size=3, unique=True))
        rises = draw(st.lists(mils, min_size=len(places), max_size=len(places)))
        stands.append((f"s{number}", places, rises, pads, tilts, draw(st.integers(0, 4))))
    drawer = draw(st.dictionaries(st.integers(1, 12), st.one_of(st.none(), st.integers(1, 7)), max_size=3))
    return stands, drawer, draw(st.integers(1, 3 if count < 2 else 2)), draw(st.integers(0, 5))


def _stand(name, places, rises, pads, tilts, bending):
    return EngineStand(
        name,
        [rise / 1000 for rise in rises],
        valves_at=places,
        pads_at=pads,
        allow_tilt=tilts,
        bending=bending / 1000,
    )


def _quarters(place, pads, packs):
    """Four times what a valve at this place gets, by hand: from the two pads next to it."""
    left, right = (0, 1) if len(pads) == 2 or place < 2 else (1, 2)
    span = pads[right] - pads[left]
    return 4 * packs[left] + (place - pads[left]) * (packs[right] - packs[left]) * 4 // span


def _ways(stand, drawer, max_pieces):
    """Every way to set one stand: worst in quarter mils, and what it takes of each thickness."""
    _name, places, rises, pads, tilts, bending = stand
    sizes = list(drawer)
    packs = [pack for many in range(max_pieces + 1) for pack in combinations_with_replacement(sizes, many)]
    found = {}
    for under in product(packs, repeat=len(pads)) if tilts else [[pack] * len(pads) for pack in packs]:
        totals = [sum(pack) for pack in under]
        if tilts and len(pads) == 3 and abs(2 * totals[1] - totals[0] - totals[2]) > 2 * bending:
            continue
        worst = max(
            abs(_quarters(place, pads, totals) - 4 * rise) for place, rise in zip(places, rises, strict=True)
        )
        takes = tuple(sum(pack.count(size) for pack in under) for size in sizes)
        if all(drawer[size] is None or many <= drawer[size] for size, many in zip(sizes, takes, strict=True)):
            found[takes] = min(worst, found.get(takes, worst))
    return [(worst, takes) for takes, worst in found.items()]


def _engines_by_hand(stands, drawer, max_pieces):
    """Every way to set the engine: the worst of each stand, and how many shims it takes."""
    there = list(drawer.values())
    for way in product(*(_ways(stand, drawer, max_pieces) for stand in stands)):
        taken = [sum(column) for column in zip(*(takes for _worst, takes in way), strict=True)]
        if all(stock is None or many <= stock for many, stock in zip(taken, there, strict=True)):
            yield [worst for worst, _takes in way], sum(taken)


def _steps(quarter_mils):
    # A quarter mil is two and a half tenths, and tenths are rounded up.
    return -(-5 * quarter_mils // 2)


def _cost(worsts, pieces, limit, least=None):
    worst = max(map(_steps, worsts))
    out = sum(worst > 4 * limit for worst in worsts) if worst > 10 * limit else 0
    return worst, out, sum(map(_steps, worsts)), pieces


def _found(engine):
    worsts = [round(stand.worst * 4000) for stand in engine.stands]
    assert [stand.worst * 4000 for stand in engine.stands] == pytest.approx(worsts, abs=1e-6)
    return worsts


def _few_enough(stands, drawer, max_pieces):
    ways = 1
    for stand in stands:
        ways *= len(_ways(stand, drawer, max_pieces))
    return ways <= 20_000


@settings(max_examples=400)
@given(engines())
def test_no_other_packs_are_better(engine):
    stands, drawer, max_pieces, limit = engine
    assume(_few_enough(stands, drawer, max_pieces))
    chosen = choose_engine_packs(
        [_stand(*stand) for stand in stands],
        [Piece(size / 1000, count) for size, count in drawer.items()],
        tolerance=limit / 1000,
        max_pieces=max_pieces,
        to_buy=[],
        seconds=60.0,
    )
    best = min(_cost(*way, limit) for way in _engines_by_hand(stands, drawer, max_pieces))
    assert _cost(_found(chosen), chosen.pieces, limit) == best
    assert chosen.proved


@settings(max_examples=150)
@given(engines(), st.integers(1, 3))
def test_no_leaner_packs_are_close_enough(engine, slack):
    stands, drawer, max_pieces, limit = engine
    assume(_few_enough(stands, drawer, max_pieces))
    least, lean = (
        choose_engine_packs(
            [_stand(*stand) for stand in stands],
            [Piece(size / 1000, count) for size, count in drawer.items()],
            tolerance=limit / 1000,
            max_pieces=max_pieces,
            close_enough=close_enough,
            to_buy=[],
            seconds=60.0,
        )
        for close_enough in (0.0, slack / 1000)
    )
    caps = [
        min(worst + 4 * slack, 4 * limit) if worst <= 4 * limit else worst + 4 * slack
        for worst in _found(least)
    ]
    allowed = [
        (pieces, sum(map(_steps, worsts)))
        for worsts, pieces in _engines_by_hand(stands, drawer, max_pieces)
        if all(worst <= cap for worst, cap in zip(worsts, caps, strict=True))
    ]
    assert (lean.pieces, sum(map(_steps, _found(lean)))) == min(allowed)


@settings(max_examples=100)
@given(engines(most=2), st.sets(st.integers(1, 16), min_size=1, max_size=3))
def test_no_smaller_addition_would_do(engine, offered):
    stands, drawer, max_pieces, limit = engine
    assume(_few_enough(stands, dict.fromkeys([*drawer, 99]), max_pieces))
    chosen = choose_engine_packs(
        [_stand(*stand) for stand in stands],
        [Piece(size / 1000, count) for size, count in drawer.items()],
        tolerance=limit / 1000,
        max_pieces=max_pieces,
        to_buy=[size / 1000 for size in offered],
        seconds=60.0,
    )
    assume("drawer" in {stand.why_out for stand in chosen.stands})
    worst = max(_found(chosen))
    caps = [4 * limit if stand.why_out in ("", "drawer") else worst for stand in chosen.stands]

    def does_it(size, count):
        more = {**drawer, size: count + (drawer.get(size) or 0)}
        return any(
            all(worst <= cap for worst, cap in zip(worsts, caps, strict=True))
            for worsts, _pieces in _engines_by_hand(stands, more, max_pieces)
        )

    most = 3 * max_pieces * len(stands)
    can_be_bought = [size for size in offered if drawer.get(size, 0) is not None]
    fewest = [count for count in range(1, most + 1) if any(does_it(size, count) for size in can_be_bought)][
        :1
    ]
    one = chosen.addition.shims if chosen.addition and len(chosen.addition.shims) == 1 else ()
    assert [count for _thickness, count in one] == fewest


@given(st.lists(st.lists(mils, min_size=1, max_size=2), min_size=1, max_size=4))
def test_a_full_drawer_gives_what_each_stand_gets_alone(rises):
    # Independent method: the stand by stand choice, which forms every sum.
    drawer = [Piece(mil / 1000) for mil in (1, 3, 10)]
    inches = [[rise / 1000 for rise in stand] for stand in rises]
    engine = _choose(*(EngineStand(f"s{n}", stand) for n, stand in enumerate(inches)), stock=drawer)
    alone = choose_packs(
        [StandNeed(f"s{n}", stand) for n, stand in enumerate(inches)], drawer, tolerance=0.005
    )
    assert [stand.worst for stand in engine.stands] == pytest.approx([stand.worst for stand in alone])
    assert engine.pieces == sum(2 * count for stand in alone for _thickness, count in stand.pieces)
