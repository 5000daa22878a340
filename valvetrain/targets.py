"""Records in, geometry, targets and verdicts out: the only bridge between the book and the geometry service.

Nothing here is kept. Change the cam card and every verdict follows at the next look.
"""

from collections.abc import Iterable

from builds.models import Reading
from builds.verdicts import COVERAGE, Rule
from valvetrain.changes import Inputs, changes_since, inputs_of, since_the_slide, slide_since
from valvetrain.characteristics import STAND_GAP, TOP_OF_SHAFT
from valvetrain.gathering import HeadRecords, LimitValue, context_of, gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import (
    ReadingToExpect,
    height_from_gauge,
    height_from_top,
    height_from_underside,
    reading_to_expect,
    top_of_shaft,
)
from valvetrain.models import Head, HeightGauge, Stand, Valve
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.valvestate import DEFAULT_TOLERANCE, HeightRead, ValveState


def states_of(heads: Iterable[Head]) -> list[HeadState]:
    """Work out heads from their records, in a constant number of queries."""
    return [head_state(records) for records in gather(heads)]


def head_state(records: HeadRecords) -> HeadState:
    """Work out one head."""
    tolerance = _tolerance(records)
    multiples = {
        material: limit.low
        for material in ("aluminium", "iron")
        if (limit := records.limits.get(f"engagement_{material}")) is not None and limit.low is not None
    }
    stands = []
    for stand in records.stands:
        packs = records.packs.get(stand.pk, [])
        pack_id = str(packs[-1].client_id) if packs else ""
        valves = [valve_state(records, stand, valve, pack_id) for valve in records.valves_on[stand.pk]]
        stands.append(StandState(stand, valves, packs, tolerance, multiples, records.shims))
    return HeadState(records.head, stands, records.gauges)


def _tolerance(records: HeadRecords) -> LimitValue:
    return records.limits.get("stand_height") or LimitValue(-DEFAULT_TOLERANCE, DEFAULT_TOLERANCE, "")


def valve_state(records: HeadRecords, stand: Stand, valve: Valve, pack_id: str) -> ValveState:
    """Work out one valve from the readings with one pack (its client id; "" for those before any), since the last slide.

    An engine that has gone out is judged by what held when it was last read: a gauge that is measured anew, or a limit
    that the shop changes, says nothing about the past.
    """
    inputs, tolerance = inputs_of(records, valve), _tolerance(records)
    readings = [
        each for each in records.build.heights.get(valve.address, []) if context_of(each)[0] == pack_id
    ]
    moves = records.moves.get(stand.pk, [])
    readings = since_the_slide(readings, moves)
    left = not records.head.job.takes_readings
    now = inputs
    if left and readings:
        held = context_of(readings[-1])[2]
        inputs, tolerance = inputs.as_held(held), _held_tolerance(held, tolerance)
    state = ValveState(
        valve, stand, inputs, tolerance, records.limits.get("sweep"), records.tools, records.gauges
    )
    state.left = left
    if left and readings:
        state.held_rule = _held_rule(context_of(readings[-1])[2])
    if inputs.arm is None:
        state.problem = "Enter the rocker set first: its arm length, roller and shaft."
        return state
    if inputs.lift is None:
        state.problem = f"Enter the cam card, or measure the net lift of {valve.address}."
        return state
    try:
        state.target_top = float(top_of_shaft(inputs.arm, inputs.lift, inputs.square_at))
        for reading in readings:
            state.reads.append(read_height(reading, inputs, records.gauges, as_held=left))
    except GeometryError as error:
        state.problem = f"{valve.address}: {error}."
        return state
    if state.reads:
        newest = state.reads[-1].reading
        state.changed = changes_since(newest, now, records.gauges, valve.address)
        state.changed += slide_since(newest, moves, valve.address)
    return state


def _held_tolerance(held: dict[str, str], tolerance: LimitValue) -> LimitValue:
    if not held.get("limit_low") or not held.get("limit_high"):
        return tolerance
    return LimitValue(float(held["limit_low"]), float(held["limit_high"]), tolerance.source)


def _held_rule(held: dict[str, str]) -> Rule | None:
    if "guard_band" not in held:
        return None
    return Rule(held["guard_band"] == "on", float(held.get("coverage", COVERAGE)))


def read_height(
    reading: Reading, inputs: Inputs, gauges: dict[int, HeightGauge], *, as_held: bool = False
) -> HeightRead:
    """Turn one height reading into the top of the shaft above the tip [in], by the way it was taken.

    `as_held` takes the gauge as it was when it was read, not as it is in the drawer now.
    """
    assert inputs.arm is not None and reading.value is not None
    value = float(reading.value)
    _pack, feeler, held = context_of(reading)
    if reading.characteristic == STAND_GAP.key and as_held and held.get("step"):
        was = float(held["dummy_diameter"]) / 2 if held.get("dummy_diameter") else None
        centre = height_from_gauge(
            inputs.arm, step=float(held["step"]), gap=value, foot_feeler=feeler, dummy_radius=was
        )
    elif reading.characteristic == STAND_GAP.key:
        gauge = gauges.get(reading.instrument_id or 0)
        if gauge is None:
            raise GeometryError(
                f"the gauge that read {reading.text} is not in the drawer any more",
                where="instrument",
                right="enter its step in the drawer",
            )
        dummy = float(gauge.dummy_diameter) / 2 if gauge.dummy_diameter else None
        centre = height_from_gauge(
            inputs.arm, step=gauge.step_value(), gap=value, foot_feeler=feeler, dummy_radius=dummy
        )
    elif reading.characteristic == TOP_OF_SHAFT.key:
        centre = height_from_top(inputs.arm, value)
    else:
        centre = height_from_underside(inputs.arm, value)
    return HeightRead(reading, float(centre) + inputs.arm.shaft_radius, feeler)


def expected_reading(valve: ValveState, gauge: HeightGauge) -> ReadingToExpect | None:
    """What a gauge shows at this valve when the height is right."""
    if valve.arm is None or valve.inputs.lift is None or valve.problem:
        return None
    dummy = float(gauge.dummy_diameter) / 2 if gauge.dummy_diameter else None
    try:
        return reading_to_expect(
            valve.arm,
            valve.inputs.lift,
            gauge.step_value(),
            square_at=valve.inputs.square_at,
            dummy_radius=dummy,
        )
    except GeometryError:
        return None


def ready_builds(build_ids: Iterable[int]) -> set[int]:
    """Of these builds, those on which every stand of every head is in. A constant number of queries."""
    heads = Head.objects.filter(build__in=list(build_ids)).select_related("build")
    done: dict[int, bool] = {}
    for state in states_of(heads):
        build_id = state.head.build_id
        assert build_id is not None
        done[build_id] = done.get(build_id, True) and state.done
    return {build_id for build_id, all_done in done.items() if all_done}
