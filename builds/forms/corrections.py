"""What belongs to the tool of a reading: typed once above the fields of a step, and kept with each reading."""

from django.http import QueryDict

from builds.measures import MeasureError, parse, show
from builds.recording import EntryRefused
from builds.steps import Correction, Step


def read_corrections(data: QueryDict, step: Step, characteristic: str) -> dict[str, dict[str, str]]:
    """The corrections that were typed for a characteristic, as a reading keeps them; nothing typed is none."""
    found = {}
    for correction in step.corrections:
        typed = data.get(correction.key, "").strip()
        if correction.characteristic == characteristic and typed:
            found[correction.key] = _read(correction, typed, data.get("unit", ""))
    return found


def _read(correction: Correction, typed: str, unit: str) -> dict[str, str]:
    try:
        measure = parse(typed, unit=unit or None, signed=True)
    except MeasureError as error:
        raise EntryRefused(
            correction.key, f"{correction.name.capitalize()}: {error.sentence}", error.offers
        ) from None
    if abs(measure.base) > correction.largest:
        largest = show(correction.largest, measure.unit, with_unit=True)
        raise EntryRefused(
            correction.key,
            f"{correction.name.capitalize()}: {measure.text} {measure.unit} is more than any has, {largest} at most. "
            "Type what the checking tool’s end adds to the length, minus where it takes away.",
        )
    return {"text": measure.text, "unit": measure.unit, "value": str(measure.base)}
