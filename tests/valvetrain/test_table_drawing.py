"""Tables as drawings: every word once, what is out in a heavy box, and nothing wider than the sheet."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from valvetrain.sheets.table_drawing import SIZE, Column, Group, Table, table_drawing, text_width

TABLE = Table(
    columns=(
        Column("valve", figures=False, heavy=True), Column("seat load, lbf"),
        Column("verdict", figures=False, heavy=True),
    ),
    rows=(("1E", "238, 242: mean 240.0", "in"), ("1I", "190 out", "out")),
    groups=(Group("", 1), Group("springs", 2)),
    out=frozenset({(1, 1), (1, 2)}),
)  # fmt: skip


def words_of(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_every_word_is_lettered_row_by_row():
    words = " ".join(words_of(table_drawing(TABLE, width=200.0, title="Springs").drawing.svg))
    assert words.startswith("valve seat load, lbf verdict 1E 238, 242: mean 240.0 in 1I 190 out out")
    assert words.endswith("springs")


def test_what_is_out_stands_in_a_heavy_box():
    svg = table_drawing(TABLE, width=200.0, title="Springs").drawing.svg
    boxes = re.search(r'<path d="([^"]*)" stroke-width=".7"/>', svg)
    assert boxes is not None
    assert boxes[1].count("z") == 2
    assert (
        'stroke-width=".7"'
        not in table_drawing(replace(TABLE, out=frozenset()), width=200.0, title="").drawing.svg
    )


def test_it_is_told_in_words_row_by_row():
    drawing = table_drawing(TABLE, width=200.0, title="Springs").drawing
    assert drawing.words == (
        "1E: seat load, lbf 238, 242: mean 240.0, verdict in; 1I: seat load, lbf 190 out, verdict out."
    )
    assert ElementTree.fromstring(drawing.svg)[1].text == drawing.words


@pytest.mark.parametrize("columns", [2, 8, 16, 30])
def test_it_is_never_wider_than_the_sheet(columns: int):
    table = Table(
        (Column("valve", figures=False), *(Column(f"clearance {n}, in") for n in range(columns))),
        (("1E", *["0.0520"] * columns),),
    )
    drawn = table_drawing(table, width=255.4, title="Clearances")
    assert drawn.width <= 255.4 + 1e-6


def test_a_table_of_few_figures_is_not_drawn_out():
    assert table_drawing(TABLE, width=270.0, title="Springs").width < 100.0


def test_a_long_row_of_repeats_is_broken_into_lines():
    row = ("1E", ", ".join(["1.9005"] * 9) + ": mean 1.9005", "in")
    svg = table_drawing(
        replace(TABLE, rows=(row,), out=frozenset()), width=270.0, title="Springs"
    ).drawing.svg
    lines = [words for words in words_of(svg) if "1.9005" in words]
    assert len(lines) > 1
    assert all(text_width(words, SIZE) < 40 for words in lines)


def test_a_line_is_as_wide_as_its_font_says():
    """Trade fact: figures of this face are all equally wide."""
    assert text_width("0000", 10.0) == pytest.approx(text_width("1234", 10.0))
    assert text_width("00", 10.0) == pytest.approx(2 * text_width("0", 10.0))
    assert text_width("a", 10.0, heavy=True) > text_width("a", 10.0)


def test_a_name_that_looks_like_a_mark_is_lettered_as_it_is():
    table = replace(TABLE, rows=(("<b>", "1 & 2", "in"),), out=frozenset())
    assert "&lt;b&gt;" in table_drawing(table, width=200.0, title="<i>").drawing.svg
