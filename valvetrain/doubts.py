"""Questions about a height reading that a person can hardly have meant, asked before it is written."""

from builds.measures import MeasureError, parse
from builds.models import Reading
from builds.recording import Entry, EntryQuestioned
from valvetrain.characteristics import HEIGHT_WAYS
from valvetrain.gathering import HeadRecords
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import Valve
from valvetrain.packwords import amount
from valvetrain.targets import read_height, valve_state
from valvetrain.valvestate import ValveState

# No stand is this far off before its shims [in]; a wrong way, a wrong unit or a wrong valve is.
FAR_OFF = 0.25


def held_limit(records: HeadRecords) -> dict[str, str]:
    """The limit and the rule that held when a height was read, as the reading keeps them."""
    limit = records.limits.get("stand_height")
    if limit is None or limit.low is None or limit.high is None:
        return {}
    rule = records.tools.rule
    return {
        "limit_low": repr(limit.low),
        "limit_high": repr(limit.high),
        "guard_band": "on" if rule.guard_band else "off",
        "coverage": repr(rule.coverage),
    }


def question_height(records: HeadRecords, valve: Valve, entry: Entry) -> None:
    """Ask about a height far from its target, one read another way than those before it, or one far from them."""
    stand = next(each for each in records.stands if each.pk == valve.stand_id)
    state = valve_state(records, stand, valve, str(entry.context.get("pack", "")))
    top = _top(records, state, entry)
    if top is None or state.target_top is None:
        return
    unit = "mm" if entry.unit == "mm" else "in"
    off = top - state.target_top
    if abs(off) > FAR_OFF:
        raise EntryQuestioned(
            "value",
            f"{entry.position}: this would put the shaft {amount(off, unit)} {'high' if off > 0 else 'low'}. Is it read "
            "this way, at this valve, in this unit?",
        )
    before = [read for read in state.reads if entry.corrects is None or read.reading.pk != entry.corrects.pk]
    if not before:
        return
    ways = {read.reading.characteristic for read in before}
    if entry.characteristic not in ways:
        way = HEIGHT_WAYS[before[-1].reading.characteristic].name
        raise EntryQuestioned(
            "value",
            f"{entry.position} was read as {way} with this pack already ({before[-1].reading.text}), and both would be "
            "averaged. Is that meant? If not, take the other one back first.",
        )
    mean = sum(read.top for read in before) / len(before)
    low, high = state.tolerance.low, state.tolerance.high
    if low is not None and high is not None and abs(top - mean) > high - low:
        raise EntryQuestioned(
            "value",
            f"{entry.position}: this is {amount(top - mean, unit)} from what was read before with this pack, and the two "
            "would be averaged. Is it meant? If the one before was wrong, take that back first.",
        )


def _top(records: HeadRecords, state: ValveState, entry: Entry) -> float | None:
    """Where the entry would put the top of the shaft [in]; None where that cannot be worked out."""
    if state.arm is None:
        return None
    way = HEIGHT_WAYS[entry.characteristic]
    try:
        value = parse(entry.text, unit=entry.unit or None, signed=way.signed).base
        if not way.is_plausible(value):
            return None
        reading = Reading(
            characteristic=entry.characteristic, value=value, text=entry.text, instrument=entry.instrument,
            context=entry.context,
        )  # fmt: skip
        return read_height(reading, state.inputs, records.gauges).top
    except (MeasureError, GeometryError):
        return None  # said with its own sentence elsewhere
