"""The return report of an engine that came back: records in, snapshot out, in a constant number of queries."""

from collections.abc import Iterator

from django.utils import timezone

from builds.amounts import counted
from builds.findings import ONLY_PROMPTS
from builds.models import Build, Instrument, Person, Return, SealedSheet, Shop
from builds.running import Ran, record_of
from builds.running import words as run_words
from builds.sealing.canonical import digest_words
from builds.sealing.kinds import kind_of
from valvetrain.geometry import GEOMETRY_VERSION
from valvetrain.models import HeightGauge
from valvetrain.sheets import facts
from valvetrain.sheets.return_changes import change_lines
from valvetrain.sheets.return_findings import finding_lines, findings_for, paragraphs
from valvetrain.sheets.return_had import had_lines
from valvetrain.sheets.return_life import life_lines
from valvetrain.sheets.return_lines import RanLines, ReturnReport, RunLine
from valvetrain.sheets.return_parts import part_lines
from valvetrain.sheets.return_photos import choose, photo_lines
from valvetrain.sheets.snapshot import Fact
from valvetrain.sheets.tools_used import tool_lines
from valvetrain.sheets.words import CAUTIONS, day, when

MOST_ENTRIES = 6
NO_SHEET = "none: nothing was sealed when it left"
# What every return report says of itself.
STANDING = [
    "This report says what was read and seen on this engine, and what was looked at. A probable cause is the opinion of "
    "the person named beside it, as sure as is said there.",
    ONLY_PROMPTS,
    "What moved most is not what failed first. A figure that did not move clears nothing, and a thing that was not read "
    "is not sound for that.",
]


def return_report(build: Build, person: Person | None = None, *, unit: str = "") -> ReturnReport:
    """Put together the return report of a job, in a unit; for a person who prints it, in the one they read."""
    unit = unit or (person.length_unit if person else "in")
    came = _return_of(build)
    before = came.build.follows if came is not None else None
    shop = Shop.get()
    changes = change_lines(build, unit)
    had = had_lines(build, unit)
    findings = findings_for(build)
    chosen = choose(build, findings, [line.address for line in had])
    tools = Instrument.objects.filter(readings__build=build).distinct()
    return ReturnReport(
        shop=facts.letterhead(shop),
        job=build.job_number,
        engine=build.engine.name,
        title=_title(build),
        left=list(_left(before, came)),
        complaint=came.complaint if came is not None else "",
        how_it_ran=paragraphs(came.how_it_ran) if came is not None else [],
        ran=_ran(record_of(before).lines_at(build)) if before is not None else RanLines("", []),
        changes=changes,
        had=had,
        findings=finding_lines(findings, build, chosen.numbers),
        photos=photo_lines(chosen),
        parts=part_lines(build, findings),
        life=life_lines(build),
        gauges=tool_lines(tools, _gauges()),
        rule=shop.rule.words,
        standing=STANDING,
        cautions=CAUTIONS,
        unit=unit,
        printed=when(timezone.now()) if person else "",
        printed_by=str(person) if person else "",
        time_zone=timezone.get_current_timezone_name(),
        geometry_version=GEOMETRY_VERSION,
    )


def _return_of(build: Build) -> Return | None:
    found: Return | None = (
        Return.objects.filter(build=build)
        .select_related("build__follows", "sheet__signing")
        .defer("sheet__entry", "sheet__pdf", "sheet__signing__snapshot")
        .first()
    )
    return found


def _title(build: Build) -> list[Fact]:
    engine = build.engine
    told = [
        ("customer", engine.customer.name), ("engine", engine.name), ("serial number", engine.serial),
        ("cylinders", str(engine.cylinders)), ("firing order", engine.firing_order),
    ]  # fmt: skip
    return [Fact(name, text) for name, text in told if text]


def _left(before: Build | None, came: Return | None) -> Iterator[Fact]:
    """What it left with, and when it came back."""
    if before is None or came is None:
        return
    yield Fact("job it left with", before.job_number)
    if before.title:
        yield Fact("what was done then", before.title)
    yield Fact("went out", day(before.went_out_on))
    yield from _sheet(came.sheet)
    yield Fact("came back", day(came.came_back_on))


def _sheet(sheet: SealedSheet | None) -> Iterator[Fact]:
    if sheet is None:
        yield Fact("sealed sheet", NO_SHEET)
        return
    name = kind_of(sheet.signing.kind).name
    yield Fact(
        "sealed sheet", f"{name}, sheet {sheet.number}, revision {sheet.revision}, {when(sheet.sealed_at)}"
    )
    yield Fact("its digest", digest_words(sheet.digest))


def _ran(lines: list[Ran]) -> RanLines:
    """The running up to the return."""
    return RanLines(
        totals=run_words({line.entry.unit: line.total for line in lines}),
        entries=[_entry(line) for line in lines[-MOST_ENTRIES:]],
        earlier=max(0, len(lines) - MOST_ENTRIES),
    )


def _entry(line: Ran) -> RunLine:
    entry = line.entry
    assert entry.amount is not None
    return RunLine(
        day=day(entry.ran_on),
        amount=counted(entry.amount, entry.unit),
        total=counted(line.total, entry.unit),
        note=entry.note,
        told_by=entry.told_by,
    )


def _gauges() -> dict[int, HeightGauge]:
    return {gauge.instrument_id: gauge for gauge in HeightGauge.objects.select_related("instrument")}
