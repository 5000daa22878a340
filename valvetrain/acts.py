"""The amount and the act: what a stand needs, said the way it is said at the bench.

Sentences are made from a stand's state in the reader's own unit; nothing here asks the database.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from math import cos, radians

from builds.measures import show
from builds.uncertainty import plus_minus
from builds.verdicts import UNDECIDED
from valvetrain.budgetwords import settle_lines
from valvetrain.changes import NOTICEABLE
from valvetrain.drawer_count import taken_by
from valvetrain.geometry.packs import PackChoice
from valvetrain.packwords import amount, drawer_notes, lot_words, pack_words, shim_words
from valvetrain.shimming import missing_for
from valvetrain.standstate import StandState
from valvetrain.status import Status
from valvetrain.valvestate import ValveState


@dataclass(frozen=True)
class Thread:
    """Thread left in the head after a pack, in words; `short` when the bolts do not suit it."""

    words: str
    short: bool


@dataclass(frozen=True)
class Act:
    """What to do with a stand. `pieces` (thickness [in], count) are offered on a button when there is a pack to fit."""

    kind: str  # wait, read, in, look, pack, lower, drawer, tips
    headline: str
    lines: list[str] = field(default_factory=list)
    pieces: list[tuple[Decimal, int]] = field(default_factory=list)
    offers_pack: bool = False
    thread: Thread | None = None


def high_or_low(error: float, unit: str) -> str:
    """A height error in words.

    >>> high_or_low(0.00072, "in"), high_or_low(-0.024, "in"), high_or_low(0.0, "in")
    ('0.0007 in high', '0.024 in low', 'right')
    """
    if show(abs(error), unit).strip("0.") == "":
        return "right"
    return f"{amount(error, unit)} {'high' if error > 0 else 'low'}"


def act_for(stand: StandState, unit: str = "in") -> Act:
    """What this stand needs next."""
    status = stand.status
    waiting = [valve.problem for valve in stand.valves if valve.problem]
    if not stand.valves:
        return Act("wait", "No valve stands here. Give this stand its valves on the head's page.")
    if waiting:
        return Act("wait", waiting[0], waiting[1:] if len(set(waiting)) > 1 else [])
    if status in (Status.READ, Status.PROVE):
        return _read_act(stand, unit)
    unsettled = [valve for valve in stand.valves if valve.unsettled]
    if unsettled and status != Status.DONE:
        return _settle_act(unsettled, unit)
    if status in (Status.DONE, Status.LOOK):
        return _in_act(stand, unit)
    if status == Status.UNDECIDED:
        return _undecided_act(stand, unit)
    return _pack_act(stand, unit)


def _read_act(stand: StandState, unit: str) -> Act:
    left = [valve.address for valve in stand.valves if not valve.reads]
    names = " and ".join([", ".join(left[:-1]), left[-1]]) if len(left) > 1 else left[0]
    if stand.pack is None:
        return Act("read", f"Read the height at {names}: stand on, no shims.")
    pack = pack_words(stand.pack, unit)
    return Act(
        "read",
        f"Prove it: read {names} again with {pack} in place.",
        ["Stand bolts torqued as the maker says before you read."],
        thread=_thread(stand, stand.pad_packs, unit),
    )


def _settle_act(unsettled: list[ValveState], unit: str) -> Act:
    """The repeats of a valve disagree by more than the limit: no pack is worked out from their mean."""
    lines = [
        f"The readings of {valve.address} differ by {amount(valve.spread or 0.0, unit)}: "
        + ", ".join(read.reading.text for read in valve.reads)
        + ". Take the wrong one back, or read again."
        for valve in unsettled
    ]
    headline = "Read again before anything is fitted: the readings disagree by more than the limit."
    return Act("wait", headline, lines)


def _in_act(stand: StandState, unit: str) -> Act:
    worst = max(stand.valves, key=lambda valve: abs(valve.height_error or 0.0))
    told = high_or_low(worst.height_error or 0.0, unit)
    most = f"{worst.address} is {told}" if told == "right" else f"the most is {told}, at {worst.address}"
    with_what = "without shims" if not stand.pack or not stand.pack_total else "with the pack in place"
    headline = f"In {with_what}: {most}."
    if stand.status == Status.LOOK:
        return Act(
            "look",
            f"Look again: {headline[0].lower()}{headline[1:]}",
            [*stand.changed, "Read it once more to settle it."],
            thread=_thread(stand, stand.pad_packs, unit),
        )
    return Act("in", headline, thread=_thread(stand, stand.pad_packs, unit))


def _undecided_act(stand: StandState, unit: str) -> Act:
    """Too near the limit to call: what would settle it, and the pack that would bring it nearer the middle."""
    near = [valve for valve in stand.valves if valve.verdict == UNDECIDED]
    told = "; ".join(
        f"{valve.address} {high_or_low(valve.height_error or 0.0, unit)}, {plus_minus(valve.expanded or 0.0, unit)}"
        for valve in near
    )
    lines = [line for valve in near for line in settle_lines(valve, unit)]
    choice = stand.choice
    nearer = choice is not None and choice.within and abs(choice.thickness - stand.pack_total) > NOTICEABLE
    pieces = exact_pieces(stand, choice) if choice is not None and nearer else []
    if choice is not None and nearer:
        lines.append(f"Or make the pack {shim_words(pieces, unit)}: {_leaves(stand, choice, unit)}.")
    elif choice is not None and not choice.within and not choice.spread_too_wide:
        missing = missing_for(stand)
        if missing:
            lines.append(f"Or add {lot_words(missing, unit)} to the drawer: a pack with them brings it in.")
    return Act(
        "look",
        f"Undecided, too near the limit to call: {told}.",
        [*dict.fromkeys(lines), *stand.changed],
        pieces,
        nearer,
        thread=_thread(stand, stand.pad_packs, unit),
    )


def _pack_act(stand: StandState, unit: str) -> Act:
    choice = stand.choice
    if choice is None:
        return Act("wait", "The pack is worked out once every valve of this stand is read.")
    if choice.lower_by > 0 and not choice.within:
        return _lower_act(stand, choice, unit)
    if choice.within:
        return _fit_act(stand, choice, unit)
    if choice.spread_too_wide:
        return _tips_act(stand, choice, unit)
    return _drawer_act(stand, choice, unit)


def exact_pieces(stand: StandState, choice: PackChoice) -> list[tuple[Decimal, int]]:
    """The chosen pieces as they are written in the drawer, thickest first."""
    known = [piece.thickness for piece in stand.reach]
    return [
        (min(known, key=lambda kept: abs(float(kept) - thickness)), count)
        for thickness, count in choice.pieces
    ]


def _fit_act(stand: StandState, choice: PackChoice, unit: str) -> Act:
    pieces = exact_pieces(stand, choice)
    tilt = cos(radians(float(stand.stand.pad_tilt)))
    in_place = stand.pack_at_valves
    rise = (choice.thickness - sum(in_place) / len(in_place)) * tilt
    words = shim_words(pieces, unit)
    way = "Raise" if rise > 0 else "Lower"
    if not stand.pack_total:
        do = f"add {words} under each pad"
    elif pieces:
        do = f"make the pack {words} (now {pack_words(stand.pack, unit)})"
    else:
        do = "take the shims out"
    headline = f"{way} {amount(rise, unit)}: {do}, {_leaves(stand, choice, unit)}."
    lines = [*_drawer_lines(stand, pieces, unit), *stand.changed]
    if stand.verdict_left(choice.residuals) == UNDECIDED:
        most = plus_minus(max(valve.expanded or 0.0 for valve in stand.valves), unit)
        lines.insert(0, f"It would be undecided with it, too near the limit to call: {most}.")
    return Act("pack", headline, lines, pieces, True, thread=_thread(stand, [choice.thickness], unit))


def _drawer_lines(stand: StandState, pieces: list[tuple[Decimal, int]], unit: str) -> list[str]:
    """What fitting these does to the drawer, where the shop should know."""
    return drawer_notes(taken_by(pieces, stand.pad_count, stand.own_pieces), stand.shims, unit)


def _leaves(stand: StandState, choice: PackChoice, unit: str) -> str:
    """What a pack leaves: one figure for one valve, each valve's own for several."""
    told = [high_or_low(residual, unit) for residual in choice.residuals]
    if set(told) == {"right"}:
        return "leaves it right"
    if len(set(told)) == 1:
        return f"leaves {told[0]}"
    return "leaves " + ", ".join(
        f"{valve.address} {words}" for valve, words in zip(stand.valves, told, strict=True)
    )


def _lower_act(stand: StandState, choice: PackChoice, unit: str) -> Act:
    down = amount(choice.lower_by, unit)
    lines = [
        f"Mill the stand’s foot, or spot-face the pads, by {_along_pad(stand, choice.lower_by, unit)}: ask the stand "
        "maker how much it may lose.",
        f"Or bring the valve tips up by {down}: longer valves or lash caps. The mark then walks across on a tilted pad.",
        "Shims already in place come out first." if stand.pack_total else "",
        *_per_valve(stand, unit),
        *stand.changed,
    ]
    headline = f"The stand must come down {down}: shims cannot do it."
    return Act("lower", headline, [line for line in lines if line], [], bool(stand.pack_total))


def _along_pad(stand: StandState, amount_along_valve: float, unit: str) -> str:
    return amount(amount_along_valve / cos(radians(float(stand.stand.pad_tilt))), unit)


def _per_valve(stand: StandState, unit: str) -> list[str]:
    if len(stand.valves) < 2:
        return []
    told = ", ".join(
        f"{valve.address} {high_or_low(valve.height_error or 0.0, unit)}" for valve in stand.valves
    )
    return [f"As read: {told}."]


def _tips_act(stand: StandState, choice: PackChoice, unit: str) -> Act:
    """The valves disagree by more than one pack can serve: the pack that suits most, and the tip work on the rest."""
    most = stand.choice_for_most
    served = most if most is not None and most.within else choice
    pieces = exact_pieces(stand, served)
    words = shim_words(pieces, unit)
    left_over = list(zip(stand.valves, stand.left_over(served), strict=True))
    high = stand.tolerance.high or 0.0
    lines = []
    for valve, residual in left_over:
        if abs(residual) > high:
            work = (
                "a longer tip or a lash cap there"
                if residual > 0
                else "a shorter tip, as far as the maker allows,"
            )
            lines.append(f"{valve.address} stays {high_or_low(residual, unit)}: {work} would take it out.")
    fine = [valve.address for valve, residual in left_over if abs(residual) <= high]
    suits = f"{words} suits {' and '.join(fine)}" if served is most else f"the least wrong is {words}"
    left = ", ".join(f"{valve.address} {high_or_low(residual, unit)}" for valve, residual in left_over)
    headline = f"No one pack suits all its valves: {suits}, leaves {left}."
    fit = bool(served.thickness) and choice.lower_by == 0
    return Act(
        "tips",
        headline,
        [*lines, *_drawer_lines(stand, pieces, unit), *stand.changed],
        pieces,
        fit,
        thread=_thread(stand, [served.thickness], unit),
    )


def _drawer_act(stand: StandState, choice: PackChoice, unit: str) -> Act:
    pieces = exact_pieces(stand, choice)
    ideal = amount(choice.ideal, unit)
    lines = []
    missing = missing_for(stand)
    if missing:
        lines.append(f"Missing: add {lot_words(missing, unit)} to the drawer and it comes in.")
    lines.append(
        f"The least wrong from the drawer is {shim_words(pieces, unit)}, {_leaves(stand, choice, unit)}."
    )
    less = " less its uncertainty" if stand.valves[0].rule.guard_band else ""
    headline = f"It needs a pack of {ideal}, and the drawer cannot make one within the limit{less}."
    return Act(
        "drawer",
        headline,
        [*lines, *stand.changed],
        pieces,
        bool(pieces),
        thread=_thread(stand, [choice.thickness], unit),
    )


def _thread(stand: StandState, packs: list[float], unit: str) -> Thread | None:
    """Thread left after a pack, or after each pad's own; None where the bolt's sizes do not make sense."""
    verdict = stand.engagement_under(packs)
    if verdict is None:
        return None
    engaged, asked = amount(float(verdict.engagement), unit), amount(float(verdict.required), unit)
    if verdict.enough:
        words = f"Thread in the head: {engaged}, asked {asked}: enough."
    else:
        words = (
            f"Thread in the head: {engaged}, asked {asked}: too little. Use longer bolts before you torque."
        )
    if float(verdict.past_thread) > 0:
        words += (
            f" The bolt runs {amount(float(verdict.past_thread), unit)} past the thread: it may bottom first."
        )
    return Thread(words, short=not verdict.enough or float(verdict.past_thread) > 0)


def valve_words(valve: ValveState, unit: str = "in") -> str:
    """What a valve's height comes to, in words: 0.024 in low."""
    return "" if valve.height_error is None else high_or_low(valve.height_error, unit)
