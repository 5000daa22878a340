"""The net lift that a valve really had as found: measured, else by its lash, else taken over and said so. No query."""

from dataclasses import dataclass, replace

from builds.measures import show
from valvetrain.as_found_reads import LogReads
from valvetrain.as_found_springs import Figure
from valvetrain.changes import MEASURED, Inputs, inputs_of
from valvetrain.gathering import HeadRecords
from valvetrain.models import Valve

BY_LASH = "worked out with the lash as found"
OTHER_PAPERS = "worked out from this job’s own cam card and rockers, which are not those it left with"
SAME = 1e-9


@dataclass(frozen=True)
class LashRead:
    """A lash as found beside the one that the lift was worked out with [in]."""

    found: float
    left: float
    hot: bool

    @property
    def more(self) -> float:
        """How much wider; negative: tighter."""
        return self.found - self.left

    def words(self, unit: str) -> str:
        """lash 0.0270 in, which was 0.0040 in."""
        told = show(self.found, unit, with_unit=True), show(self.left, unit, with_unit=True)
        return f"{'hot ' if self.hot else ''}lash {told[0]}, which was {told[1]}"


def lash_read(valve: Valve, records: HeadRecords, found: LogReads, left: LogReads | None) -> LashRead | None:
    """The lash as found beside the lash it left with; None where either is not known at the same heat."""
    card = records.build.cam_card
    is_hot = card is not None and card.lash_is_hot
    for key in ("lash_hot", "lash_cold") if is_hot else ("lash_cold", "lash_hot"):
        now = found.value(valve.address, key)
        if now is None:
            continue
        then = None if left is None else left.value(valve.address, key)
        if then is None and card is not None and is_hot == (key == "lash_hot"):
            then = float(card.lash(valve.kind))
        if then is not None:
            return LashRead(now, then, key == "lash_hot")
    return None


def inputs_as_found(
    records: HeadRecords, valve: Valve, then: Inputs | None, lash: LashRead | None
) -> tuple[Inputs, Figure]:
    """What decides a valve as found, with the net lift that it really had, and how that lift is known.

    `records` are the return's, before any work; `then` the inputs it left with.
    """
    inputs = inputs_of(records, valve)
    if records.build.lifts.get(valve.address):
        return inputs, Figure(inputs.lift, MEASURED)
    same_papers = records.build.same_lift_papers(valve.kind)
    from_then = then is not None and then.lift is not None and same_papers
    base = then if from_then and then is not None else inputs
    if base.lift is None:
        why = f"The net lift of {valve.address} is not known: it was not measured, and there is no cam card."
        return inputs, Figure(why=why)
    known = replace(base, arm=inputs.arm, square_at=inputs.square_at, ratio=inputs.ratio)
    if lash is not None:
        lift = base.lift - lash.more
        if lift <= 0:
            why = f"The lash of {valve.address} is more than its whole lift: one of them was misread."
            return replace(known, lift=None), Figure(why=why)
        return replace(known, lift=lift, lash=known.lash + lash.more), Figure(lift, BY_LASH)
    if from_then:
        return known, Figure(base.lift, base.lift_source, borrowed=True)
    return known, Figure(base.lift, OTHER_PAPERS if then is not None else base.lift_source)
