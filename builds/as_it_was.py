"""What the shop judged by at an earlier moment: its limits and its rule for verdicts, from their histories."""

from datetime import datetime, time, timedelta

from django.utils import timezone

from builds.models import Build, Limit, SealedSheet, Shop
from builds.tracking import history_of
from builds.verdicts import PLAIN, Rule


def when_it_left(job: Build, sheet: SealedSheet | None) -> datetime:
    """The moment that what an engine left with is judged at: its sheet's sealing, else the end of the day it went out."""
    if sheet is not None:
        return sheet.sealed_at
    assert job.went_out_on is not None
    return timezone.make_aware(datetime.combine(job.went_out_on + timedelta(days=1), time.min))


def shop_limits_at(moment: datetime) -> dict[str, Limit]:
    """The shop's limits by key, as they were. One query.

    Before this book kept a history, nobody knows better than its first state.
    """
    rows = list(
        history_of(Limit).filter(build__isnull=True).order_by("history_date", "history_id")
    )  # of some dozen limits, changed a few times a year
    begins = min((row.history_date for row in rows), default=moment)
    found: dict[str, Limit] = {}
    for row in rows:
        if row.history_date > moment and not (moment < begins and row.key not in found):
            continue
        if row.history_type == "-":
            found.pop(row.key, None)
        else:
            found[row.key] = row.instance
    return found


def rule_at(moment: datetime) -> Rule:
    """The shop's rule for verdicts, as it was. One query, or two where the history begins later."""
    rows = history_of(Shop).order_by("history_date", "history_id")
    row = rows.filter(history_date__lte=moment).last() or rows.first()
    return PLAIN if row is None else row.instance.rule
