"""An engine as it came back: what was read of it before anybody worked on it. Makes no query of its own.

A return's job may go on to be worked on. What counts as found is what was read with the packs that it came with, before
its stands were slid, and of each thing in the log the first set.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from builds.models import Reading
from builds.worklog import WorkLog, mean_of
from valvetrain.characteristics import NET_LIFT
from valvetrain.gathering import HeadRecords, context_of
from valvetrain.mark_log import made_with
from valvetrain.mark_steps import MARK_KEYS
from valvetrain.models import StandMove


@dataclass(frozen=True)
class LogReads:
    """The log of one job: its first sets, as found, or its newest, as it left. Values in base units."""

    log: WorkLog
    as_found: bool

    def readings(self, address: str, key: str) -> list[Reading]:
        """The readings of one thing that count."""
        sets = self.log.sets_at.get(address, {}).get(key)
        return list(sets[min(sets) if self.as_found else max(sets)]) if sets else []

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
        at = self.log.sets_at.get(address, {})
        found = [reading for key in MARK_KEYS for kept in at.get(key, {}).values() for reading in kept]
        return sorted(found, key=lambda reading: reading.pk)


def as_it_came(
    records: HeadRecords, reads: LogReads, left_with: Mapping[str, Sequence[StandMove]]
) -> HeadRecords:
    """A head of a return without the work that was done on it since: packs, slides, and what was read after them.

    `left_with` has the slides of each stand on the job it left with, by the stand's address.
    """
    packs, moves, heights = {}, {}, defaultdict(list)
    for stand in records.stands:
        fitted = records.packs.get(stand.pk, [])
        packs[stand.pk] = [pack for pack in fitted if pack.carried]
        before = {move.moved_at for move in left_with.get(stand.address, ())}
        slid = records.moves.get(stand.pk, [])
        moves[stand.pk] = [move for move in slid if move.moved_at in before]
        work = _Work(
            frozenset(str(pack.client_id) for pack in fitted if not pack.carried),
            tuple(move for move in slid if move.moved_at not in before),
        )
        for valve in records.valves_on[stand.pk]:
            kept = records.build.heights.get(valve.address, [])
            heights[valve.address] = [reading for reading in kept if work.is_before(reading)]
    lifts = defaultdict(list)
    for address in records.positions:
        lifts[address] = reads.readings(address, NET_LIFT.key)
    build = replace(records.build, heights=heights, lifts=lifts)
    return replace(records, build=build, packs=packs, moves=moves)


@dataclass(frozen=True)
class _Work:
    """What was done under one stand on the return's own job."""

    packs: frozenset[str]
    moves: tuple[StandMove, ...]

    def is_before(self, reading: Reading) -> bool:
        """Whether a height was read before any of it."""
        pack, _feeler, _held = context_of(reading)
        return pack not in self.packs and not any(move.moved_at <= reading.taken_at for move in self.moves)


def marks_as_found(
    records: HeadRecords, came: HeadRecords, stand_pk: int, readings: Iterable[Reading]
) -> list[Reading]:
    """Of what was read of a mark, that which was made before any work on its stand."""
    packs, moves = records.packs.get(stand_pk, []), records.moves.get(stand_pk, [])
    kept = {str(pack.client_id) for pack in came.packs.get(stand_pk, [])}
    slid = {str(move.client_id) for move in came.moves.get(stand_pk, [])}
    done = {str(pack.client_id) for pack in packs} - kept
    since = {str(move.client_id) for move in moves} - slid
    found = []
    for reading in readings:
        pack, move = made_with(reading, packs, moves)
        if pack not in done and move not in since:
            found.append(reading)
    return found
