"""What differs between two sheets is told by row and column, as somebody at the bench says it."""

from typing import Any

from builds.sealing.differences import differences


def sheet(
    *figures: str, columns: tuple[str, ...] = ("lash, cold",), addresses: tuple[str, ...] = ("1I", "1E")
) -> Any:
    block = {
        "name": "lash",
        "columns": [{"name": name, "unit": "in"} for name in columns],
        "values": [[{"text": figure, "verdict": "in"} for _ in columns] for figure in figures],
    }
    return {"log": {"tables": [{"addresses": list(addresses), "blocks": [block]}]}}


def told(before: Any, after: Any) -> list[str]:
    return [str(each) for each in differences(before, after)]


def test_a_figure_of_the_log_is_named_by_its_step_address_and_column() -> None:
    assert told(sheet("0.016", "0.016"), sheet("0.016", "0.018")) == [
        "lash › 1E › lash, cold: was 0.016, is 0.018"
    ]


def test_where_two_columns_have_one_name_nothing_is_lost() -> None:
    twice = ("lash", "lash")
    assert told(sheet("0.016", "0.016", columns=twice), sheet("0.016", "0.018", columns=twice)) == [
        "lash › 2 › 1: was 0.016, is 0.018",
        "lash › 2 › 2: was 0.016, is 0.018",
    ]


def test_a_row_that_came_is_told_whole() -> None:
    found = told(sheet("0.016", addresses=("1I",)), sheet("0.016", "0.018"))
    assert any("0.018" in each for each in found)


def test_figures_that_changed_places_with_their_addresses_are_told() -> None:
    assert told(sheet("0.016", "0.018"), sheet("0.018", "0.016", addresses=("1E", "1I")))
