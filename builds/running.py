"""How far an engine ran as a job left it: the entries of its running record, added up. Nothing of it is stored."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property

from builds.amounts import counted
from builds.models import Build, RunEntry, StatedAs

NOTHING = Decimal(0)
# Where an entry stands that is not written yet: after all others of its day.
NOT_YET = float("inf")
# Unit → how much of it.
Totals = Mapping[str, Decimal]


@dataclass(frozen=True)
class Ran:
    """One entry that stands, with what the engine had run in its unit after it, since the job went out."""

    entry: RunEntry
    total: Decimal


class RunningRecord:
    """The running of one job, from all its entries: those that were corrected too, so that they lead to what stands."""

    def __init__(self, entries: Iterable[RunEntry]) -> None:
        self.all = list(entries)
        self._instead = {entry.corrects_id: entry for entry in self.all if entry.corrects_id is not None}
        self._known = {entry.pk: entry for entry in self.all}
        standing = [entry for entry in self.all if entry.pk not in self._instead and entry.amount is not None]
        self.lines: list[Ran] = []
        totals: dict[str, Decimal] = defaultdict(lambda: NOTHING)
        for entry in sorted(standing, key=self._place):
            assert entry.amount is not None
            before = NOTHING if entry.stated_as == StatedAs.TOTAL else totals[entry.unit]
            totals[entry.unit] = before + entry.amount
            self.lines.append(Ran(entry, totals[entry.unit]))

    @cached_property
    def totals(self) -> dict[str, Decimal]:
        """How much the engine ran in all, by unit."""
        return {line.entry.unit: line.total for line in self.lines}

    @property
    def main_unit(self) -> str:
        """The unit in which most entries are; nothing before the first."""
        units = [line.entry.unit for line in self.lines]
        return max(dict.fromkeys(units), key=units.count) if units else ""

    def up_to(self, day: date) -> dict[str, Decimal]:
        """How much it had run at the end of a day, by unit."""
        return {line.entry.unit: line.total for line in self.lines if line.entry.ran_on <= day}

    def lines_at(self, look: Build) -> list[Ran]:
        """What stands of what it had run when a check or a return looked at it.

        All of the days before, so that what is told later of an earlier day still counts. Of the day itself: to a
        return all of it, since an engine that is back runs no more; to a check what came up to the entry that was the
        last one when the check was opened. A corrected entry leads to what stands.
        """
        place = (look.opened_on, NOT_YET) if look.is_return else self._place_of(look.after_run_id)
        return [
            line
            for line in self.lines
            if line.entry.ran_on < look.opened_on or (place is not None and self._place(line.entry) <= place)
        ]

    def at(self, look: Build) -> dict[str, Decimal]:
        """How much it had run when a check or a return looked at it, by unit."""
        return {line.entry.unit: line.total for line in self.lines_at(look)}

    def last_up_to(self, day: date) -> RunEntry | None:
        """The last entry that stands up to and with a day."""
        return next((line.entry for line in reversed(self.lines) if line.entry.ran_on <= day), None)

    def in_order(self) -> list[RunEntry]:
        """All entries in the order in which the engine ran: those that were corrected stand before what corrects them."""
        return sorted(self.all, key=lambda entry: (*self._place(entry), entry.pk or NOT_YET))

    def instead_of(self, entry: RunEntry) -> RunEntry | None:
        """The entry that corrects one or strikes it out; None where it stands."""
        return self._instead.get(entry.pk)

    def with_entry(self, new: RunEntry) -> "RunningRecord":
        """The record as it would be with an entry that is not written yet."""
        return RunningRecord([*self.all, new])

    def _place_of(self, entry_pk: int | None) -> tuple[date, float] | None:
        entry = self._known.get(entry_pk) if entry_pk is not None else None
        while entry is not None and entry.pk in self._instead and not self._instead[entry.pk].struck_out:
            entry = self._instead[entry.pk]
        return None if entry is None else self._place(entry)

    def _place(self, entry: RunEntry) -> tuple[date, float]:
        """Where an entry stands in its record: on the day it says; within that day, where the first one of it stood."""
        first = entry
        while first.corrects_id is not None and first.corrects_id in self._known:
            first = self._known[first.corrects_id]
        return entry.ran_on, NOT_YET if first.pk is None else first.pk


def records_of(build_ids: Iterable[int]) -> dict[int, RunningRecord]:
    """The running of several jobs, in one query; an empty record for one that has no entry."""
    ids = list(build_ids)
    found: dict[int, list[RunEntry]] = {build_id: [] for build_id in ids}
    for entry in RunEntry.objects.filter(build__in=ids).order_by("ran_on", "pk"):
        found[entry.build_id].append(entry)
    return {build_id: RunningRecord(entries) for build_id, entries in found.items()}


def record_of(build: Build) -> RunningRecord:
    """The running of one job."""
    return records_of([build.pk])[build.pk]


def words(totals: Totals) -> str:
    """Totals in words: 42 passes, 6.5 hours."""
    return ", ".join(counted(total, unit) for unit, total in totals.items() if total) or "not run yet"
