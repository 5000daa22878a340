"""A running record as its page shows it: every entry with what came of it, the newest first."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from builds.amounts import counted
from builds.models import Build, RunEntry, RunUnit, StatedAs
from builds.running import RunningRecord


@dataclass(frozen=True)
class RunLine:
    """One entry; `total` after it where it stands, and what stands `instead` where it was corrected."""

    entry: RunEntry
    total: Decimal | None
    instead: RunEntry | None = None

    @property
    def amount(self) -> str:
        """What was said, in words: 6 passes, or 42 passes in all."""
        behind = " in all" if self.entry.stated_as == StatedAs.TOTAL else ""
        amount = self.entry.amount if self.entry.amount is not None else Decimal(0)
        return f"{counted(amount, self.entry.unit)}{behind}"

    @property
    def total_words(self) -> str:
        """How far it had run after it, in words; nothing for one that does not stand."""
        return "" if self.total is None else counted(self.total, self.entry.unit)


def full_record(job: Build) -> RunningRecord:
    """The running of a job with who wrote each entry, in one query."""
    entries = RunEntry.objects.filter(build=job).select_related("entered_by", "via").order_by("ran_on", "pk")
    return RunningRecord(entries)


def run_lines(record: RunningRecord, via_pk: int | None = None) -> list[RunLine]:
    """Every entry but the striking-outs, which stand with what they strike out; the newest first.

    With `via_pk` those alone that came by one link.
    """
    totals = {line.entry.pk: line.total for line in record.lines}
    return [
        RunLine(entry, totals.get(entry.pk), record.instead_of(entry))
        for entry in reversed(record.in_order())
        if not entry.struck_out and via_pk in (None, entry.via_id)
    ]


def first_choices(job: Build, record: RunningRecord) -> dict[str, object]:
    """What the form of a new entry is filled in with: the last day it can have run, and the unit of the last entry."""
    last = record.lines[-1].entry.unit if record.lines else RunUnit.PASSES
    return {"ran_on": job.came_back_on or timezone.localdate(), "unit": last, "stated_as": StatedAs.MORE}
