"""Writing into a running record: the one way in. Checks, says what is wrong, and is safe to repeat.

A running record belongs to the job that the engine went out with; a check or a return has none of its own. It only ever
grows: a correction or a striking-out is a new entry that names the old one and says why.
"""

import re
from datetime import date
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, models, transaction
from django.utils import timezone

from builds.amounts import plain
from builds.guests import why_takes_no_more
from builds.models import Build, GuestLink, Person, RunEntry, RunUnit, StatedAs
from builds.recording import EntryRefused
from builds.running import Ran, RunningRecord, record_of

COUNTED_WHOLE = frozenset({RunUnit.PASSES, RunUnit.LAPS})
MOST = Decimal(1_000_000)
PLACES = 3
# What people write for a unit behind the number.
UNIT_WORDS = {
    RunUnit.PASSES: ("pass", "passes", "runs", "run"),
    RunUnit.LAPS: ("lap", "laps"),
    RunUnit.HOURS: ("h", "hr", "hrs", "hour", "hours"),
    RunUnit.MILES: ("mi", "mile", "miles"),
    RunUnit.KILOMETRES: ("km", "kilometre", "kilometres", "kilometer", "kilometers"),
}
_TYPED = re.compile(r"^([+\-−–]?)\s*([\d.,]*)\s*([^\d.,\s].*)?$", re.DOTALL)
# The gap that some write between the thousands.
_GAP = re.compile(r"(?<=[0-9])[ \u00a0\u202f](?=[0-9]{3}(?![0-9]))")
# One thousand two hundred to some, one and a fifth to others.
_EITHER = re.compile(r"^[1-9]\d{0,2},\d{3}$", re.ASCII)
_NUMBER = re.compile(r"^(\d+[.,]?\d*|[.,]\d+)$", re.ASCII)


def read_amount(text: str, unit: str) -> Decimal:
    """Read a typed amount: `6`, `6.5`, `6,5`, `6 passes`. Raises `EntryRefused` with a sentence.

    >>> read_amount(" 6,5 ", "hours"), read_amount("12 passes", "passes")
    (Decimal('6.5'), Decimal('12'))
    """
    shown = text.strip()
    if not shown:
        raise EntryRefused("text", f"How many {unit} it ran is not filled in. Type a number: 6.")
    if len(shown) > _longest("text"):
        raise EntryRefused("text", f"That is more text than an amount has. Type the {unit} alone: 6.")
    found = _TYPED.match(_GAP.sub("", shown))
    if found is None or not _NUMBER.match(found[2]):
        raise EntryRefused("text", _not_a_number(shown, unit))
    minus, digits, word = found[1] not in ("", "+"), found[2], (found[3] or "").strip().lower().rstrip(".")
    if _EITHER.match(digits) and unit not in COUNTED_WHOLE:
        large, small = digits.replace(",", ""), digits.replace(",", ".")
        raise EntryRefused(
            "text",
            f"“{shown}” may mean {large} or {plain(Decimal(small))} {unit}. Type the one that is meant so.",
        )
    amount = Decimal(digits.replace(",", "."))
    if word and word not in UNIT_WORDS[RunUnit(unit)]:
        raise EntryRefused(
            "text", f"“{shown}” is not in {unit}. Choose what it is counted in, and type the number alone."
        )
    if minus and amount:
        raise EntryRefused(
            "text",
            f"“{shown}” is below zero, and an engine does not run backwards. Type how many {unit} it ran; where an "
            "entry was wrong, correct that one.",
        )
    return _in_reason(shown, amount, unit)


def _in_reason(shown: str, amount: Decimal, unit: str) -> Decimal:
    if amount >= MOST:
        raise EntryRefused("text", f"“{shown}” {unit} is more than any engine runs. Look at it again.")
    exponent = amount.normalize().as_tuple().exponent
    if unit in COUNTED_WHOLE and amount != amount.to_integral_value():
        raise EntryRefused(
            "text",
            f"“{shown}”: {unit} are counted whole, with no thousands mark. Type a number such as 6 or 1200.",
        )
    if isinstance(exponent, int) and exponent < -PLACES:
        raise EntryRefused(
            "text",
            f"“{shown}” is finer than running is counted. Type {unit} with three figures behind the point at most.",
        )
    return amount


def _not_a_number(shown: str, unit: str) -> str:
    if any(digit.isdigit() for digit in shown) and sum(shown.count(mark) for mark in ".,") > 1:
        return f"“{shown}” has more than one decimal point. Type one number, with no thousands mark: 1200 or 6.5."
    right = "6" if unit in COUNTED_WHOLE else "6.5"
    return f"“{shown}” is not a number. Type how many {unit} it ran, such as {right}."


def add_entry(
    build: Build,
    *,
    client_id: UUID,
    ran_on: date,
    unit: str,
    text: str,
    stated_as: str,
    note: str = "",
    told_by: str = "",
    person: Person | None = None,
    via: GuestLink | None = None,
    corrects: RunEntry | None = None,
    reason: str = "",
) -> tuple[RunEntry, bool]:
    """Write an entry of running, by a person of the shop or `via` a guest's link. Returns it and whether it is new.

    Sent again with the same `client_id` it is answered with what is written. Raises `EntryRefused` with a sentence.
    """
    entry = RunEntry(
        client_id=client_id, build=build, ran_on=ran_on, unit=unit, text=text.strip(), stated_as=stated_as,
        note=note.strip(), told_by=told_by.strip(), entered_by=person, via=via, corrects=corrects,
        reason=reason.strip() if corrects else "",
    )  # fmt: skip
    with transaction.atomic():
        job, known = _lock(build, client_id)
        if known is not None:
            return _same_again(known, entry), False
        _check_words(entry)
        entry.amount = read_amount(text, unit)
        refuse_job(job)
        refuse_day(job, ran_on)
        _check_link(job, via)
        if corrects is not None:
            _check_correction(job, corrects, entry.reason, "corrected")
        _check_order(record_of(job), entry)
        return _write(entry)


def strike_out(
    build: Build, *, client_id: UUID, entry: RunEntry, reason: str, person: Person
) -> tuple[RunEntry, bool]:
    """Take an entry back: a new record that names it and says why. The old one stays in the list, crossed out."""
    struck = RunEntry(
        client_id=client_id, build=build, ran_on=entry.ran_on, unit=entry.unit, stated_as=entry.stated_as,
        entered_by=person, corrects=entry, reason=reason.strip(),
    )  # fmt: skip
    with transaction.atomic():
        job, known = _lock(build, client_id)
        if known is not None:
            return _same_again(known, struck), False
        _check_words(struck)
        _check_correction(job, entry, struck.reason, "struck out")
        return _write(struck)


def refuse_job(job: Build) -> None:
    """Refuse a job that keeps no running record, or not yet."""
    if job.follows is not None:
        raise EntryRefused(
            "build",
            f"{job} looks at job {job.follows} again and has no running of its own. Write it into job {job.follows}.",
        )
    if job.went_out_on is None:
        raise EntryRefused(
            "build",
            f"Job {job} has not gone out yet, so its engine has not run. Write down the day it went out first, on the "
            "job’s page.",
        )


def refuse_day(job: Build, day: date, field_name: str = "ran_on", did: str = "run") -> None:
    """Refuse a day on which the engine was not out."""
    assert job.went_out_on is not None
    if day > timezone.localdate():
        raise EntryRefused(
            field_name,
            f"{day:%d %b %Y} is still to come, so nothing was {did} then. Use today or a day before.",
        )
    if day < job.went_out_on:
        raise EntryRefused(
            field_name,
            f"{day:%d %b %Y} is before it left: job {job} went out on {job.went_out_on:%d %b %Y}. Use that day or a "
            "later one.",
        )
    if job.came_back_on is not None and day > job.came_back_on:
        raise EntryRefused(
            field_name,
            f"{day:%d %b %Y} is after it came back, {job.came_back_on:%d %b %Y}. Use that day or one before.",
        )


def _lock(build: Build, client_id: UUID) -> tuple[Build, RunEntry | None]:
    """Hold the job while an entry goes in, as it is now, and look whether this entry is in already."""
    locked: Build = Build.objects.select_for_update(of=("self",)).select_related("follows").get(pk=build.pk)
    return locked, RunEntry.objects.select_related("build").filter(client_id=client_id).first()


def _same_again(known: RunEntry, asked: RunEntry) -> RunEntry:
    """Answer a repeated delivery, or refuse an id that is used for something else."""

    def what(entry: RunEntry) -> tuple[object, ...]:
        return (
            entry.build_id, entry.ran_on, entry.unit, entry.text, entry.stated_as, entry.corrects_id, entry.via_id,
        )  # fmt: skip

    if what(known) != what(asked):
        raise EntryRefused(
            "",
            "This page has written another entry already. Load it again, look at the list, and type this one anew.",
        )
    return known


def _write(entry: RunEntry) -> tuple[RunEntry, bool]:
    try:
        with transaction.atomic():
            entry.save()
    except IntegrityError:
        # Somebody else was a moment earlier: with this very entry, or with another correction of the same one.
        known = RunEntry.objects.filter(client_id=entry.client_id).first()
        if known is not None:
            return _same_again(known, entry), False
        raise EntryRefused("", _corrected_meanwhile(entry.corrects)) from None
    return entry, True


def _longest(name: str) -> int:
    column = RunEntry._meta.get_field(name)
    assert isinstance(column, models.CharField) and column.max_length is not None
    return column.max_length


def _check_words(entry: RunEntry) -> None:
    """Refuse a unit or a meaning that there is none of, and words that no column keeps."""
    if entry.unit not in RunUnit.values:
        raise EntryRefused(
            "unit", "Running is counted in passes, laps, hours, miles or kilometres. Choose one."
        )
    if entry.stated_as not in StatedAs.values:
        raise EntryRefused(
            "stated_as", "Say how it is meant: since the entry before, or in all since it went out."
        )
    for name, what in (("note", "The note"), ("told_by", "Told by"), ("reason", "The reason")):
        text = getattr(entry, name)
        if len(text) > _longest(name):
            raise EntryRefused(name, f"{what} is longer than {_longest(name)} characters. Say it shorter.")
        if "\0" in text:
            raise EntryRefused(name, f"{what} has a sign in it that cannot be kept. Type it again.")


def _check_link(job: Build, link: GuestLink | None) -> None:
    if link is not None and (sentence := why_takes_no_more(link, job)):
        raise EntryRefused("", sentence)


def _check_correction(job: Build, old: RunEntry, reason: str, done: str) -> None:
    if old.build_id != job.pk:
        raise EntryRefused(
            "", f"That entry is of another job than {job}. Go back to the list and choose one."
        )
    if old.struck_out:
        raise EntryRefused("", "That entry is a striking-out already. Write the running as a new entry.")
    if not reason:
        raise EntryRefused("reason", f"Say why it is {done}: typed wrong, another engine’s, told again …")
    if RunEntry.objects.filter(corrects=old.pk).exists():
        raise EntryRefused("", _corrected_meanwhile(old))


def _corrected_meanwhile(old: RunEntry | None) -> str:
    what = f"The entry of {old.ran_on:%d %b %Y}, {old}," if old is not None else "This entry"
    return f"{what} has been corrected already. Look at the list and correct the newest one."


def _check_order(record: RunningRecord, new: RunEntry) -> None:
    """Refuse an entry with which the record would run backwards: before it, or at a total that was told later."""
    lines = [line for line in record.with_entry(new).lines if line.entry.unit == new.unit]
    place = next(number for number, line in enumerate(lines) if line.entry is new)
    if place and lines[place].total < lines[place - 1].total:
        before = lines[place - 1]
        raise EntryRefused(
            "text",
            f"{_in_all(new.amount, new)} on {new.ran_on:%d %b %Y} is less than it had run before: {_told(before)}. An "
            f"engine does not run backwards. Type {plain(before.total)} or more, or {_or_else(new)}.",
        )
    for earlier, later in zip(lines[place:], lines[place + 1 :], strict=False):
        if later.total < earlier.total:
            raise EntryRefused(
                "text",
                f"With this it would have run {plain(earlier.total)} {new.unit} by {earlier.entry.ran_on:%d %b %Y}, and "
                f"that is more than {_told(later)}. Type less, or {_or_else(new)}.",
            )


def _or_else(entry: RunEntry) -> str:
    """What else is to be done; a guest corrects nothing."""
    return "telephone the shop" if entry.via is not None else "correct that entry first"


def _in_all(amount: Decimal | None, entry: RunEntry) -> str:
    return f"{plain(amount or Decimal(0))} {entry.unit} in all"


def _told(line: Ran) -> str:
    """One entry by its day and its total: the entry of 03 Mar 2026 comes to 12 passes in all."""
    comes = "says" if line.entry.stated_as == StatedAs.TOTAL else "comes to"
    return f"the entry of {line.entry.ran_on:%d %b %Y} {comes} {_in_all(line.total, line.entry)}"
