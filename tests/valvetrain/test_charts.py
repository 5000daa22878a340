"""The drawings: their coordinates agree with the geometry service, and the same numbers give the same bytes."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from math import hypot
from xml.etree import ElementTree

import pytest

from valvetrain.charts.arm import arm_drawing, arm_layout
from valvetrain.charts.numbers import ValveNumbers
from valvetrain.charts.style import words_drawing
from valvetrain.charts.tip import mark_row, tip_layout, tip_mark
from valvetrain.charts.travel import travel_chart, travel_table
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import target_height, top_of_shaft
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
