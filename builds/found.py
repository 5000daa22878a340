"""What counts as found on a job that looks again: what was read on it before the first work there.

A job may go on to be worked on after it was read as found. Work between two readings of a thing begins a new set of it,
so that only the first set was found. Other work, a pack or a slide, is known to the floor that keeps it.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from builds.models import Build, Photo, Reading

# Of a job, an address, a moment, and what was kept with what was taken then: whether it was after work there.
Judge = Callable[[int, str, datetime, Mapping[str, Any]], bool]

# Each takes jobs that look again and gives what judges what was taken on them. It asks the book once, not for each thing.
work_judges: list[Callable[[Collection[int]], Judge]] = []


def set_number(reading: Reading) -> int:
    """Which set a reading belongs to: work in between begins a new one."""
    return int(reading.context.get("set", 0))


class Found:
    """What of the readings of some jobs was found. A constant number of queries, however many jobs and readings."""

    def __init__(self, job_pks: Iterable[int]) -> None:
        jobs = list(job_pks)
        self._judges = [judge(jobs) for judge in work_judges]
        later = Reading.objects.filter(build__in=jobs).exclude(corrects=None, photo=None).order_by()
        rows = later.values_list("pk", "corrects", "corrects__taken_at", "photo__taken_at")
        self._told = {pk: (old, old_taken_at, shot_at) for pk, old, old_taken_at, shot_at in rows}

    def moment_of(self, reading: Reading) -> datetime:
        """When what a reading tells was there to see: its photo's moment; a correction's is that of what it corrects."""
        moment, pk = reading.taken_at, reading.pk
        while pk in self._told:
            old, old_taken_at, shot_at = self._told[pk]
            if shot_at is not None:
                return shot_at
            if old is None:
                break
            moment, pk = old_taken_at, old
        return moment

    def was_found(self, reading: Reading) -> bool:
        """Whether it was read before the first work."""
        if set_number(reading) > 0:
            return False
        return self._is_before(reading.build_id, reading.position, self.moment_of(reading), reading.context)

    def was_there(self, photo: Photo, position: str) -> bool:
        """Whether a photo that is filed at an address shows it as it was found."""
        return self._is_before(photo.build_id, position, photo.taken_at, {})

    def _is_before(self, job_pk: int, position: str, moment: datetime, kept: Mapping[str, Any]) -> bool:
        return not any(is_after(job_pk, position, moment, kept) for is_after in self._judges)

    def time_of(self, reading: Reading) -> str:
        """Of which time a reading is, beside the engine's return: when it left, at a check, as found, or after work."""
        job = reading.build
        if not job.follows_id:
            return "when it left"
        if not self.was_found(reading):
            return "after work on it"
        return "at a check" if job.is_check else "as found"


def with_times(readings: Iterable[Reading], job: Build) -> list[Reading]:
    """Readings of several jobs of one engine, each with the time that it is of where `job` looks again."""
    rows = list(readings)
    if job.follows_id:
        found = Found({row.build_id for row in rows})
        for row in rows:
            row.of_time = found.time_of(row)
    return rows
