"""The drawings: their coordinates agree with the geometry service, and the same numbers give the same bytes."""

import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise
from math import hypot
from xml.etree import ElementTree

import pytest

from valvetrain.charts.arm import arm_drawing, arm_layout
from valvetrain.charts.load import LoadNumbers, load_chart, load_table
from valvetrain.charts.numbers import ValveNumbers
from valvetrain.charts.packmap import (
    MappedHead,
    MappedStand,
    PackMapNumbers,
    PackOnPads,
    pack_map,
    pack_table,
)
from valvetrain.charts.ratio import RatioNumbers, ratio_chart, ratio_rows, ratio_table
from valvetrain.charts.residuals import Residual, ResidualNumbers, residual_chart, residual_table
from valvetrain.charts.spring import SpringNumbers, spring_chart, spring_table
from valvetrain.charts.style import words_drawing
from valvetrain.charts.tip import mark_row, tip_layout, tip_mark
from valvetrain.charts.travel import travel_chart, travel_table
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import target_height, top_of_shaft
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.travel import sweep

# Hand-worked: r + R = .587, S = .750, square at half lift → top of shaft .212 above the closed tip.
RIGHT = ValveNumbers(1.5, 0.237, 0.35, 0.75, 0.3125, address="3E")
HIGH = replace(RIGHT, height_error=0.024)
ARM = RockerArm(1.5, 0.237, 0.35)
DRAWINGS = [arm_drawing, tip_mark, travel_chart]


def test_the_shaft_is_drawn_where_the_geometry_puts_it():
    layout = arm_layout(RIGHT)
    assert layout.shaft[1] == pytest.approx(target_height(ARM, 0.75))
    assert layout.top == pytest.approx(top_of_shaft(ARM, 0.75)) == pytest.approx(0.212)
    assert layout.shaft_now is None


def test_every_roller_lies_an_arm_length_from_the_shaft_and_on_its_tip():
    layout = arm_layout(RIGHT)
    assert layout.tips == pytest.approx((0.0, -0.375, -0.75))
    for roller, tip in zip(layout.rollers, layout.tips, strict=True):
        assert hypot(roller[0] - layout.shaft[0], roller[1] - layout.shaft[1]) == pytest.approx(1.5)
        assert roller[1] - tip == pytest.approx(0.237)


@pytest.mark.parametrize("square_at", [0.0, 0.4, 0.5, 1.0])
def test_the_arm_stands_square_at_its_part_of_the_lift(square_at):
    layout = arm_layout(replace(RIGHT, square_at=square_at))
    assert layout.square[1] == pytest.approx(layout.shaft[1])


def test_a_high_shaft_is_drawn_high_by_as_much():
    layout = arm_layout(HIGH)
    assert layout.shaft_now is not None
    assert layout.shaft_now[1] - layout.shaft[1] == pytest.approx(0.024)


@pytest.mark.parametrize("square_at", [0.0, 0.4, 0.5, 1.0])
def test_the_mark_at_the_right_height_is_drawn_centred(square_at):
    inner, outer = tip_layout(replace(RIGHT, square_at=square_at)).right
    assert inner == pytest.approx(-outer)
    assert outer - inner == pytest.approx(sweep(ARM, 0.75, square_at=square_at))


def test_the_mark_as_it_is_now_is_as_wide_as_the_sweep_says():
    now = tip_layout(HIGH).now
    assert now is not None
    assert now[1] - now[0] == pytest.approx(sweep(ARM, 0.75, 0.024))


def test_a_height_that_is_right_draws_no_second_mark():
    assert tip_layout(replace(RIGHT, height_error=0.0)).now is None
    assert "Hatch" not in tip_mark(replace(RIGHT, height_error=0.0)).words


def test_a_mark_that_runs_off_the_tip_says_so():
    assert "runs off the tip" in tip_mark(replace(RIGHT, height_error=0.5)).words


def test_the_travel_table_starts_and_ends_at_one_contact_when_the_height_is_right():
    rows = travel_table(RIGHT, points=3)
    assert [row.lift for row in rows] == pytest.approx([0.0, 0.375, 0.75])
    assert rows[0].right == pytest.approx(rows[2].right)
    assert rows[1].right - rows[0].right == pytest.approx(sweep(ARM, 0.75))
    assert {row.now for row in rows} == {None}


def test_the_travel_table_has_the_present_height_beside_the_right_one():
    rows = travel_table(HIGH, points=61)
    contacts = [row.now for row in rows if row.now is not None]
    assert max(contacts) - min(contacts) == pytest.approx(sweep(ARM, 0.75, 0.024), abs=1e-4)


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("lettered", [False, True])
def test_the_same_numbers_give_the_same_bytes(draw, lettered):
    first = draw(HIGH, lettered=lettered).svg
    draw.cache_clear()
    assert draw(HIGH, lettered=lettered).svg == first


def test_drawing_in_several_threads_gives_the_same_bytes():
    errors = [0.001 * number for number in range(1, 13)]
    alone = [travel_chart(replace(RIGHT, height_error=error)).svg for error in errors]
    travel_chart.cache_clear()
    with ThreadPoolExecutor(4) as threads:
        together = list(
            threads.map(lambda error: travel_chart(replace(RIGHT, height_error=error)).svg, errors)
        )
    assert together == alone


@pytest.mark.parametrize("draw", DRAWINGS)
@pytest.mark.parametrize("lettered", [False, True])
def test_a_drawing_is_an_svg_with_its_words_and_without_style(draw, lettered):
    drawing = draw(HIGH, lettered=lettered)
    root = ElementTree.fromstring(drawing.svg)
    assert root.find("{*}title").text == drawing.title
    assert root.find("{*}desc").text == drawing.words
    assert not root.findall(".//{*}style")
    assert not [element for element in root.iter() if "style" in element.attrib]


def test_lettering_is_in_the_unit_of_the_reader():
    drawing = arm_drawing(replace(HIGH, unit="mm"), lettered=True)
    assert ">5.385<" in drawing.svg  # 0.212 × 25.4 = 5.3848
    assert ">shaft now 0.610 high<" in drawing.svg
    assert "It stands 0.610 mm high now." in drawing.words


def test_words_say_high_low_right_and_not_read():
    assert "It stands 0.0240 in high now." in arm_drawing(HIGH).words
    assert "It stands 0.0100 in low now." in arm_drawing(replace(RIGHT, height_error=-0.01)).words
    assert "It stands right." in arm_drawing(replace(RIGHT, height_error=0.0)).words
    assert "No height is read yet." in arm_drawing(RIGHT).words


def test_a_row_of_tips_names_every_valve():
    row = mark_row((RIGHT, replace(HIGH, address="3I")), lettered=True)
    assert ">3E<" in row.svg
    assert ">3I<" in row.svg
    assert "3I: 0.0476 in at the right height, 0.0540 in now" in row.words


@pytest.mark.parametrize("draw", DRAWINGS)
def test_an_arm_that_cannot_reach_is_refused_with_a_sentence(draw):
    with pytest.raises(GeometryError, match="cannot reach"):
        draw(replace(RIGHT, lift=3.2))


def test_words_stand_where_nothing_can_be_drawn():
    assert "Enter the rocker set first" in words_drawing("Not drawn yet. Enter the rocker set first.").svg


# Charts with tables.

SPRING = SpringNumbers(
    installed_height=1.9, seat_load=240.0, rate=500.0, lift=0.7, solid_height=1.12, margin_asked=0.06,
    read=((1.9, 240.0), (1.2, 590.0)), source="as read on the tester", address="3E",
)  # fmt: skip
HEAD = ResidualNumbers(
    (
        Residual("1E", 0.001, "in", 0.0008), Residual("1I", -0.0095, "out", 0.0008),
        Residual("3E", 0.0048, "undecided", 0.0008), Residual("3I", None),
    ),
    low=-0.005, high=0.005, head="Left head",
)  # fmt: skip
# A straight rocker: cup across the shaft from the roller, radius 1.5 / 1.6, pushrod and lifter upright at half lift.
LINKAGE = PushrodLinkage(
    ARM, shaft_height=float(target_height(ARM, 0.75)), shaft_offset=1.45, cup_radius=0.9375, cup_angle=180.0,
    lifter_point=(-2.3875, -8.5, 0.0),
)  # fmt: skip
RATIO = RatioNumbers(lobe_lift=0.47, nominal=1.6, linkage=LINKAGE, measured=((0.47, 1.59),), address="3E")
LOAD = LoadNumbers(
    angles=(-100.0, -50.0, 0.0, 50.0, 100.0), lifts=(0.01, 0.4, 0.7, 0.4, 0.01),
    spring=(245.0, 440.0, 590.0, 440.0, 245.0),
    by_speed=((6000.0, (700.0, 400.0, 150.0, 400.0, 700.0)), (9000.0, (1200.0, 300.0, -60.0, 300.0, 1200.0))),
    ends=(8400.0, 4.0), assumed="Rigid parts.", address="3E",
)  # fmt: skip
PACKS = PackMapNumbers(
    (
        MappedHead(
            "Left head",
            (
                MappedStand(
                    "L.stand1", (("A", 0.0, 0.0), ("B", 2.8, 0.0)),
                    (PackOnPads("all", (".015", ".010"), "0.0250"),), "in",
                ),
                MappedStand(
                    "L.stand2", (("A", 4.4, 0.0), ("B", 7.2, 0.0)),
                    (PackOnPads("A", (".020",), "0.0200"), PackOnPads("B", (".022",), "0.0220")), "to prove",
                ),
                MappedStand("L.stand3", (("A", 8.8, 0.0), ("B", 11.6, 0.0)), (), "to read"),
            ),
            (("1E", 0.5, 1.6), ("1I", 2.3, 1.6)),
        ),
    )
)  # fmt: skip
CHARTS = [
    (spring_chart, spring_table, SPRING), (residual_chart, residual_table, HEAD), (ratio_chart, ratio_table, RATIO),
    (load_chart, load_table, LOAD), (pack_map, pack_table, PACKS),
]  # fmt: skip


@pytest.mark.parametrize(("chart", "table", "numbers"), CHARTS)
def test_a_chart_is_sound_svg_with_its_words_inside_and_no_style(chart, table, numbers):
    drawing = chart(numbers)
    root = ElementTree.fromstring(drawing.svg)
    assert root.find("{http://www.w3.org/2000/svg}title").text == drawing.title
    assert root.find("{http://www.w3.org/2000/svg}desc").text == drawing.words
    assert "style=" not in drawing.svg
    assert "<style" not in drawing.svg
    assert drawing.words.endswith(".")


@pytest.mark.parametrize(("chart", "table", "numbers"), CHARTS)
def test_the_same_numbers_give_the_same_chart(chart, table, numbers):
    first = chart(numbers).svg
    chart.cache_clear()
    assert chart(numbers).svg == first


@pytest.mark.parametrize(("chart", "table", "numbers"), CHARTS)
def test_every_row_of_a_table_has_a_cell_for_every_column(chart, table, numbers):
    found = table(numbers)
    assert found.rows
    assert {len(row) for row in found.rows} == {len(found.columns)}
    assert all(row[0] for row in found.rows)


@pytest.mark.parametrize(("chart", "table", "numbers"), CHARTS)
def test_millimetres_are_lettered_in_chart_and_table(chart, table, numbers):
    metric = replace(numbers, unit="mm")
    assert any("mm" in column for column in table(metric).columns)
    assert chart(metric).svg != chart(numbers).svg


def test_a_spring_says_its_loads_and_what_is_left():
    # 240 + 500 × 0.7 = 590; 1.9 − 0.7 − 1.12 = 0.080. Hand-worked.
    assert SPRING.open_load == pytest.approx(590.0)
    assert SPRING.margin == pytest.approx(0.08)
    words = spring_chart(SPRING).words
    assert "590.0 lbf open at 1.2000 in, 500 lbf/in" in words
    assert "leaves 0.0800 in; at least 0.0600 in is asked, so it is in." in words


def test_a_margin_at_exactly_what_is_asked_is_in_and_less_is_out():
    assert replace(SPRING, solid_height=1.14).margin_word == "in"
    assert replace(SPRING, solid_height=1.1402).margin_word == "out"


def test_a_spring_without_a_solid_height_is_drawn_and_says_so():
    assert "The solid height is not known" in spring_chart(replace(SPRING, solid_height=None)).words


def test_a_spring_table_goes_from_the_seat_to_solid():
    rows = spring_table(SPRING).rows
    assert rows[0] == ("on the seat", "1.9000", "0.0000", "240.0")
    assert rows[5] == ("open", "1.2000", "0.7000", "590.0")
    # 240 + 500 × 0.78 = 630. Hand-worked.
    assert rows[6] == ("solid, if it went on straight", "1.1200", "0.7800", "630.0")


def test_residuals_name_the_worst_the_out_and_the_unread():
    words = residual_chart(HEAD).words
    assert words == "Furthest off is 1I: 0.0095 in low; limit ±0.0050 in. Out: 1I. Not read: 3I."
    assert [row[1] for row in residual_table(HEAD).rows] == [
        "0.0010 high",
        "0.0095 low",
        "0.0048 high",
        "not read",
    ]


def test_residuals_without_uncertainties_have_no_column_for_them():
    bare = replace(HEAD, valves=tuple(replace(valve, uncertainty=None) for valve in HEAD.valves))
    assert len(residual_table(bare).columns) == len(residual_table(HEAD).columns) - 1


def test_the_ratio_of_the_table_is_the_slope_of_the_linkage():
    """Independent method: difference quotients of the valve's lift."""
    for row in ratio_rows(RATIO, 9)[1:-1]:
        lifts = [float(LINKAGE.valve_lift(row.lobe_lift + off)) for off in (-1e-5, 1e-5)]
        assert row.ratio == pytest.approx((lifts[1] - lifts[0]) / 2e-5, rel=1e-6)
        assert row.mean == pytest.approx(row.valve_lift / row.lobe_lift)


def test_a_ratio_without_the_pushrods_side_says_what_it_needs():
    drawing = ratio_chart(replace(RATIO, linkage=None))
    assert "it needs the pushrod’s side of the rocker" in drawing.words
    assert [row[0] for row in ratio_table(replace(RATIO, linkage=None)).rows] == ["measured", "nominal"]


def test_a_load_below_nothing_is_told_in_words():
    drawing = load_chart(LOAD, lettered=True)
    assert "9000 rpm, least −60 lbf, below nothing: the parts would part" in drawing.svg
    assert "The spring’s margin ends at 8400 rpm, 4 crank degrees after the nose." in drawing.words
    assert drawing.words.endswith("it certifies nothing.")


def test_a_load_without_weights_says_so():
    still = replace(LOAD, by_speed=(), ends=None)
    assert "nothing that moves is weighed" in load_chart(still).words
    assert len(load_table(still).columns) == 3


def test_the_pack_map_names_every_stand_with_its_pieces():
    assert pack_map(PACKS).words == (
        "Packs, in inches: L.stand1 .015 + .010; L.stand2 pad A .020, pad B .022; L.stand3 no shims."
    )
    rows = pack_table(PACKS).rows
    assert rows[0] == ("L.stand1", "Left head", "all", ".015 + .010", "0.0250", "in")
    assert [row[2] for row in rows] == ["all", "A", "B", "all"]


def test_stands_close_together_have_their_packs_lettered_apart():
    pack = (PackOnPads("all", (".015", ".010"), "0.0250"),)
    stands = tuple(MappedStand(f"L.exhaust{n}", (("A", 0.6 * n, 0.0),), pack) for n in range(6))
    svg = pack_map(PackMapNumbers((MappedHead("Left head", stands, ()),)), lettered=True).svg
    places = [float(x) for x, word in re.findall(r'<text[^>]*?x="([\d.]+)"[^>]*>(L\.exhaust\d)<', svg)]
    assert len(places) == 6
    assert all(
        after - before > 40 for before, after in pairwise(sorted(places))
    )  # points: the word is wider than a stand


@pytest.mark.parametrize("width", [3.3, 4.7])
def test_a_narrow_drawing_keeps_its_lettering(width):
    wide = arm_drawing(HIGH, width=width, lettered=True).svg
    assert "shaft now 0.0240 high" in wide
    assert "sweep" in travel_chart(HIGH, width=width, lettered=True).svg
