"""The findings of a return report: each with its cause, what speaks for and against it, and what was looked at."""

from collections.abc import Mapping, Sequence

from builds.findings import findings
from builds.found import with_times
from builds.models import Build, Evidence, Finding, Reading
from valvetrain.sheets.return_lines import EvidenceLine, FindingLine, LookLine
from valvetrain.sheets.words import day, when

EVERYWHERE = "the engine"


def findings_for(build: Build) -> list[Finding]:
    """The findings of a job that were not taken back, with all that hangs on them. A constant number of queries."""
    return list(findings(build=build, withdrawn="").order_by("pk"))


def photos_of(finding: Finding) -> list[int]:
    """Keys of the photos that show a finding, or that its evidence leans on, each once."""
    shown = [link.photo_id for link in finding.shown_on.all()]
    leaned_on = [each.photo_id for each in finding.evidence.all() if each.photo_id is not None]
    return list(dict.fromkeys([*shown, *leaned_on]))


def finding_lines(found: Sequence[Finding], build: Build, numbers: Mapping[int, int]) -> list[FindingLine]:
    """The findings as the report says them. `numbers` are those of the photos on the report, by their keys."""
    evidence = [each for finding in found for each in finding.evidence.all()]
    with_times([each.reading for each in evidence if each.reading is not None], build)
    return [_line(number, each, build, numbers) for number, each in enumerate(found, start=1)]


def _line(number: int, finding: Finding, build: Build, numbers: Mapping[int, int]) -> FindingLine:
    return FindingLine(
        number=number,
        what=finding.what,
        where=finding.position or EVERYWHERE,
        condition=finding.get_condition_display() if finding.condition else "",
        symptom=str(finding.symptom) if finding.symptom else "",
        detail=paragraphs(finding.detail),
        cause=finding.cause,
        how_sure=finding.get_confidence_display() if finding.confidence else "",
        evidence=[
            EvidenceLine(each.side, each.text, _leans_on(each, build, numbers))
            for each in finding.evidence.all()
        ],
        looks=[
            LookLine(
                each.text,
                each.get_answer_display(),
                each.note,
                str(each.looked_by) if each.looked_by else "",
            )
            for each in finding.looks.all()
        ],
        action=finding.action,
        by=str(finding.found_by),
        at=when(finding.found_at),
        photos=sorted(numbers[pk] for pk in photos_of(finding) if pk in numbers),
    )


def _leans_on(evidence: Evidence, build: Build, numbers: Mapping[int, int]) -> list[str]:
    """The reading, photo and part of a piece of evidence, in words."""
    told = []
    if evidence.reading is not None:
        told.append(_reading_words(evidence.reading, build))
    if evidence.photo is not None:
        number = numbers.get(evidence.photo.pk)
        told.append(f"photo {number}" if number else f"photo {evidence.photo.name}, not printed here")
    if evidence.part is not None:
        part = evidence.part
        told.append(", ".join([str(part), *(f"{name} {value}" for name, value in part.numbers)]))
    return told


def _reading_words(reading: Reading, build: Build) -> str:
    job = "" if reading.build_id == build.pk else f" on job {reading.build}"
    value = reading.as_typed if not reading.struck_out else "struck out"
    return f"{reading.position}, {reading.what}: {value}, {reading.of_time}, {day(reading.taken_at)}{job}"


def paragraphs(text: str) -> list[str]:
    """The lines of a longer text that have something in them."""
    return [line.strip() for line in text.splitlines() if line.strip()]
