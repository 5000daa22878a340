"""The lines that are drawn over a measured picture, from what its readings keep."""

from dataclasses import dataclass
from xml.etree import ElementTree

import pytest

from valvetrain.mark_overlay import overlay_svg, overlay_words, tip_box

SVG = "{http://www.w3.org/2000/svg}"
# A tip of .400 in seen square on, 2000 px to the inch: outboard to the right, the front of the engine up.
MARK = {
    "rim": {"centre": [500.0, 450.0], "semi_major": 400.0, "semi_minor": 400.0, "turned": 0.0},
    "frame": {
        "origin": [500.0, 450.0], "x": [2000.0, 0.0], "y": [0.0, -2000.0], "radius": 0.2,
        "edges": {"inner": [[-0.02, -0.199], [-0.02, 0.199]], "outer": [[0.03, -0.1977], [0.03, 0.1977]]},
    },
    "results": {"inner": -0.02, "outer": 0.03, "width": 0.05},
}  # fmt: skip


@dataclass
class Picture:
    width: int = 1000
    height: int = 900


def drawn(**how) -> ElementTree.Element:
    return ElementTree.fromstring(overlay_svg(Picture(), MARK, **how))


def lines(svg: ElementTree.Element) -> list[list[tuple[float, float]]]:
    """Every blue line as its points."""
    blue = [path for path in svg.iter(f"{SVG}path") if path.get("stroke") == "#22408f"]
    return [
        [tuple(map(float, pair.split())) for pair in path.get("d")[1:].rstrip("Z").split("L")]
        for path in blue
    ]


def test_the_edges_lie_where_they_were_measured():
    # Hand-worked: 500 − .02 × 2000 = 460, and 500 + .03 × 2000 = 560.
    upright = [line for line in lines(drawn()) if len({x for x, _y in line}) == 1 and len(line) == 2]
    assert {x for line in upright for x, _y in line} >= {460.0, 560.0}


def test_every_blue_line_has_a_white_casing_wider_than_itself():
    paths = list(drawn().iter(f"{SVG}path"))
    blue = [path for path in paths if path.get("stroke") == "#22408f"]
    white = {
        path.get("d"): float(path.get("stroke-width"))
        for path in paths
        if path.get("stroke") == "#ffffff" and path.get("fill") is None
    }
    assert blue
    assert all(white[path.get("d")] > float(path.get("stroke-width")) for path in blue)


@pytest.mark.parametrize(("unit", "words"), [("in", "0.0500 in"), ("mm", "1.270 mm")])
def test_the_width_is_dimensioned_in_the_readers_unit(unit, words):
    assert {text.text for text in drawn(unit=unit).iter(f"{SVG}text")} == {words}


def test_it_says_in_words_what_it_draws():
    assert drawn().find(f"{SVG}desc").text == overlay_words(MARK)
    assert "Inner edge at −0.0200 in, outer edge at 0.0300 in" in overlay_words(MARK)


def test_a_part_of_the_picture_has_the_same_lines_in_its_own_frame():
    box = tip_box(Picture(), MARK)
    assert box == (0.0, 0.0, 1000, 900)
    part = drawn(box=(100, 50, 900, 850))
    assert part.get("viewBox") == "100.0 50.0 800.0 800.0"
    assert lines(part)[0][0] == lines(drawn())[0][0]


def test_nothing_is_drawn_where_nothing_was_kept():
    svg = ElementTree.fromstring(overlay_svg(Picture(), {}))
    assert [each.tag for each in svg] == [f"{SVG}title"]


def test_what_it_says_cannot_break_out_of_the_drawing():
    assert "<script" not in overlay_svg(Picture(), MARK, title="<script>3E</script>")


def lettered(**how) -> tuple[float, float, float]:
    """The size of the letters [px], and where they begin and end (six tenths of the size to a sign)."""
    text = next(drawn(**how).iter(f"{SVG}text"))
    size, middle = float(text.get("font-size")), float(text.get("x"))
    half = len(text.text) * 0.6 * size / 2
    return size, middle - half, middle + half


def test_the_dimension_is_lettered_as_large_as_asked():
    assert lettered(lettering=66)[0] == 66


@pytest.mark.parametrize("size", [20, 66])
def test_letters_too_long_for_one_side_of_the_mark_stand_on_the_other(size):
    # Hand-worked: words begin at 500 + (.03 + 1.1 × .35 × .2) × 2000 = 714; nine signs of 20 px take 108, of 66 px 356.
    box = (0, 0, 830, 900)
    _size, begin, end = lettered(lettering=size, box=box)
    assert 0 <= begin < end <= 830
    assert (begin > 560) == (size == 20)
