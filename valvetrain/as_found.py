"""What an engine that came back really had, valve by valve: the geometry worked out from what was read as found.

In a constant number of queries, whatever the number of valves. `as_found_words` says it in sentences.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from builds.models import Build, Reading
from builds.worklog import WorkLog
from valvetrain.as_found_changes import Change, changes_of
from valvetrain.as_found_lift import LashRead, inputs_as_found, lash_read
from valvetrain.as_found_moment import Moment
from valvetrain.as_found_reads import LogReads, as_it_came
from valvetrain.as_found_springs import Figure, spring_had
from valvetrain.changes import Inputs, since_the_slide
from valvetrain.characteristics import NET_LIFT
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import top_of_shaft
from valvetrain.marks import MarkState, mark_state
from valvetrain.models import Head, SpringSheet
from valvetrain.papers import sheet_for
from valvetrain.standstate import StandState
from valvetrain.targets import head_state, read_height
from valvetrain.valvestate import ValveState
from valvetrain.work_done import WorkDone

NOT_FOUND = "{address}: no height was read as found; where it stood when it left says nothing of now."
NEVER_READ = "{address}: no height was read before it left."
Sheets = Mapping[str, SpringSheet]


@dataclass
class ValveAsFound:
    """One valve: what it had when the engine left, and what it really had as found. None where it was not there."""

    address: str
    kind: str
    head: str
    then: Moment | None = None
    now: Moment | None = None
    lash: LashRead | None = None
    changes: list[Change] = field(default_factory=list)

    @property
    def most(self) -> Change | None:
        """What changed most, by what is allowed of it; None where nothing can be compared."""
        return max(self.changes, key=lambda change: change.share, default=None)

    @property
    def share(self) -> float:
        """By how many times what is allowed it changed most; below nothing where nothing can be compared."""
        return self.most.share if self.most is not None else -1.0


@dataclass(frozen=True)
class _Place:
    """One valve on one of the two jobs: how its head stands, and its records."""

    records: HeadRecords
    stand: StandState
    state: ValveState


def as_found(job: Build) -> list[ValveAsFound]:
    """Every valve of a job that looks again, beside the job that the engine left with, in order along the heads.

    Nothing for a job that follows none. A constant number of queries.
    """
    left = job.follows
    if left is None:
        return []
    heads = (
        Head.objects.filter(build__in=[left, job]).select_related("build__engine__customer").order_by("pk")
    )
    gathered = gather(heads, with_tools=True)
    before, reads = LogReads(WorkLog(left)), LogReads(WorkLog(job, as_found=True))
    work = WorkDone([job.pk])
    then = _places(records for records in gathered if records.head.build_id == left.pk)
    now = _places(as_it_came(records, reads, work) for records in gathered if records.head.build_id == job.pk)
    sheets: dict[int, dict[str, SpringSheet]] = {left.pk: {}, job.pk: {}}
    for sheet in SpringSheet.objects.filter(build__in=[left, job]):
        sheets[sheet.build_id][sheet.fits] = sheet
    found = []
    for address in dict.fromkeys([*now, *then]):
        here, there = now.get(address), then.get(address)
        told = (here or there).state.valve  # type: ignore[union-attr]
        valve = ValveAsFound(address, told.kind, told.head.name)
        if there is not None:
            valve.then = _as_it_left(there, before, sheets[left.pk])
        if here is not None:
            _put_found(valve, here, there, reads, before, sheets[job.pk])
        if valve.then is not None and valve.now is not None:
            valve.changes = changes_of(valve.then, valve.now, before.log)
        found.append(valve)
    return found


def most_changed_first(valves: Iterable[ValveAsFound]) -> list[ValveAsFound]:
    """The valves by what changed most of each; those that cannot be compared last, in their order along the heads."""
    return sorted(valves, key=lambda valve: -valve.share)


def _places(heads: Iterable[HeadRecords]) -> dict[str, _Place]:
    found = {}
    for records in heads:
        state = head_state(records)
        stands = {valve.address: stand for stand in state.stands for valve in stand.valves}
        for valve in state.valves:
            valve.valve.head = records.head
            stands[valve.address].stand.head = records.head
            found[valve.address] = _Place(records, stands[valve.address], valve)
    return found


def _as_it_left(place: _Place, reads: LogReads, sheets: Sheets) -> Moment:
    state, address = place.state, place.state.address
    measured = state.inputs.lift_readings
    # Heights that were read before the lift was measured are judged by the lift that held then; it left with this one.
    lift = reads.value(address, NET_LIFT.key) if measured else state.inputs.lift
    why = "" if lift is not None else f"The net lift of {address} was not known when it left."
    return Moment(
        state,
        Figure(lift, state.inputs.lift_source, why=why),
        _mark(place, state, reads.of_the_mark(address)),
        spring_had(address, reads, lift, sheet_for(sheets, state.valve.kind)),
        state.problem or ("" if state.reads else NEVER_READ.format(address=address)),
    )


def _put_found(
    valve: ValveAsFound, here: _Place, there: _Place | None, reads: LogReads, before: LogReads, sheets: Sheets
) -> None:
    """Work out what a valve really had, and put it beside what it left with."""
    hardware, then = here.state.valve, valve.then
    valve.lash = lash_read(hardware, here.records, reads, before if there is not None else None)
    left_with = None if then is None else replace(then.state.inputs, lift=then.lift.value)
    inputs, lift = inputs_as_found(here.records, hardware, left_with, valve.lash)
    state = _state(here, inputs, lift)
    valve.now = Moment(
        state,
        lift,
        _mark(here, state, reads.of_the_mark(valve.address)),
        spring_had(
            valve.address, reads, lift.value, sheet_for(sheets, hardware.kind), then.spring if then is not None else None
        ),
        state.problem or ("" if state.reads else NOT_FOUND.format(address=valve.address)),
    )  # fmt: skip


def _state(place: _Place, inputs: Inputs, lift: Figure) -> ValveState:
    """How a valve stood as found, by the lift that it really had."""
    was, records = place.state, place.records
    state = ValveState(
        was.valve, was.stand, inputs, was.tolerance, was.sweep_limit, records.tools, records.gauges, left=True
    )
    if inputs.arm is None:
        state.problem = (
            f"{was.address}: enter the rocker set of this job first: its arm length, roller and shaft."
        )
        return state
    if inputs.lift is None:
        state.problem = lift.why
        return state
    moves = records.moves.get(was.stand.pk, [])
    readings: list[Reading] = since_the_slide(records.build.heights.get(was.address, []), moves)
    try:
        state.target_top = float(top_of_shaft(inputs.arm, inputs.lift, inputs.square_at))
        held = not records.head.job.takes_readings
        state.reads = [read_height(each, inputs, records.gauges, as_held=held) for each in readings]
    except GeometryError as error:
        state.problem = f"{was.address}: {error}."
    return state


def _mark(place: _Place, state: ValveState, readings: Sequence[Reading]) -> MarkState | None:
    """The mark as it was read at that time; None where it was not."""
    if not readings:
        return None
    found = mark_state(place.records, place.stand, state, readings)
    return found if found.read else None
