"""The setup sheet of one head: records in, snapshot out, in a constant number of queries."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from django.utils import timezone

from builds.logcells import StepState
from builds.models import Build, Instrument, Person, Reading, Shop
from builds.steps import steps
from builds.uncertainty import plus_minus
from builds.worklog import WorkLog
from valvetrain.charts.gathered import pack_numbers, spring_sheets, springs_of_head
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry import GEOMETRY_VERSION
from valvetrain.marks import MarkState, marks_of_head
from valvetrain.models import Head, Pad
from valvetrain.plan import StandPlace, ValvePlace
from valvetrain.sheets import facts, history
from valvetrain.sheets.snapshot import (
    ArmLine,
    GaugeLine,
    SetupSheet,
    StandLine,
    TipLine,
    ValveLine,
)
from valvetrain.sheets.step_history import in_sets, steps_ever_out
from valvetrain.sheets.steplog import belongs, log_lines
from valvetrain.sheets.through_lift import through_lift
from valvetrain.sheets.words import CAUTIONS, day, off_words, when
from valvetrain.states import DRAWN_AS, STATUS_WORDS, HeightRead, StandState, ValveState
from valvetrain.targets import head_state


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
    log_readings = _log_readings(build, states)
    taken_back = _taken_back(build, {*addresses, "engine"})
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
            _stand(stand, sum(pad.stand_id == stand.stand.pk for pad in pads), unit) for stand in state.stands
        ],
        ever_out=[
            line
            for v in state.valves
            for line in history.ever_out(v, stand_of[v.address], sets[v.address], unit)
        ],
        steps_out=list(steps_ever_out(log, states, in_sets(log_readings), {*addresses, "engine"})),
        corrections=history.corrections(taken_back, valves, records, log),
        gauges=_gauges(
            [
                *_all_read(records, taken_back, set(valves)),
                *(reading for reading in log_readings if reading.position in {*addresses, "engine"}),
            ],
            records,
        ),
        rockers=[facts.rockers(rocker_set, unit) for rocker_set in records.build.rocker_sets.values()],
        cam=facts.cam(records.build.cam_card, unit),
        cam_lines=facts.cam_lines(records.build.cam_card, unit),
        limits=facts.limits(head, records.limits, unit),
        rule=records.tools.rule.words,
        missing=[*_missing(state.stands, records), *_marks_again(marks)],
        cautions=CAUTIONS,
        plan_stands=tuple(_stand_place(stand, pads) for stand in state.stands),
        plan_valves=tuple(_valve_place(valve) for valve in state.valves),
        plan_states=_plan_states(state.stands),
        log=log_lines(states, addresses, _people(log_readings), unit),
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


def _log_readings(build: Build, states: Iterable[StepState]) -> list[Reading]:
    """Every standing reading of these steps, with who took it and with what."""
    keys = {characteristic.key for state in states for characteristic in state.step.measured}
    standing = Reading.objects.standing().filter(build=build, characteristic__in=keys)
    return list(standing.select_related("instrument", "taken_by"))


def _people(readings: Iterable[Reading]) -> dict[int, tuple[str, str]]:
    """Instrument and person of each reading, by its key."""
    return {
        reading.pk: (reading.instrument.mark if reading.instrument else "", str(reading.taken_by))
        for reading in readings
    }


def _taken_back(build: Build, addresses: set[str]) -> list[Reading]:
    """Every correction and striking-out at these addresses, oldest first."""
    return list(
        Reading.objects.filter(build=build, corrects__isnull=False, position__in=addresses)
        .select_related("instrument", "taken_by", "corrects__taken_by", "corrects__instrument")
        .order_by("pk")
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
        lift_source=_lift_source(valve),
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
        uncertainty_words=""
        if valve.expanded is None
        else plus_minus(valve.expanded, unit).removesuffix(f" {unit}"),
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


def _lift_source(valve: ValveState) -> str:
    inputs = valve.inputs
    if inputs.lift is None:
        return "not known"
    if not inputs.lift_count:
        return "cam card"
    return "measured" if inputs.lift_count == 1 else f"measured, n {inputs.lift_count}"


def _stand(stand: StandState, pads: int, unit: str) -> StandLine:
    thread = stand.engagement_now
    return StandLine(
        address=stand.address,
        label=stand.stand.label,
        pads=pads,
        pack=history.pack_words(stand.pack, unit),
        pack_total=stand.told_total,
        fitted_by=str(stand.pack.fitted_by) if stand.pack else "",
        fitted_at=when(stand.pack.fitted_at) if stand.pack else "",
        engagement=float(thread.engagement) if thread else None,
        asked=float(thread.required) if thread else None,
        enough=bool(thread.enough) if thread else None,
        past_thread=float(thread.past_thread) if thread else 0.0,
        status=STATUS_WORDS[stand.status],
    )


def _gauges(readings: Iterable[Reading], records: HeadRecords) -> list[GaugeLine]:
    used: dict[int, Instrument] = {
        r.instrument.pk: r.instrument for r in readings if r.instrument is not None
    }
    lines = []
    for pk, instrument in sorted(used.items(), key=lambda item: item[1].mark):
        gauge = records.gauges.get(pk)
        lines.append(
            GaugeLine(
                mark=instrument.mark,
                kind=" ".join(
                    filter(None, [instrument.get_kind_display(), instrument.name, instrument.serial])
                ),
                reads_to=float(instrument.resolution) if instrument.resolution is not None else None,
                step=gauge.step_value() if gauge else None,
                dummy=float(gauge.dummy_diameter) if gauge and gauge.dummy_diameter else None,
                checked=day(instrument.last_checked_on),
                due=day(instrument.due_on),
                overdue=instrument.overdue(),
            )
        )
    return lines


def _missing(stands: list[StandState], records: HeadRecords) -> list[str]:
    """What is not read yet, in words, stand by stand."""
    found = [] if records.build.cam_card else ["No cam card is entered."]
    if not stands:
        found.append("This head has no stands yet.")
    for stand in stands:
        if not stand.valves:
            found.append(f"{stand.address} has no valves yet.")
        found += [valve.problem for valve in stand.valves if valve.problem]
        unread = ", ".join(v.address for v in stand.valves if not v.problem and not v.reads)
        if unread:
            held = "with its pack in place" if stand.pack else "yet"
            found.append(f"{stand.address}: height not read {held} at {unread}.")
        if not stand.pack and any(valve.verdict == "out" for valve in stand.valves):
            found.append(f"{stand.address}: no pack is fitted.")
        found += [f"Look again. {sentence}" for sentence in stand.changed]
    return list(dict.fromkeys(found))


def _stand_place(stand: StandState, pads: list[Pad]) -> StandPlace:
    mine = [pad for pad in pads if pad.stand_id == stand.stand.pk]
    return StandPlace(
        key=stand.stand.pk,
        address=stand.address,
        label=str(stand.stand),
        bolt_diameter=float(stand.stand.bolt_diameter),
        pads=tuple((pad.letter, float(pad.along), float(pad.across)) for pad in mine),
    )


def _valve_place(valve: ValveState) -> ValvePlace:
    return ValvePlace(
        stand=valve.stand.pk,
        address=valve.address,
        label=f"cylinder {valve.valve.cylinder}, {valve.valve.get_kind_display()}",
        cylinder=valve.valve.cylinder,
        along=float(valve.valve.along),
        across=float(valve.valve.across),
        tip_diameter=float(valve.valve.tip_diameter),
    )


def _plan_states(stands: list[StandState]) -> dict[str, str]:
    states = {stand.address: f"is-{DRAWN_AS[stand.status]}" for stand in stands}
    for stand in stands:
        for valve in stand.valves:
            states[valve.address] = f"is-{DRAWN_AS[valve.status(fitted=stand.pack is not None)]}"
    return states
