"""The last lines of an engine's life, as a return report says them."""

from builds.models import Build
from builds.timeline import (
    FINDING,
    PART_OUT,
    SEALED_LOOK,
    Event,
    Moment,
    jobs_of,
    moments_of,
    stretches,
    told,
)
from valvetrain.sheets.return_lines import LifeLine, LifeLines
from valvetrain.sheets.words import day

MOST_LINES = 16


def life_lines(build: Build) -> LifeLines:
    """The newest lines up to this return, oldest first. A constant number of queries.

    What this report itself says of its findings and parts is left out, and so is what was sealed of this very job, or
    sealing the report would make it another one; and all of the jobs after it.
    """
    jobs = [job for job in jobs_of(build.engine) if (job.opened_on, job.pk) <= (build.opened_on, build.pk)]
    known = {job.pk for job in jobs}
    moments = [
        each for each in moments_of(build.engine) if each.build in known and not _said_here(each, build)
    ]
    lines = stretches(moments)
    newest = lines[-MOST_LINES:]
    return LifeLines([_line(event) for event in told(newest, jobs)], earlier=len(lines) - len(newest))


def _said_here(moment: Moment, build: Build) -> bool:
    """Whether a moment stands on the report otherwise, or would only come with its seal."""
    if moment.which == PART_OUT:
        return moment.day >= build.opened_on and moment.build in (build.pk, build.follows_id)
    return moment.which in (FINDING, SEALED_LOOK) and moment.build == build.pk


def _line(event: Event) -> LifeLine:
    until = f" to {day(event.until)}" if event.until else ""
    words = "; ".join([event.what, *event.detail])
    return LifeLine(
        day=f"{day(event.day)}{until}",
        what=event.kind,
        words=f"taken back ({event.crossed}): {words}" if event.crossed else words,
    )
