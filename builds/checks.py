"""Checks between rebuilds: what was looked at while an engine was out, after so much running; and when one is done."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from builds.looks import LookRefused
from builds.models import Build, BuildKind, Person, with_states
from builds.running import RunningRecord, words

# Steps of the log that a check mostly goes through, with what each is called on its key; other floors fill it.
check_steps: list[tuple[str, str]] = []


@dataclass(frozen=True)
class CheckLine:
    """A check in a list, with how far the engine had run by then."""

    check: Build
    ran: str


def checks_of(job: Build) -> QuerySet[Build]:
    """The checks of a job, the newest first."""
    found: QuerySet[Build] = Build.objects.for_list().filter(follows=job, kind=BuildKind.CHECK)
    return found.order_by("-opened_on", "-pk")


def open_checks_of(job: Build) -> QuerySet[Build]:
    """Those that still take readings."""
    return checks_of(job).filter(went_out_on__isnull=True)


def check_lines(checks: Iterable[Build], record: RunningRecord) -> list[CheckLine]:
    """Checks of one job with their states, in a constant number of queries."""
    return [CheckLine(check, words(record.at(check))) for check in with_states(checks)]


@transaction.atomic
def finish(check: Build) -> Build:
    """Say that a check is done: its log takes no more readings. Done twice, it is done once."""
    locked = _locked(check)
    if locked.went_out_on is None:
        locked.went_out_on = timezone.localdate()
        locked.save(update_fields=["went_out_on"])
    return locked


@transaction.atomic
def open_again(check: Build, person: Person) -> Build:
    """Let a check that was done take readings again; an owner only. Raises `LookRefused`."""
    locked = _locked(check)
    if not person.is_owner:
        raise LookRefused(
            "", f"{locked} is done. Only an owner may open it again; ask one, or open another check."
        )
    if locked.went_out_on is not None:
        locked.went_out_on = None
        locked.save(update_fields=["went_out_on"])
    return locked


def _locked(check: Build) -> Build:
    found: Build = Build.objects.select_for_update(of=("self",)).get(pk=check.pk)
    if not found.is_check:
        raise LookRefused("", f"Job {found} is no check. Note the day it went out on the job’s page instead.")
    return found
