"""What stood in a field, in words: in the reader's unit, as exact as it was typed, names for keys."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils import timezone

from builds.fields import BaseUnitField
from builds.measures import for_field, unit_for
from builds.tracking import is_tracked, newest

EMPTY = "empty"
# A longer text is told by its beginning.
LONGEST = 300


class Words:
    """Turns what stood in a field into words for one reader; the names behind keys are looked up for a whole page."""

    def __init__(self, length_unit: str) -> None:
        self.length_unit = length_unit
        self._names: dict[tuple[Any, Any], str] = {}
        self._met: dict[Any, set[Any]] = {}

    def meet(self, fields: Iterable[Any], record: Any) -> None:
        """Note what a record points at by these fields."""
        for field in fields:
            if isinstance(field, models.ForeignKey) and getattr(record, field.attname) is not None:
                self._met.setdefault(field.related_model, set()).add(getattr(record, field.attname))

    def learn(self) -> None:
        """Look up the names of all that was met: one question for each kind."""
        for model, keys in self._met.items():
            self._names.update({(model, key): name for key, name in _names(model, keys)})

    def of(self, field: Any, record: Any, *, places: int = 0) -> str:
        """What stands in a field of a record, with its unit; a number with at least so many places."""
        value = getattr(record, field.attname)
        if value is None or value == "":
            return str(dict(field.flatchoices).get(value, "") or EMPTY)
        if isinstance(field, BaseUnitField):
            unit = self._unit(field, record)
            text = _padded(for_field(value, unit), places)
            return f"{text}{'' if unit == '°' else ' '}{unit}"
        if isinstance(field, models.ForeignKey):
            return self._names.get((field.related_model, value), f"number {value}")
        if field.flatchoices:
            return str(dict(field.flatchoices).get(value, value))
        return _plain(value, places)

    def places(self, field: Any, record: Any) -> int:
        """How many places a number takes to be told exactly."""
        value = getattr(record, field.attname)
        if not isinstance(value, Decimal):
            return 0
        text = (
            for_field(value, self._unit(field, record))
            if isinstance(field, BaseUnitField)
            else _plain(value, 0)
        )
        return len(text.partition(".")[2])

    def _unit(self, field: BaseUnitField, record: Any) -> str:
        # Limits and tools say themselves what kind of quantity theirs is.
        kind = (
            getattr(record, "unit_kind", field.unit_kind) if field.unit_kind == "length" else field.unit_kind
        )
        return unit_for(kind, self.length_unit)


def _names(model: Any, keys: Iterable[Any]) -> Iterator[tuple[Any, str]]:
    """What these records were called last. Readings, photos and sealed sheets have no edits: those are as they are."""
    if is_tracked(model):
        yield from ((key, str(row.history_object)) for key, row in newest(model, keys).items())
    else:
        yield from (
            (row.pk, getattr(row, "in_words", str(row))) for row in model._base_manager.filter(pk__in=keys)
        )


def _padded(text: str, places: int) -> str:
    whole, _, part = text.replace("-", "−").partition(".")
    part = part.ljust(places, "0")
    return f"{whole}.{part}" if part else whole


def _plain(value: Any, places: int) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return _padded(f"{value.normalize():f}", places)
    if isinstance(value, datetime):
        return f"{timezone.localtime(value):%-d %b %Y %H:%M}"
    if isinstance(value, date):
        return f"{value:%-d %b %Y}"
    return _shortened(str(value))


def _shortened(text: str) -> str:
    lines = text.splitlines()
    if len(text) <= LONGEST and len(lines) <= 4:
        return " / ".join(lines)
    return (
        f"{' / '.join(lines[:3])[:LONGEST]} … ({len(lines)} lines)"
        if len(lines) > 1
        else f"{text[:LONGEST]} …"
    )


def telling(words: Words, field: Any, before: Any, after: Any) -> tuple[str, str]:
    """What a field said before and after: numbers with the same number of places, and never twice the same words."""
    places = max(words.places(field, before), words.places(field, after))
    was, became = (words.of(field, record, places=places) for record in (before, after))
    return was, f"{became}, changed further on" if was == became else became


def label_of(field: Any, words: Mapping[str, str]) -> str:
    """A field's trade words."""
    return words.get(field.name, str(field.verbose_name))
