"""A running record as its page shows it: every entry with what came of it, the newest first."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from builds.models import Build, RunEntry, RunUnit, StatedAs
from builds.running import RunningRecord, plain


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
        return f"{plain(amount)} {self.entry.unit}{behind}"

    @property
    def total_words(self) -> str:
        """How far it had run after it, in words; nothing for one that does not stand."""
        return "" if self.total is None else f"{plain(self.total)} {self.entry.unit}"


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


def why_not_out(job: Build, went_out_on: date | None, came_back_on: date | None) -> dict[str, str]:
    """What running and looks are in the book that these days would leave out, by field; nothing where none is."""
    record = full_record(job)
    first = record.lines[0].entry.ran_on if record.lines else None
    last = record.lines[-1].entry.ran_on if record.lines else None
    look = job.looks.order_by("opened_on").values_list("opened_on", flat=True).first()
    wrong: dict[str, str] = {}
    if went_out_on is None and (first or look):
        wrong["went_out_on"] = (
            f"Since it went out, {'running' if first else 'a check or a return'} is written down from "
            f"{first or look:%d %b %Y} on, so it did go out. Keep the day, and open a new job to work on the engine."
        )
    elif went_out_on is not None:
        earliest = min(day for day in (first, look, date.max) if day is not None)
        if went_out_on > earliest:
            wrong["went_out_on"] = (
                f"It had run or been checked by {earliest:%d %b %Y} already, as its running record says. Use that day or "
                "one before."
            )
    if came_back_on is not None and last is not None and came_back_on < last:
        wrong["came_back_on"] = (
            f"Its running record says that it ran on {last:%d %b %Y}. Use that day or a later one, or correct that entry."
        )
    return wrong
