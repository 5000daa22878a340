"""What was ever out of its limit, and what was corrected: listed as found, even after rework."""

from collections.abc import Iterable
from decimal import Decimal
from statistics import fmean

from builds import characteristics
from builds.logcells import verdict
from builds.measures import show, unit_for
from builds.models import Reading
from builds.worklog import WorkLog
from valvetrain import packwords
from valvetrain.acts import high_or_low
from valvetrain.characteristics import HEIGHT_WAYS
from valvetrain.gathering import HeadRecords, context_of
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import FittedPack
from valvetrain.sheets.snapshot import CorrectionLine, OutLine, ReadingLine
from valvetrain.sheets.words import judged_words, when
from valvetrain.standstate import StandState
from valvetrain.targets import read_height
from valvetrain.valvestate import HeightRead, ValveState, within


def pack_words(pack: FittedPack | None, unit: str) -> str:
    """A pack as it is called, or that there was none."""
    told = packwords.pack_words(pack, unit)
    return told if pack is None or pack.measured_total is None else f"{told}, by micrometer"


def reading_line(read: HeightRead) -> ReadingLine:
    """One height reading as it is printed."""
    reading = read.reading
    feeler = reading.context.get("foot_feeler") or {} if context_of(reading)[1] else {}
    return ReadingLine(
        typed=reading.as_typed,
        way=reading.what,
        feeler=f"{feeler['text']} {feeler['unit']}" if feeler else "",
        top=read.top,
        instrument=reading.instrument.mark if reading.instrument else "",
        by=str(reading.taken_by),
        at=when(reading.taken_at),
    )


def sets_of(valve: ValveState, stand: StandState, records: HeadRecords) -> list[list[HeightRead]]:
    """A valve's height readings in sets: before any pack, then with each pack that was fitted, in order."""
    order = ["", *(str(pack.client_id) for pack in stand.packs)]
    sets: list[list[HeightRead]] = [[] for _ in order]
    if valve.arm is None:
        return sets
    for reading in records.build.heights.get(valve.address, []):
        pack = context_of(reading)[0]
        if pack not in order:
            continue
        try:
            sets[order.index(pack)].append(read_height(reading, valve.inputs, records.gauges))
        except GeometryError:  # the gauge's step is gone: the valve's own problem says so
            continue
    return sets


def found_error(valve: ValveState, sets: list[list[HeightRead]]) -> float | None:
    """How high the shaft stood before any pack; negative: low."""
    return _error(valve, sets[0])


def _error(valve: ValveState, reads: list[HeightRead]) -> float | None:
    if not reads or valve.target_top is None:
        return None
    return fmean(read.top for read in reads) - valve.target_top


def ever_out(
    valve: ValveState, stand: StandState, sets: list[list[HeightRead]], unit: str
) -> Iterable[OutLine]:
    """Each set of this valve that was out, by its mean or by any one reading, judged by today's target."""
    for index, reads in enumerate(sets):
        error = _error(valve, reads)
        if error is None or valve.target_top is None:
            continue
        worst = max((read.top - valve.target_top for read in reads), key=abs)
        if within(error, valve.tolerance) and within(worst, valve.tolerance):
            continue
        mean_in = within(error, valve.tolerance)
        shown = worst if mean_in else error
        yield OutLine(
            address=valve.address,
            when=when(reads[-1].reading.taken_at),
            pack=pack_words(stand.packs[index - 1] if index else None, unit),
            error=shown,
            came_to=high_or_low(shown, unit),
            readings="; ".join(reading_line(read).words for read in reads),
            verdict="" if mean_in else _verdict(valve, reads),
            then=_what_was_done(valve, stand, sets, index, unit),
        )


def _what_was_done(
    valve: ValveState, stand: StandState, sets: list[list[HeightRead]], index: int, unit: str
) -> str:
    """What followed an out set: the next pack, and what the height came to with it."""
    if index >= len(stand.packs):
        if within(_error(valve, sets[index]) or 0.0, valve.tolerance):
            return f"One reading of several; the mean is {_verdict(valve, sets[index])}."
        return "Nothing yet: it stands so now."
    pack = stand.packs[index]
    done = f"{pack_words(pack, unit)} fitted {when(pack.fitted_at)} by {pack.fitted_by}"
    error = _error(valve, sets[index + 1])
    if error is None:
        newer = len(stand.packs) > index + 1
        return f"{done}; {'not read before the next pack' if newer else 'not read again yet'}."
    return f"{done}; read again {judged_words(high_or_low(error, unit), _verdict(valve, sets[index + 1]))}."


def _verdict(valve: ValveState, reads: list[HeightRead]) -> str:
    """The verdict on a set's mean, by the shop's own rule."""
    return valve.judge(_error(valve, reads), valve.tolerance, valve.budget_of(reads))


def corrections(
    readings: Iterable[Reading], states: dict[str, ValveState], records: HeadRecords | None, log: WorkLog
) -> list[CorrectionLine]:
    """Every correction and every striking-out among these readings, oldest first."""
    return [
        CorrectionLine(
            address=reading.position,
            what=reading.what,
            old=reading.corrects.as_typed or "striking-out",
            old_by=str(reading.corrects.taken_by),
            came_to=_came_to(reading.corrects, states.get(reading.position), records, log),
            new=reading.as_typed if not reading.struck_out else "struck out",
            reason=reading.reason,
            by=str(reading.taken_by),
            at=when(reading.taken_at),
        )
        for reading in readings
        if reading.corrects is not None
    ]


def _came_to(old: Reading, valve: ValveState | None, records: HeadRecords | None, log: WorkLog) -> str:
    """What a taken-back reading had come to, so that nothing which was out is hidden by a correction."""
    unit = log.length_unit
    if old.value is None:
        return ""
    if old.characteristic not in HEIGHT_WAYS:
        return _step_came_to(old, old.value, log)
    if valve is None or records is None or valve.arm is None or valve.target_top is None:
        return ""
    try:
        read = read_height(old, valve.inputs, records.gauges)
    except GeometryError:
        return ""
    error = read.top - valve.target_top
    return judged_words(high_or_low(error, unit), _verdict(valve, [read]))


def _step_came_to(old: Reading, value: Decimal, log: WorkLog) -> str:
    """A value of a step in the reader's unit, and its verdict by the shop's rule where it is judged."""
    try:
        characteristic = characteristics.get(old.characteristic)
    except characteristics.UnknownCharacteristic:
        return ""
    limit = log.limits.get(characteristic.limit_key, old.position) if characteristic.limit_key else None
    shown = show(value, unit_for(characteristic.unit_kind, log.length_unit), with_unit=True)
    standard = log.standard_of(old.characteristic, [old])
    return judged_words(shown, verdict(value, limit, log.tools.rule, standard))
