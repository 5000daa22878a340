"""Tables of lift by angle: what is read, and what is refused with the line."""

from pathlib import Path

import pytest

from valvetrain.lift_table import LARGEST_FILE, MOST_ROWS, TableRefused, decode, read_table

LIFTS = ["0.0", "0.02", "0.1", "0.25", "0.38", "0.42", "0.38", "0.25", "0.1", "0.02", "0.0"]
ROWS = list(zip(range(0, 220, 20), LIFTS, strict=True))


def table(separator: str = ",", *, comma: bool = False, heading: str = "") -> str:
    lines = [f"{angle}{separator}{lift.replace('.', ',') if comma else lift}" for angle, lift in ROWS]
    return "\n".join([heading, *lines] if heading else lines)


@pytest.mark.parametrize(
    "text",
    [
        table(","),
        table(";"),
        table("\t"),
        table(";", comma=True),
        table("\t", comma=True),
        table(",", heading="crank angle, lift"),
        table(";", heading="Winkel;Hub in"),
        table(", "),
        "# checker 4\n\n" + table(","),
        table(",").replace("\n", "\r\n"),
        "\n".join(f'"{angle}","{lift}"' for angle, lift in ROWS),
        "\n".join(f"{angle};{lift};" for angle, lift in ROWS),
    ],
    ids=[
        "comma", "semicolon", "tab", "decimal comma", "tab and decimal comma", "heading", "heading in another tongue",
        "blank behind the comma", "remarks and empty lines", "line ends of the other kind", "quotes",
        "a separator at the end",
    ],
)  # fmt: skip
def test_every_usual_way_of_writing_it_reads_the_same(text: str):
    read = read_table(text)

    assert read.angles == tuple(float(angle) for angle, _lift in ROWS)
    assert read.lifts == tuple(float(lift) for _angle, lift in ROWS)


def test_millimetres_become_inches_exactly():
    text = "\n".join(f"{angle};{float(lift) * 25.4:.4f}" for angle, lift in ROWS)

    # Hand-worked: 10.668 mm / 25.4 = 0.42 in.
    assert max(read_table(text, "mm").lifts) == pytest.approx(0.42, abs=1e-12)


def test_a_minus_of_any_shape_is_a_minus():
    text = table(",").replace("0,0.0\n20,", "−20,0.0\n20,", 1)

    assert read_table(text).angles[0] == -20.0


@pytest.mark.parametrize(
    ("before", "after", "sentence"),
    [
        ("60,0.25", "60,abc", "Line 4: “abc” is not a number for the lift. Give one such as 0.1250."),
        ("60,0.25", "60;0.25", "Line 1 has one column. Give angle and lift, with a comma, a semicolon or a tab between."),
        ("60,0.25", "60", "Line 4 has one column. Give angle and lift, with a comma, a semicolon or a tab between."),
        ("60,0.25", "60,0,25", "Line 4 has 3 columns. Give two, crank angle and lift; where the numbers have decimal"),
        ("60,0.25", "60,", "Line 4: the lift is empty. Give a number, such as 0.1250."),
        ("60,0.25", "40,0.25", "Line 4: 40° is there twice. Sort the table by rising angle, each angle once."),
        ("60,0.25", "30,0.25", "Line 4: 30° comes after 40°. Sort the table by rising angle, each angle once."),
        ("60,0.25", "6000,0.25", "Line 4: 6000° is more than two turns of the engine. One cycle is 720°."),
        ("60,0.25", "60,25", "Line 4: a lift of 25 in is more than any lobe has. Check the unit beside the table."),
        ("60,0.25", "60,-0.25", "Line 4: the lift goes down to -0.25 in. Set the dial to zero on the base circle."),
        ("60,0.25", "60,1e-1", "Line 4: “1e-1” is not a number for the lift."),
        ("60,0.25", "60,nan", "Line 4: “nan” is not a number for the lift."),
        ("200,0.0", "200,0.01", "Line 11: the table ends at a lift of 0.01 in. Give the whole lobe, from base circle to"),
        ("0,0.0\n", "0,0.05\n", "Line 1: the table begins at a lift of 0.05 in."),
    ],
)  # fmt: skip
def test_a_line_that_cannot_be_is_named(before: str, after: str, sentence: str):
    text = table(",").replace(before, after, 1)

    with pytest.raises(TableRefused) as refused:
        read_table(text)
    assert str(refused.value).startswith(sentence)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "This table has 0 rows of numbers. Give 8 or more, from base circle to base circle."),
        ("angle,lift\n0,0", "This table has 1 row of numbers. Give 8 or more, from base circle to base circle."),
        ("\n".join(f"{n},0" for n in range(9)), "There is no lift in this table. Give the lobe’s lift"),
        ("\n".join(f"{n},0" for n in range(MOST_ROWS + 1)), "This table has 2001 rows. Give at most 2000"),
        ("x" * (LARGEST_FILE + 1), "This table is longer than 200 kB."),
        (table(",", heading="lift, angle"), "Line 1: the headings put the lift first."),
        (table(",", heading="angle, lift mm"), "Line 1: the heading says the lifts are in mm, and inches is chosen"),
    ],
)  # fmt: skip
def test_a_table_as_a_whole_that_cannot_be_is_refused(text: str, sentence: str):
    with pytest.raises(TableRefused) as refused:
        read_table(text)
    assert str(refused.value).startswith(sentence)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_in_any_usual_coding_is_text(encoding: str):
    assert decode("Winkel°;Hub\n0;0".encode(encoding)) == "Winkel°;Hub\n0;0"


@pytest.mark.parametrize("data", [b"\x89PNG\r\n\x1a\n\x00\x00", b"PK\x03\x04\x00\x00", b"\xff\xfe\x00"])
def test_a_file_that_is_no_text_is_refused(data: bytes):
    with pytest.raises(TableRefused, match="This file is not plain text"):
        decode(data)


def test_a_large_file_is_refused_before_it_is_read():
    with pytest.raises(TableRefused, match="larger than 200 kB"):
        decode(b"0,0\n" * (LARGEST_FILE // 4 + 1))


def test_the_module_does_not_need_django():
    # It is read by scripts as well.
    assert "django" not in Path("valvetrain/lift_table.py").read_text(encoding="utf-8")
