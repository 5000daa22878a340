"""What differs between two sheets, figure by figure, from their plain JSON alone."""

from dataclasses import dataclass
from typing import Any

# What names an item of a list, so that a new valve in the middle does not make all that follow differ.
NAMES = ("address", "key", "mark", "id", "name", "number")
NOTHING = "nothing"


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
    """
    found: list[Difference] = []
    _compare((), before, after, found)
    return found


def _compare(where: tuple[str, ...], before: Any, after: Any, found: list[Difference]) -> None:
    if _same(before, after):
        return
    if isinstance(before, dict) and isinstance(after, dict):
        pairs = [(str(key), before.get(key), after.get(key)) for key in _either(list(before), list(after))]
    elif isinstance(before, list) and isinstance(after, list):
        pairs = _items(before, after)
    else:
        found.append(Difference(" › ".join(where) or "sheet", _words(before), _words(after)))
        return
    for name, one, other in pairs:
        _compare((*where, name.replace("_", " ")), one, other, found)


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
    if isinstance(value, dict):
        return "; ".join(f"{key.replace('_', ' ')} {_words(each)}" for key, each in value.items())
    if isinstance(value, list):
        return ", ".join(_words(each) for each in value)
    return str(value)
