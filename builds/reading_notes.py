"""What the list of readings says of how each was taken, beside its value: each floor adds what it knows."""

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

from builds.measures import show
from builds.models import Reading
from builds.steps import steps

# Each takes the readings of a page and the reader's unit of length, and gives a line for some, by their keys.
NoteProvider = Callable[[list[Reading], str], Mapping[int, str]]
reading_notes: list[NoteProvider] = []


def with_notes(readings: Iterable[Reading], length_unit: str) -> list[Reading]:
    """Give each reading of a page its `how_taken`, in a constant number of queries."""
    page = list(readings)
    told: dict[int, list[str]] = {}
    for provider in (corrections, *reading_notes):
        for key, line in provider(page, length_unit).items():
            told.setdefault(key, []).append(line)
    for reading in page:
        reading.how_taken = told.get(reading.pk, [])
    return page


def corrections(readings: list[Reading], length_unit: str) -> dict[int, str]:
    """What belongs to the tool of a reading, as it was typed above the fields of its step."""
    names = {each.key: each.name for step in steps() for each in step.corrections}
    found = {}
    for reading in readings:
        kept = reading.context.get("corrections") or {}
        parts = [
            f"{names.get(key, key.replace('_', ' '))} {show(Decimal(each['value']), length_unit, with_unit=True)}"
            for key, each in kept.items()
        ]
        if parts and not reading.struck_out:
            found[reading.pk] = f"with {', '.join(parts)}"
    return found
