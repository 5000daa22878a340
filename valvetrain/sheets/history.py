"""What was ever out of its limit, and what was corrected: listed as found, even after rework."""

from collections.abc import Iterable
from statistics import fmean

from builds.measures import show
from builds.models import Reading
from valvetrain import packwords
from valvetrain.acts import high_or_low
from valvetrain.characteristics import HEIGHT_WAYS
from valvetrain.gathering import HeadRecords, context_of
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import FittedPack
from valvetrain.sheets.snapshot import CorrectionLine, OutLine
from valvetrain.sheets.words import when
from valvetrain.states import HeightRead, StandState, ValveState, within
from valvetrain.targets import read_height


def pack_words(pack: FittedPack | None, unit: str) -> str:
    """A pack as it is called, or that there was none."""
    told = packwords.pack_words(pack, unit)
    return told if pack is None or pack.measured_total is None else f"{told}, by micrometer"


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
        shown = error if not within(error, valve.tolerance) else worst
        yield OutLine(
            address=valve.address,
            when=when(reads[-1].reading.taken_at),
            pack=pack_words(stand.packs[index - 1] if index else None, unit),
            error=shown,
            readings=", ".join(read.reading.as_typed for read in reads),
            then=_what_was_done(valve, stand, sets, index, unit),
        )


def _what_was_done(
    valve: ValveState, stand: StandState, sets: list[list[HeightRead]], index: int, unit: str
) -> str:
    """What followed an out set: the next pack, and what the height came to with it."""
    if index >= len(stand.packs):
        if within(_error(valve, sets[index]) or 0.0, valve.tolerance):
            return "One reading of several; the mean is in."
        return "Nothing yet: it stands so now."
    pack = stand.packs[index]
    done = f"{pack_words(pack, unit)} fitted {when(pack.fitted_at)} by {pack.fitted_by}"
    error = _error(valve, sets[index + 1])
    if error is None:
        newer = len(stand.packs) > index + 1
        return f"{done}; {'not read before the next pack' if newer else 'not read again yet'}."
    verdict = "in" if within(error, valve.tolerance) else "out"
    return f"{done}; read again: {high_or_low(error, unit)}, {verdict}."


def corrections(
    readings: Iterable[Reading], states: dict[str, ValveState], records: HeadRecords, unit: str
) -> list[CorrectionLine]:
    """Every correction and every striking-out among these readings, oldest first."""
    return [
        CorrectionLine(
            address=reading.position,
            what=reading.what,
            old=reading.corrects.as_typed or "striking-out",
            old_by=str(reading.corrects.taken_by),
            came_to=_came_to(reading.corrects, states.get(reading.position), records, unit),
            new=reading.as_typed if not reading.struck_out else "struck out",
            reason=reading.reason,
            by=str(reading.taken_by),
            at=when(reading.taken_at),
        )
        for reading in readings
        if reading.corrects is not None
    ]


def _came_to(old: Reading, valve: ValveState | None, records: HeadRecords, unit: str) -> str:
    """What a taken-back height reading had come to, so that nothing which was out is hidden by a correction."""
    if old.value is None:
        return ""
    if old.characteristic not in HEIGHT_WAYS:
        return show(old.value, unit)
    if valve is None or valve.arm is None or valve.target_top is None:
        return ""
    try:
        error = read_height(old, valve.inputs, records.gauges).top - valve.target_top
    except GeometryError:
        return ""
    return f"{high_or_low(error, unit)}, {'in' if within(error, valve.tolerance) else 'out'}"
