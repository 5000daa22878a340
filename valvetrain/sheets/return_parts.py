"""The parts that a return report is concerned with: those of a finding, those that came out, those on an open recall."""

from collections.abc import Iterable, Iterator

from django.db.models import Prefetch

from builds.models import Build, Finding, PartFitted
from builds.models.parts import PartTakenOut
from builds.models.recalls import RecallLine, RecallMark
from valvetrain.sheets.return_lines import ConcernedPart, PartLines
from valvetrain.sheets.words import day


def part_lines(build: Build, findings: Iterable[Finding]) -> PartLines:
    """The parts concerned, of the job that the engine left with and of this one; the others are counted."""
    out = PartTakenOut.objects.select_related("in_job").order_by("out_on", "pk")
    recalled = RecallLine.objects.filter(recall__closed_on=None).select_related("recall")
    marks = RecallMark.objects.filter(strikes_out__isnull=True, struck_out_by__isnull=True).order_by("pk")
    recalled = recalled.prefetch_related(Prefetch("marks", queryset=marks)).order_by(
        "recall__opened_on", "pk"
    )
    jobs = [build.pk, *([build.follows_id] if build.follows_id is not None else [])]
    parts = list(
        PartFitted.objects.filter(build__in=jobs)
        .prefetch_related(Prefetch("taken_out", queryset=out), Prefetch("recall_lines", queryset=recalled))
        .order_by("role", "position", "pk")
    )
    by_finding = _by_finding(findings, parts)
    concerned = [line for part in parts if (line := _line(part, by_finding.get(part.pk, []))) is not None]
    return PartLines(concerned, others=len(parts) - len(concerned))


def _by_finding(findings: Iterable[Finding], parts: Iterable[PartFitted]) -> dict[int, list[int]]:
    """The numbers of the findings that each part belongs to: by evidence, or because it stands where one was made."""
    found: dict[int, list[int]] = {}
    parts = list(parts)
    for number, finding in enumerate(findings, start=1):
        named = {each.part_id for each in finding.evidence.all() if each.part_id is not None}
        for part in parts:
            here = (
                bool(finding.position) and finding.position != "engine" and part.position == finding.position
            )
            if part.pk in named or here:
                found.setdefault(part.pk, []).append(number)
    return found


def _line(part: PartFitted, findings: list[int]) -> ConcernedPart | None:
    taken_out, recalls = [_out_words(each) for each in part.taken_out.all()], list(_recalls(part))
    if not (findings or taken_out or recalls):
        return None
    told = f"finding {', '.join(map(str, findings))}" if findings else ""
    return ConcernedPart(
        role=part.role, where=part.position, count=part.quantity, maker=part.maker, maker_number=part.maker_number,
        lot=part.lot, serial=part.serial, fitted=day(part.fitted_on), taken_out=taken_out, recalls=recalls, why=told,
    )  # fmt: skip


def _out_words(out: PartTakenOut) -> str:
    place = f" at {out.position}" if out.position else ""
    job = f", job {out.in_job}" if out.in_job else ""
    note = f": {out.note}" if out.note else ""
    return f"{out.quantity}{place}, {day(out.out_on)}{job}; {out.get_why_display()}{note}"


def _recalls(part: PartFitted) -> Iterator[str]:
    for line in part.recall_lines.all():
        done = [f"{mark.get_step_display()} {day(mark.done_on)}" for mark in line.marks.all()]
        told = ", ".join(done) or "customer not told yet"
        yield f"{line.recall}: {line.recall.reason.rstrip('.')}; {told}"
