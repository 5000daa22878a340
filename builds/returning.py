"""Engines that came back, and those that are out and may: the lists behind the pages of returns."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q

from builds.models import Build, BuildKind, Finding, Return, SealedSheet, with_states
from builds.models.customers import row_count
from builds.models.jobs import BuildQuerySet
from builds.running import Totals, record_of, records_of, words
from builds.steps import OverviewLine, overview_providers

# How much of a digest tells two sheets apart, and is read aloud.
DIGEST_START = 12


def came_back() -> BuildQuerySet:
    """The jobs that read an engine as found, the one that came back last first, with all that a row shows."""
    findings = Finding.objects.filter(build=OuterRef("pk"), withdrawn="")
    return (
        Build.objects.for_list()
        .filter(kind=BuildKind.RETURN)
        .select_related("came_in__sheet", "follows")
        .defer("came_in__sheet__entry", "came_in__sheet__pdf")
        .annotate(finding_count=row_count(findings, "build"))
        .order_by("-came_in__came_back_on", "-pk")
    )


def matching(jobs: BuildQuerySet, text: str) -> BuildQuerySet:
    """Those whose complaint, number, old number, customer, engine or serial number has `text`."""
    return jobs.filter(
        Q(came_in__complaint__icontains=text)
        | Q(job_number__icontains=text)
        | Q(follows__job_number__icontains=text)
        | Q(engine__name__icontains=text)
        | Q(engine__serial__icontains=text)
        | Q(engine__customer__name__icontains=text)
    )


def with_running(jobs: Iterable[Build]) -> list[Build]:
    """Give each job that looks again its state and `ran`: what the engine had run by then, in words. Constant queries."""
    page = with_states(jobs)
    records = records_of({job.follows_id for job in page if job.follows_id is not None})
    for job in page:
        totals: Totals = records[job.follows_id].at(job) if job.follows_id is not None else {}
        job.ran = words(totals)  # type: ignore[attr-defined]
    return page


def may_come_back() -> BuildQuerySet:
    """Jobs whose engine went out and has no return yet: those noted as back first, then the one that left last."""
    looks = Build.objects.filter(follows=OuterRef("pk"), kind=BuildKind.RETURN)
    return (
        Build.objects.for_list()
        .filter(kind=BuildKind.BUILD, went_out_on__isnull=False)
        .filter(~Exists(looks))
        .order_by(F("came_back_on").desc(nulls_last=True), "-went_out_on", "-pk")
    )


def noted_as_back() -> BuildQuerySet:
    """Jobs of which somebody noted that the engine is back, with no return yet and no later job on it."""
    rebuilt = Build.objects.filter(kind=BuildKind.BUILD).later_on_engine()
    return may_come_back().filter(~rebuilt, came_back_on__isnull=False)


@dataclass(frozen=True)
class Facts:
    """What a return's own page says of it: where it came from, what it had run, and the ways on."""

    job: Build
    came: Return
    built: Build
    sheet: SealedSheet | None
    ran: str
    benches: list[OverviewLine]

    @property
    def digest_start(self) -> str:
        """The first figures of the sheet's digest."""
        return self.sheet.digest[:DIGEST_START] if self.sheet is not None else ""


def facts_of(job: Build) -> Facts:
    """The facts of the return that a job reads as found. Another kind of job has none."""
    came = Return.objects.select_related("build__follows", "sheet", "opened_by").defer(
        "sheet__entry", "sheet__pdf"
    )
    found = came.get(build=job)
    built = found.build.follows
    assert built is not None
    benches = [line for provider in overview_providers for line in provider(job)]
    return Facts(job, found, built, found.sheet, words(record_of(built).at(job)), benches)


def return_of(job: Build) -> Build | None:
    """The job that reads as found what another job built; None while the engine has not come back."""
    return Build.objects.filter(follows=job, kind=BuildKind.RETURN).select_related("came_in").first()
