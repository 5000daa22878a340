"""Lobe lift and valve lift read together at several points: readings like every other, the lobe's beside the valve's."""

from dataclasses import dataclass, replace
from decimal import Decimal

from builds.characteristics import Characteristic, register
from builds.measures import MeasureError, parse, show
from builds.models import Build, Person, Reading
from builds.recording import Entry, EntryRefused, record

LIFT_PAIR = Characteristic(
    key="lift_pair", name="valve lift at a lobe lift", applies_to="valve", low=Decimal(0), high=Decimal("1.5"),
    how_measured="Two dial indicators, one on the lifter and one on the retainer, read together.",
)  # fmt: skip
# Lobe lifts beyond this are typing errors [in].
MOST_LOBE_LIFT = Decimal("0.8")
# More pairs than this on one valve say no more than these.
MOST_PAIRS = 40


@dataclass(frozen=True)
class LiftPair:
    """A reading of the valve's lift with the lobe's lift that it was read at [in]."""

    reading: Reading
    lobe_lift: float
    valve_lift: float


def register_pairs() -> None:
    """Put the pair into the registry of what may be measured."""
    register(LIFT_PAIR)


def pairs_at(build: Build, address: str) -> list[LiftPair]:
    """The pairs that stand at a valve, by lobe lift; one query."""
    found = Reading.objects.standing().filter(build=build, position=address, characteristic=LIFT_PAIR.key)
    pairs = [
        LiftPair(reading, float(reading.context["lobe_lift"]["value"]), float(reading.value or 0))
        for reading in found.select_related("taken_by", "instrument")
    ]
    return sorted(pairs, key=lambda pair: (pair.lobe_lift, pair.reading.pk))


def record_pair(build: Build, person: Person, entry: Entry, lobe_text: str) -> tuple[Reading, bool]:
    """Write a pair: `entry` holds the valve's lift. Safe to repeat. Raises `EntryRefused` with a sentence."""
    try:
        lobe = parse(lobe_text, unit=entry.unit or None)
    except MeasureError as error:
        raise EntryRefused(
            "lobe_lift", f"{entry.position}, lobe lift: {error.sentence}", error.offers
        ) from None
    if lobe.base > MOST_LOBE_LIFT:
        most = show(MOST_LOBE_LIFT, lobe.unit, with_unit=True)
        raise EntryRefused(
            "lobe_lift",
            f"{entry.position}: a lobe does not lift {lobe.text} {lobe.unit}. Type what the dial on the lifter shows, "
            f"up to {most}.",
        )
    known = Reading.objects.filter(client_id=entry.client_id).first()
    kept = {"text": lobe.text, "unit": lobe.unit, "value": str(lobe.base)}
    if known is not None and known.context.get("lobe_lift") != kept:
        raise EntryRefused(
            "lobe_lift",
            "This pair is in the book with another lobe lift. Take that one back, then type it again.",
        )
    if known is None and len(pairs_at(build, entry.position)) >= MOST_PAIRS:
        raise EntryRefused(
            "lobe_lift", f"{entry.position} has {MOST_PAIRS} pairs. Take some back before adding another."
        )
    how = f"lobe at {show(lobe.base, lobe.unit, with_unit=True)}"
    written = replace(entry, characteristic=LIFT_PAIR.key, how=how, context={"lobe_lift": kept})
    return record(build, person, written)
