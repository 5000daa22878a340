"""What differs between two sheets, figure by figure, from their plain JSON alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

# What names an item of a list, so that a new valve in the middle does not make all that follow differ.
NAMES = ("address", "key", "mark", "id", "name", "what", "number")
# What only gives a sheet its form, and is no word of the shop's.
FORM = frozenset({"log", "tables", "blocks", "values", "text"})
NOTHING = "nothing"
PLACES = 6  # of a number that stands behind a drawing


@dataclass(frozen=True)
class Difference:
    """One figure that differs: where it stands, and what it was and is, in words."""

    where: str
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.where}: was {self.before}, is {self.after}"


def differences(before: Any, after: Any) -> list[Difference]:
    """Everything that differs, in the order of the sheet.

    >>> [str(each) for each in differences({"gap": "0.024"}, {"gap": "0.025"})]
    ['gap: was 0.024, is 0.025']

    Numbers behind a drawing are told no finer than they are drawn:

    >>> [str(each) for each in differences({"error": 5.6e-17}, {"error": -0.00049999999999})]
    ['error: was 0, is -0.0005']

    Figures of a table are named by row and column:

    >>> def lash(figure):
    ...     block = {"name": "lash", "columns": [{"name": "cold"}], "values": [[{"text": figure}]]}
    ...     return {"log": {"tables": [{"addresses": ["1I"], "blocks": [block]}]}}
    >>> [str(each) for each in differences(lash("0.016"), lash("0.017"))]
    ['lash › 1I › cold: was 0.016, is 0.017']
    """
    found: list[Difference] = []
    _compare((), _tables_by_name(before, ()), _tables_by_name(after, ()), found)
    return found


def _compare(where: tuple[str, ...], before: Any, after: Any, found: list[Difference]) -> None:
    if _same(before, after):
        return
    if isinstance(before, dict) and isinstance(after, dict):
        pairs = [(str(key), before.get(key), after.get(key)) for key in _either(list(before), list(after))]
    elif isinstance(before, list) and isinstance(after, list):
        pairs = _items(before, after)
    else:
        was, now = _words(before), _words(after)
        if was == now:  # finer than what is worth showing, and a difference all the same
            was, now = str(before), str(after)
        found.append(Difference(_in_words(where), was, now))
        return
    for name, one, other in pairs:
        _compare((*where, name.replace("_", " ")), one, other, found)


def _in_words(where: tuple[str, ...]) -> str:
    """The way to a figure, without what only gives the sheet its form, and the numbers of its tables."""
    steps = zip(("", *where), where, strict=False)
    told = [name for over, name in steps if name not in FORM and not (over == "tables" and name.isdecimal())]
    return " › ".join(told or where[-1:]) or "sheet"


def _tables_by_name(plain: Any, rows: tuple[Any, ...]) -> Any:
    """The same plain JSON with the figures of each table under the names of their row and column."""
    if isinstance(plain, list):
        return [_tables_by_name(each, rows) for each in plain]
    if not isinstance(plain, dict):
        return plain
    if isinstance(plain.get("addresses"), list):
        rows = tuple(plain["addresses"])
    made = {key: _tables_by_name(each, rows) for key, each in plain.items()}
    columns = [each.get("name") for each in plain.get("columns") or [] if isinstance(each, dict)]
    values = made.get("values")
    if isinstance(values, list) and _names(rows, values) and all(_names(columns, row) for row in values):
        by_row = [dict(zip(columns, row, strict=True)) for row in values]
        made["values"] = dict(zip(rows, by_row, strict=True))
    return made


def _names(names: Sequence[Any], items: Any) -> bool:
    """Whether these are names, each its own, for the items of a list."""
    own = {name for name in names if isinstance(name, str)}
    return isinstance(items, list) and len(own) == len(names) == len(items) > 0


def _same(before: Any, after: Any) -> bool:
    # True is not 1 here; and a bool never stands where a figure stood.
    return type(before) is type(after) and bool(before == after)


def _either(before: list[Any], after: list[Any]) -> list[Any]:
    return [*before, *(key for key in after if key not in set(before))]


def _items(before: list[Any], after: list[Any]) -> list[tuple[str, Any, Any]]:
    """The items of two lists side by side: by name where each has one of its own, else by place."""
    for name in NAMES:
        one, other = _by_name(before, name), _by_name(after, name)
        if one is not None and other is not None:
            return [(key, one.get(key), other.get(key)) for key in _either(list(one), list(other))]
    length = max(len(before), len(after))
    return [(str(place + 1), _at(before, place), _at(after, place)) for place in range(length)]


def _by_name(items: list[Any], name: str) -> dict[str, Any] | None:
    if not all(isinstance(item, dict) and name in item for item in items):
        return None
    named = {str(item[name]): item for item in items}
    return named if len(named) == len(items) else None


def _at(items: list[Any], place: int) -> Any:
    return items[place] if place < len(items) else None


def _words(value: Any) -> str:
    if value is None or value == "" or value == [] or value == {}:
        return NOTHING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, PLACES) + 0.0:.{PLACES}f}".rstrip("0").rstrip(".")
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_words(each)}" for key, each in value.items())
    if isinstance(value, list):
        return ", ".join(_words(each) for each in value)
    return str(value)
