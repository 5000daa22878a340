"""The build sheet of a job: records in, snapshot out, in a constant number of queries but for one a head."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from django.utils import timezone

from builds.logcells import StepState
from builds.measures import show
from builds.models import Build, Instrument, PartFitted, Person, Reading, Shop
from builds.steps import steps
from builds.worklog import WorkLog
from valvetrain.charts.gathered import pack_numbers
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry import GEOMETRY_VERSION
from valvetrain.marks import MarkState, marks_of_head
from valvetrain.models import CamCard, Head, HeightGauge, RockerSet
from valvetrain.sheets import facts, history
from valvetrain.sheets.build_lines import BuildHead, BuildSheet, BuildValve, PartLine
from valvetrain.sheets.log_readings import log_readings, people, taken_back
from valvetrain.sheets.plan_places import plan_states, stand_place, valve_place
from valvetrain.sheets.setup import lift_source, uncertainty_words
from valvetrain.sheets.snapshot import CorrectionLine, Fact, LimitLine, OutLine
from valvetrain.sheets.stand_lines import stand_line, unread
from valvetrain.sheets.step_history import in_sets, steps_ever_out
from valvetrain.sheets.steplog import belongs, log_lines
from valvetrain.sheets.tools_used import tool_lines
from valvetrain.sheets.words import CAUTIONS, day, off_words, when
from valvetrain.states import HeadState
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState

# The net lift and the mark stand in the table of the valves.
IN_THE_TABLE = frozenset({"lift", "marks"})
People = Mapping[int, tuple[str, str]]


def build_sheet(build: Build, person: Person | None = None, *, unit: str = "") -> BuildSheet:
    """Put together the build sheet of a job, in a unit; for a person who prints it, in the one they read."""
    unit = unit or (person.length_unit if person else "in")
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    gathered = gather(heads, with_people=True, with_tools=True)
    engine = [(records, head_state(records)) for records in gathered]
    log, shop = WorkLog(build, unit), Shop.get()
    states = [log.state(step) for step in steps()]
    readings = log_readings(build, states)
    who = people(readings)
    card = CamCard.objects.filter(build=build).first()
    marks = {mark.address: mark for records, state in engine for mark in marks_of_head(records, state)}
    packed = any(stand.pack for _records, state in engine for stand in state.stands)
    return BuildSheet(
        shop=facts.letterhead(shop),
        job=build.job_number,
        engine=build.engine.name,
        title=[*facts.title(build), *_sizes(build, unit)],
        standing=list(_standing(engine, states)),
        parts=[_part(part) for part in PartFitted.objects.filter(build=build)],
        rockers=[facts.rockers(each, unit) for each in RockerSet.objects.filter(build=build)],
        cam=facts.cam(card, unit),
        cam_lines=facts.cam_lines(card, unit),
        block=log_lines(_of_the_engine(states), _block_addresses(log), who, unit),
        heads=[_head(records, state, states, marks, who, unit) for records, state in engine],
        packs=pack_numbers([state for _records, state in engine], unit) if packed else None,
        limits=_limits(gathered, unit),
        rule=shop.rule.words,
        gauges=tool_lines(Instrument.objects.filter(readings__build=build).distinct(), _gauges()),
        ever_out=list(_ever_out(engine, unit)),
        steps_out=list(steps_ever_out(log, states, in_sets(readings), {*log.positions, "engine"})),
        corrections=_corrections(engine, taken_back(build, {*log.positions, "engine"}), log),
        missing=[
            line if len(engine) < 2 else f"{state.head.name}: {line}"
            for records, state in engine
            for line in unread(state.stands, records)
        ],
        cautions=CAUTIONS,
        advice=[line.strip() for line in shop.running_in_advice.splitlines() if line.strip()],
        unit=unit,
        printed=when(timezone.now()) if person else "",
        printed_by=str(person) if person else "",
        time_zone=timezone.get_current_timezone_name(),
        geometry_version=GEOMETRY_VERSION,
    )


def _sizes(build: Build, unit: str) -> list[Fact]:
    """The engine by its own record."""
    engine = build.engine
    lengths = [
        Fact(name, show(size, unit))
        for name, size in (("bore", engine.bore), ("stroke", engine.stroke))
        if size
    ]
    return [Fact("cylinders", str(engine.cylinders)), *lengths]


def _gauges() -> dict[int, HeightGauge]:
    return {gauge.instrument_id: gauge for gauge in HeightGauge.objects.select_related("instrument")}


def _part(part: PartFitted) -> PartLine:
    return PartLine(
        role=part.role, where=part.position, count=part.quantity, maker=part.maker, maker_number=part.maker_number,
        lot=part.lot, serial=part.serial, fitted=day(part.fitted_on), note=part.note,
    )  # fmt: skip


def _standing(engine: Sequence[tuple[HeadRecords, HeadState]], states: Iterable[StepState]) -> Iterator[str]:
    """How the engine stands, counted: heights valve by valve, then everything in the log that is judged."""
    heights = Counter(valve.verdict or "not read" for _records, state in engine for valve in state.valves)
    if heights:
        yield f"Stand heights: {_counted(heights)}."
    rows = [row for state in states for row in state.rows]
    judged = Counter(cell.verdict for row in rows for cell in row.cells if cell.verdict)
    judged += Counter(figure.verdict for row in rows for figure in row.figures if figure.verdict)
    if judged:
        yield f"Other values with a limit: {_counted(judged)}."


def _counted(verdicts: Counter[str]) -> str:
    return ", ".join(
        f"{verdicts[word]} {word}" for word in ("in", "undecided", "out", "not read") if verdicts[word]
    )


def _of_the_engine(states: Iterable[StepState]) -> list[StepState]:
    """The steps that are not a head's: the short block, and what holds for the whole engine."""
    return [
        state
        for state in states
        if state.step.applies_to == "engine" or not belongs(state.step.key, state.step.applies_to)
    ]


def _block_addresses(log: WorkLog) -> dict[str, str]:
    return {address: "" for address, kind in log.positions.items() if kind in ("cylinder", "main")}


def _head(
    records: HeadRecords,
    state: HeadState,
    states: Iterable[StepState],
    marks: Mapping[str, MarkState],
    who: People,
    unit: str,
) -> BuildHead:
    pads = [pad for stand in state.stands for pad in stand.stand.pads.all()]
    addresses = {valve.address: valve.valve.get_kind_display() for valve in state.valves}
    addresses |= {pad.address: "" for pad in pads}
    shown = [
        each
        for each in states
        if each.step.applies_to in ("valve", "pad") and each.step.key not in IN_THE_TABLE
    ]
    return BuildHead(
        name=state.head.name,
        stands=[
            stand_line(stand, sum(pad.stand_id == stand.stand.pk for pad in pads), unit)
            for stand in state.stands
        ],
        valves=[
            _valve(valve, stand.address, marks[valve.address], unit)
            for stand in state.stands
            for valve in stand.valves
        ],
        plan_stands=tuple(stand_place(stand, pads) for stand in state.stands),
        plan_valves=tuple(valve_place(valve) for valve in state.valves),
        plan_states=plan_states(state.stands),
        log=log_lines(shown, addresses, who, unit),
    )


def _valve(valve: ValveState, stand: str, mark: MarkState, unit: str) -> BuildValve:
    proves = mark.counts and mark.width is not None
    return BuildValve(
        address=valve.address,
        kind=valve.valve.get_kind_display(),
        stand=stand,
        lift=valve.inputs.lift,
        lift_source=lift_source(valve),
        left=off_words(valve.height_error, unit),
        uncertainty_words=uncertainty_words(valve, unit),
        verdict=valve.verdict,
        sweep=valve.sweep_now,
        sweep_verdict=valve.sweep_verdict,
        mark=show(mark.width, unit) if proves else "",
        mark_verdict=mark.verdict("width") if proves else "",
        problem=valve.problem,
    )


def _limits(gathered: Sequence[HeadRecords], unit: str) -> list[LimitLine]:
    """The limits that judged the heads, each once; those of the log's steps stand below its tables."""
    lines = (line for records in gathered for line in facts.limits(records.head, records.limits, unit))
    return list({(line.name, line.text, line.source): line for line in lines}.values())


def _ever_out(engine: Iterable[tuple[HeadRecords, HeadState]], unit: str) -> Iterator[OutLine]:
    for records, state in engine:
        for stand in state.stands:
            for valve in stand.valves:
                yield from history.ever_out(valve, stand, history.sets_of(valve, stand, records), unit)


def _corrections(
    engine: Iterable[tuple[HeadRecords, HeadState]], struck: list[Reading], log: WorkLog
) -> list[CorrectionLine]:
    """Everything that was taken back, oldest first; what it had come to is worked out on its own head."""
    where = {valve.address: (records, valve) for records, state in engine for valve in state.valves}
    found: list[CorrectionLine] = []
    for reading in struck:
        records, valve = where.get(reading.position, (None, None))
        found += history.corrections([reading], {valve.address: valve} if valve else {}, records, log)
    return found
