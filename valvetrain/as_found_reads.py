"""The log of a job as what an engine really had is worked out from it, and its heads as they came in. Makes no query.

A return's job may go on to be worked on: `builds.found` says what of its log was found.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from builds.models import Reading
from builds.worklog import WorkLog, mean_of
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT
from valvetrain.gathering import HeadRecords
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.work_done import WorkDone


@dataclass(frozen=True)
class LogReads:
    """The log of one job: what counts of each thing, of its newest set. Values in base units."""

    log: WorkLog

    def readings(self, address: str, key: str) -> list[Reading]:
        """The readings of one thing that count."""
        sets = self.log.sets_at.get(address, {}).get(key)
        return list(sets[max(sets)]) if sets else []

    def value(self, address: str, key: str) -> float | None:
        """Their mean; None where there are none."""
        readings = self.readings(address, key)
        return float(mean_of(readings)) if readings else None

    def known(self, address: str, key: str) -> float | None:
        """What is known otherwise than by a reading: of the card, or of a sheet."""
        found = self.log.known_of(address, key)
        return None if found is None else float(found)

    def of_the_mark(self, address: str) -> list[Reading]:
        """Everything that was read of a witness mark, in the order in which it was written."""
        return self._in_order(address, MARK_KEYS)

    def heights(self, address: str) -> list[Reading]:
        """Everything that was read of the shaft's height, whichever way, in the order in which it was written."""
        return self._in_order(address, HEIGHT_WAYS)

    def _in_order(self, address: str, keys: Iterable[str]) -> list[Reading]:
        at = self.log.sets_at.get(address, {})
        found = [reading for key in keys for kept in at.get(key, {}).values() for reading in kept]
        return sorted(found, key=lambda reading: reading.pk)


def as_it_came(records: HeadRecords, reads: LogReads, work: WorkDone) -> HeadRecords:
    """A head of a job that looks again without the work that was done there: packs, slides, and what was read since.

    `reads` has its log as found, `work` what was done.
    """
    packs = {
        stand: [pack for pack in fitted if str(pack.client_id) not in work.packs]
        for stand, fitted in records.packs.items()
    }
    moves = {
        stand: [move for move in slid if str(move.client_id) not in work.moves]
        for stand, slid in records.moves.items()
    }
    heights, lifts = defaultdict(list), defaultdict(list)
    for address in records.positions:
        heights[address] = reads.heights(address)
        lifts[address] = reads.readings(address, NET_LIFT.key)
    return replace(
        records, build=replace(records.build, heights=heights, lifts=lifts), packs=packs, moves=moves
    )
