"""How far a part ran: the running records of its engine's jobs, from the one it was fitted in until it came out."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from builds.models import Build, BuildKind, PartFitted
from builds.running import NOTHING, RunningRecord, records_of

Place = tuple[date, int]


class EnginesRunning:
    """Jobs and running records of several engines: two questions to the database, however many parts are asked for."""

    def __init__(self, engine_ids: Iterable[int]) -> None:
        self.jobs: dict[int, list[Build]] = {engine: [] for engine in engine_ids}
        for job in Build.objects.filter(engine__in=self.jobs).order_by("opened_on", "pk"):
            self.jobs[job.engine_id].append(job)
        self._by_pk = {job.pk: job for jobs in self.jobs.values() for job in jobs}
        ran = [job.pk for job in self._by_pk.values() if job.kind == BuildKind.BUILD]
        self.records: dict[int, RunningRecord] = records_of(ran)

    def job(self, pk: int) -> Build:
        """One of the jobs."""
        return self._by_pk[pk]

    def last_entry_on(self, engine_id: int) -> date | None:
        """The day of the last entry that stands in an engine's running records."""
        days = [
            line.entry.ran_on
            for job in self.jobs[engine_id]
            if job.pk in self.records
            for line in self.records[job.pk].lines
        ]
        return max(days, default=None)

    def counted_in(self, part: PartFitted) -> set[str]:
        """The units in which the engine's running was written down since a part was fitted."""
        return {unit for job in self._jobs_of(part) for unit in self.records[job.pk].totals}

    def since(self, part: PartFitted, until: date | None = None) -> dict[str, Decimal]:
        """How far a part ran up to and with a day, by unit; without a day, until now."""
        found: dict[str, Decimal] = defaultdict(lambda: NOTHING)
        base = self.job(part.build_id)
        for job in self._jobs_of(part):
            record = self.records[job.pk]
            totals = record.totals if until is None else record.up_to(until)
            # Fitted at a look between rebuilds: what the engine ran before that is not the part's.
            before = record.up_to(part.fitted_on) if job.pk == base.follows_id else {}
            for unit, total in totals.items():
                found[unit] += max(total - before.get(unit, NOTHING), NOTHING)
        return dict(found)

    def _jobs_of(self, part: PartFitted) -> list[Build]:
        """The jobs whose running counts for a part: its own, or the one that its job looks at, and every later one."""
        base = self.job(part.build_id)
        first = self.job(base.follows_id) if base.follows_id in self._by_pk else base
        return [
            job
            for job in self.jobs[base.engine_id]
            if job.pk in self.records and _place(job) >= _place(first)
        ]


def _place(job: Build) -> Place:
    return job.opened_on, job.pk
