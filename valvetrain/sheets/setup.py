"""The setup sheet of one head: records in, snapshot out, in a constant number of queries."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from django.utils import timezone

from builds.models import Person, Reading, Shop
from builds.steps import steps
from builds.uncertainty import plus_minus
from builds.worklog import WorkLog
from valvetrain.charts.gathered import pack_numbers, spring_sheets, springs_of_head
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry import GEOMETRY_VERSION
from valvetrain.marks import MarkState, marks_of_head
from valvetrain.models import Head
from valvetrain.sheets import facts, history
from valvetrain.sheets.log_readings import log_readings, people, taken_back
from valvetrain.sheets.plan_places import plan_states, stand_place, valve_place
from valvetrain.sheets.snapshot import (
    ArmLine,
    SetupSheet,
    TipLine,
    ValveLine,
)
from valvetrain.sheets.stand_lines import stand_line, unread
from valvetrain.sheets.step_history import in_sets, steps_ever_out
from valvetrain.sheets.steplog import belongs, log_lines
from valvetrain.sheets.through_lift import through_lift
from valvetrain.sheets.tools_used import gauge_lines
from valvetrain.sheets.words import CAUTIONS, off_words, when
from valvetrain.standstate import StandState
from valvetrain.targets import head_state
from valvetrain.valvestate import HeightRead, ValveState


def setup_sheet(head: Head, person: Person | None = None, *, unit: str = "") -> SetupSheet:
    """Put together the setup sheet of a head of a job, in a unit; for a person who prints it, in the one they read."""
    unit = unit or (person.length_unit if person else "in")
    heads = Head.objects.filter(build=head.build_id).select_related("build__engine__customer")
    gathered = gather(heads, with_people=True, with_tools=True)
    records = next(each for each in gathered if each.head.pk == head.pk)
    engine = [head_state(each) for each in gathered]
    state = next(each for each in engine if each.head.pk == head.pk)
    build = records.build.build
    valves = {valve.address: valve for valve in state.valves}
    pads = [pad for stand in state.stands for pad in stand.stand.pads.all()]
    log = WorkLog(build, unit)
    states = [log.state(step) for step in steps() if belongs(step.key, step.applies_to)]
    addresses = {valve.address: valve.valve.get_kind_display() for valve in state.valves}
    addresses |= {pad.address: "" for pad in pads}
    read_in_steps = log_readings(build, states)
    struck = taken_back(build, {*addresses, "engine"})
    sets = {
        valve.address: history.sets_of(valve, stand, records)
        for stand in state.stands
        for valve in stand.valves
    }
    marks = {mark.address: mark for mark in marks_of_head(records, state)}
    stand_of = {valve.address: stand for stand in state.stands for valve in stand.valves}
    sheets = spring_sheets(build)
    springs = springs_of_head(state.valves, log, sheets, unit)
    worked = through_lift(state.valves, records, log, sheets, springs, unit)
    packed = any(stand.pack for each in engine for stand in each.stands)
    return SetupSheet(
        shop=facts.letterhead(Shop.get()),
        job=build.job_number,
        title=facts.title(build),
        head=head.name,
        valves=[
            replace(_valve(v, stand_of[v.address], sets[v.address], unit), mark=_tip(marks[v.address]))
            for v in state.valves
        ],
        stands=[
            stand_line(stand, sum(pad.stand_id == stand.stand.pk for pad in pads), unit)
            for stand in state.stands
        ],
        ever_out=[
            line
            for v in state.valves
            for line in history.ever_out(v, stand_of[v.address], sets[v.address], unit)
        ],
        steps_out=list(steps_ever_out(log, states, in_sets(read_in_steps), {*addresses, "engine"})),
        corrections=history.corrections(struck, valves, records, log),
        gauges=gauge_lines(
            [
                *_all_read(records, struck, set(valves)),
                *(reading for reading in read_in_steps if reading.position in {*addresses, "engine"}),
            ],
            records.gauges,
        ),
        rockers=[facts.rockers(rocker_set, unit) for rocker_set in records.build.rocker_sets.values()],
        cam=facts.cam(records.build.cam_card, unit),
        cam_lines=facts.cam_lines(records.build.cam_card, unit),
        limits=facts.limits(head, records.limits, unit),
        rule=records.tools.rule.words,
        missing=[*unread(state.stands, records), *_marks_again(marks)],
        cautions=CAUTIONS,
        plan_stands=tuple(stand_place(stand, pads) for stand in state.stands),
        plan_valves=tuple(valve_place(valve) for valve in state.valves),
        plan_states=plan_states(state.stands),
        log=log_lines(states, addresses, people(read_in_steps), unit),
        springs=springs,
        ratios=worked.ratios,
        loads=worked.loads,
        packs=pack_numbers(engine, unit) if packed else None,
        unit=unit,
        printed=when(timezone.now()) if person else "",
        printed_by=str(person) if person else "",
        time_zone=timezone.get_current_timezone_name(),
        geometry_version=GEOMETRY_VERSION,
    )


def _all_read(records: HeadRecords, taken_back: list[Reading], addresses: set[str]) -> Iterator[Reading]:
    """Every reading that the sheet shows, whether it stands or was taken back."""
    for kept in (records.build.lifts, records.build.heights):
        for address in addresses:
            yield from kept.get(address, [])
    for reading in taken_back:
        yield reading
        if reading.corrects is not None:
            yield reading.corrects


def _valve(valve: ValveState, stand: StandState, sets: list[list[HeightRead]], unit: str) -> ValveLine:
    inputs = valve.inputs
    arm = inputs.arm
    return ValveLine(
        address=valve.address,
        kind=valve.valve.get_kind_display(),
        stand=stand.address,
        tip_diameter=float(valve.valve.tip_diameter),
        arm=ArmLine(arm.length, arm.tip_radius, arm.shaft_radius, inputs.square_at) if arm else None,
        lift=inputs.lift,
        lift_source=lift_source(valve),
        target_top=valve.target_top,
        found_error=history.found_error(valve, sets),
        found=off_words(history.found_error(valve, sets), unit),
        pack=history.pack_words(stand.pack, unit),
        pack_total=stand.told_total,
        readings=[history.reading_line(read) for read in valve.reads],
        top_now=valve.top_now,
        left_over=valve.height_error,
        left=off_words(valve.height_error, unit),
        uncertainty=valve.expanded,
        uncertainty_words=uncertainty_words(valve, unit),
        low=valve.tolerance.low,
        high=valve.tolerance.high,
        verdict=valve.verdict,
        sweep_right=valve.sweep_target,
        sweep_now=valve.sweep_now,
        sweep_verdict=valve.sweep_verdict,
        problem=valve.problem,
        changed=list(valve.changed),
    )


def _tip(mark: MarkState) -> TipLine | None:
    """The mark as read, where it counts as proof."""
    if not mark.counts or mark.inner is None or mark.outer is None:
        return None
    return TipLine(mark.inner, mark.outer, mark.taper)


def _marks_again(marks: Mapping[str, MarkState]) -> list[str]:
    """Which marks no longer count, one sentence for each reason."""
    why: dict[str, list[str]] = {}
    for mark in marks.values():
        for sentence in mark.again:
            why.setdefault(sentence.removeprefix(f"{mark.address}: "), []).append(mark.address)
    return [f"Mark of {', '.join(addresses)}: {sentence}" for sentence, addresses in why.items()]


def uncertainty_words(valve: ValveState, unit: str) -> str:
    """How well what is left over at a valve is known; nothing where nobody knows."""
    return "" if valve.expanded is None else plus_minus(valve.expanded, unit).removesuffix(f" {unit}")


def lift_source(valve: ValveState) -> str:
    """Where a valve's net lift comes from: measured, and how often, or the cam card."""
    inputs = valve.inputs
    if inputs.lift is None:
        return "not known"
    if not inputs.lift_count:
        return "cam card"
    return inputs.lift_source if inputs.lift_count == 1 else f"{inputs.lift_source}, n {inputs.lift_count}"
