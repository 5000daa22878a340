"""The chart of a trend: what it says, what it is drawn from, and that the same numbers give the same drawing."""

import pytest

from valvetrain.charts.trend import Read, TrendNumbers, trend_chart, trend_table

POINTS = (
    Read(0.0, 0.004, 0.0005, "as built", "in"),
    Read(8.0, 0.005, 0.0005, "check 1", "in"),
    Read(16.0, 0.0065, None, "check 2", "out", "set anew since"),
)
NUMBERS = TrendNumbers(
    POINTS, "lash, cold", line=(0.000125, 0.004), ends=((0.0001, 0.004), (0.0002, 0.004)), confidence=0.95,
    low=0.002, high=0.006, at=16.0, ran=12.0, address="1I", words="It drifts.",
)  # fmt: skip


def test_the_table_says_what_was_read_and_what_the_line_says() -> None:
    table = trend_table(NUMBERS)
    assert table.columns[1] == "after, passes"
    # Hand-worked: .004 + 8 · .000125.
    assert table.rows[1] == ("check 1", "8", "0.0050", "± 0.0005 in", "in", "0.0050")
    assert table.rows[2][3:] == ("–", "out", "set anew since")


def test_the_drawing_carries_its_sentence_and_no_style() -> None:
    drawing = trend_chart(NUMBERS, lettered=True)
    assert "<desc>It drifts.</desc>" in drawing.svg
    assert " style=" not in drawing.svg
    for told in (
        "ends of its interval (95 %)",
        "not below 0.0020, not above 0.0060 in",
        "about 16",
        "cross: out",
    ):
        assert told in drawing.svg


def test_the_same_numbers_give_the_same_drawing() -> None:
    first = trend_chart(NUMBERS).svg
    trend_chart.cache_clear()
    assert trend_chart(NUMBERS).svg == first


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_one_reading_is_drawn_without_a_line(unit: str) -> None:
    numbers = TrendNumbers(POINTS[:1], "lash, cold", unit=unit, address="1I")
    assert "no line: read at one running only" in trend_chart(numbers, lettered=True).svg
    assert trend_table(numbers).rows[0][-1] == "–"


@pytest.mark.parametrize(("at", "across"), [(None, 17.92), (30.0, 33.6), (90.0, 17.92)])
def test_a_crossing_that_is_far_off_does_not_squeeze_the_chart(at: float | None, across: float) -> None:
    # Hand-worked: 1.12 of the last reading's 16, or of a crossing at no more than 2.5 times that.
    numbers = TrendNumbers(POINTS, "lash, cold", line=(0.0001, 0.004), at=at, ran=12.0)
    assert numbers.across == pytest.approx(across)


def test_a_small_sheet_has_a_lower_drawing() -> None:
    assert trend_chart(NUMBERS, width=3.5).svg != trend_chart(NUMBERS).svg


def test_what_was_found_far_away_is_told_at_the_edge_and_presses_nothing_flat() -> None:
    points = (*POINTS[:2], Read(16.0, 0.0590, None, "as found", "out", "as found, not on it"))
    svg = trend_chart(TrendNumbers(points, "lash, cold", low=0.002, high=0.006, ran=16.0), lettered=True).svg
    assert "as found 0.0590" in svg
    assert ">0.06<" not in svg
