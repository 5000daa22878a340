"""Stands for a sheet: the line of each, and what is not read at them yet."""

from collections.abc import Sequence

from valvetrain.gathering import HeadRecords
from valvetrain.sheets import history
from valvetrain.sheets.snapshot import StandLine
from valvetrain.sheets.words import when
from valvetrain.standstate import StandState
from valvetrain.status import STATUS_WORDS


def stand_line(stand: StandState, pads: int, unit: str) -> StandLine:
    """One stand with its pack and its thread; `pads` is how many it sits on."""
    thread = stand.engagement_now
    return StandLine(
        address=stand.address,
        label=stand.stand.label,
        pads=pads,
        pack=history.pack_words(stand.pack, unit),
        pack_total=stand.told_total,
        fitted_by=str(stand.pack.fitted_by) if stand.pack else "",
        fitted_at=when(stand.pack.fitted_at) if stand.pack else "",
        engagement=float(thread.engagement) if thread else None,
        asked=float(thread.required) if thread else None,
        enough=bool(thread.enough) if thread else None,
        past_thread=float(thread.past_thread) if thread else 0.0,
        status=STATUS_WORDS[stand.status],
    )


def unread(stands: Sequence[StandState], records: HeadRecords) -> list[str]:
    """What is not read yet, in words, stand by stand."""
    found = [] if records.build.cam_card else ["No cam card is entered."]
    if not stands:
        found.append("This head has no stands yet.")
    for stand in stands:
        if not stand.valves:
            found.append(f"{stand.address} has no valves yet.")
        found += [valve.problem for valve in stand.valves if valve.problem]
        left = ", ".join(v.address for v in stand.valves if not v.problem and not v.reads)
        if left:
            held = "with its pack in place" if stand.pack else "yet"
            found.append(f"{stand.address}: height not read {held} at {left}.")
        if not stand.pack and any(valve.verdict == "out" for valve in stand.valves):
            found.append(f"{stand.address}: no pack is fitted.")
        found += [f"Look again. {sentence}" for sentence in stand.changed]
    return list(dict.fromkeys(found))
