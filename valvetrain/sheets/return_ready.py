"""What a return report lacks before it may be signed.

What is out on an engine that came back is what the report is for: it is listed there, and nobody accepts it. A finding
that does not say what it has to, and a return on which nothing was read, block.
"""

from collections.abc import Iterator, Sequence

from builds.found import Found
from builds.models import Build, Finding, Instrument, Reading
from builds.sealing.kinds import Readiness
from valvetrain.sheets.ready import files_lost, no_serial, overdue_items
from valvetrain.sheets.return_findings import findings_for
from valvetrain.sheets.return_had import had_lines
from valvetrain.sheets.return_photos import choose

NO_FINDING = (
    "No finding is written down. Write at least one, also where everything was found sound: what was looked at, and "
    "that it is sound."
)
NOTHING_READ = (
    "Nothing is read as found yet. Read the engine on the bench or in the log before it is taken apart."
)


def return_ready(build: Build, subject: str) -> Readiness:
    """What the report lacks, and the tools past their check."""
    findings = findings_for(build)
    found = Found([build.pk])
    read = any(map(found.was_found, Reading.objects.standing().filter(build=build)))
    chosen = choose(build, findings, [line.address for line in had_lines(build, "in")])
    tools = Instrument.objects.filter(readings__build=build).distinct()
    return Readiness(
        missing=[
            *no_serial(build),
            *([] if read else [NOTHING_READ]),
            *([] if findings else [NO_FINDING]),
            *_unsaid(findings),
            *files_lost(chosen.printed),
        ],
        overdue=overdue_items(tools),
    )


def _unsaid(findings: Sequence[Finding]) -> Iterator[str]:
    """What a finding has to say and does not."""
    for number, finding in enumerate(findings, start=1):
        name = f"Finding {number}, {finding}"
        if not finding.condition:
            yield f"{name}: say in which condition it was found."
        if finding.cause and not finding.confidence:
            yield f"{name}: a probable cause is named. Say how sure you are of it."
        if finding.confidence and not finding.cause:
            yield f"{name}: it says how sure you are, and of no cause. Name the cause, or choose “no cause named”."
        if not finding.action:
            yield f"{name}: say what is to be done, or that nothing is."
