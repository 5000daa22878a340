"""A sheet's snapshot as plain JSON, and back from that into what the pages are made from.

JSON by RFC 8785 writes 1.0 as 1 and knows no tuple, so what a field holds is told by its dataclass, never by the JSON.
"""

import types
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, asdict, fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

Plain = dict[str, Any]
Form = TypeVar("Form")


class NotThisForm(ValueError):
    """Plain data that does not fit the form that it is to be read as."""


def to_plain(sheet: Any) -> Plain:
    """A snapshot as dicts, lists, text, numbers, True, False and None.

    >>> from valvetrain.sheets.snapshot import ArmLine
    >>> to_plain(ArmLine(1.65, 0.235, 0.35, -0.0))
    {'length': 1.65, 'tip_radius': 0.235, 'shaft_radius': 0.35, 'square_at': 0.0}
    """
    plain: Plain = _plain(asdict(sheet))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, float):
        return float(value) + 0.0  # no minus zero, and nothing of numpy
    return value


def from_plain(form: type[Form], plain: Any, where: str = "sheet") -> Form:
    """Read plain data as a dataclass, however it is nested. Raises `NotThisForm`.

    A field that is not there gets its default, so a form may grow; a name that the form does not know is refused, so
    nothing that was signed is left off the page unseen.
    """
    if not isinstance(plain, Mapping):
        raise NotThisForm(f"{where}: expected a {form.__name__}, found {type(plain).__name__}")
    known = {each.name: each for each in fields(form)}  # type: ignore[arg-type]
    odd = sorted(set(plain) - set(known))
    if odd:
        raise NotThisForm(f"{where}: {form.__name__} knows no {', '.join(odd)}")
    hints = _hints(form)  # type: ignore[arg-type]
    given: dict[str, Any] = {}
    for name, each in known.items():
        if name in plain:
            given[name] = _read(hints[name], plain[name], f"{where}.{name}")
        elif each.default is MISSING and each.default_factory is MISSING:
            raise NotThisForm(f"{where}: {name} is not there")
    return form(**given)


@lru_cache(maxsize=128)
def _hints(form: type) -> dict[str, Any]:
    return get_type_hints(form)


def _read(hint: Any, value: Any, where: str) -> Any:
    """One value as its field wants it."""
    if hint is Any or hint is object:
        return value
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return None if value is None and type(None) in inner else _read(_but_none(inner), value, where)
    if is_dataclass(hint):
        return from_plain(hint, value, where)  # type: ignore[arg-type]
    if origin in (list, Sequence) or origin is tuple:
        return _read_items(origin, inner, value, where)
    if origin in (dict, Mapping):
        _expect(Mapping, value, where)
        return {key: _read(inner[1], each, f"{where}.{key}") for key, each in value.items()}
    if hint is float:
        _expect((float, int), value, where)
        return float(value)
    _expect(hint, value, where)
    return value


def _read_items(origin: Any, inner: tuple[Any, ...], value: Any, where: str) -> Any:
    _expect(list, value, where)
    if origin is not tuple or inner[-1] is Ellipsis:
        read = [_read(inner[0], each, f"{where}[{at}]") for at, each in enumerate(value)]
        return tuple(read) if origin is tuple else read
    if len(inner) != len(value):
        raise NotThisForm(f"{where}: expected {len(inner)} values, found {len(value)}")
    return tuple(_read(hint, each, where) for hint, each in zip(inner, value, strict=True))


def _but_none(inner: tuple[Any, ...]) -> Any:
    left = [each for each in inner if each is not type(None)]
    if len(left) != 1:
        raise NotThisForm(f"a field may be one thing or None, not {left}")
    return left[0]


def _expect(kind: Any, value: Any, where: str) -> None:
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise NotThisForm(f"{where}: found {type(value).__name__} where another thing was expected")
