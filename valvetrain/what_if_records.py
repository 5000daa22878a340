"""What if, on a job: its records as plain setups, and its stands as they would be. Nothing here writes anything."""

from collections import defaultdict
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from math import radians, tan
from statistics import fmean
from typing import Any

from builds.models import Build, Reading
from valvetrain.gathering import HeadRecords, LimitValue, gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.height import sideways_shift
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.packs import PackChoice
from valvetrain.geometry.springs import load_at
from valvetrain.models import FitsValves, Head, HeightGauge, PushrodSide, SpringSheet, Stand, Valve
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState
from valvetrain.what_if import Outcome, mark_walk, what_if, with_pushrod
from valvetrain.what_if_setup import Changes, Setup
from valvetrain.worksheet import linkage_for

CLEARANCES = ("retainer_to_seal", "rocker_to_retainer", "piston_to_valve")
SPRING_READINGS = ("installed_height", "seat_load", "open_load", "solid_height")
LOG_KEYS = (*SPRING_READINGS, *CLEARANCES, "pushrod_length")


@dataclass(frozen=True)
class ValveToday:
    """One valve of the records: as the bench judges it, as plain numbers, and where those come from."""

    state: ValveState
    setup: Setup
    sources: Mapping[str, str]


@dataclass
class Today:
    """A job as its records have it."""

    job: Build
    heads: list[HeadState] = field(default_factory=list)
    valves: dict[str, ValveToday] = field(default_factory=dict)
    gauges: dict[int, HeightGauge] = field(default_factory=dict)
    gauge: HeightGauge | None = None
    limits: dict[str, LimitValue] = field(default_factory=dict)

    def covered(self, at: str) -> dict[str, ValveToday]:
        """The valves that a trial is for: all, those of one kind, or one by its address."""
        return {
            address: valve
            for address, valve in self.valves.items()
            if at in ("", address, valve.state.valve.kind)
        }


def read_today(job: Build, gauge_pk: int = 0) -> Today:
    """Read a job's numbers, in a constant number of queries; `gauge_pk` is the instrument chosen at the bench."""
    found = gather(Head.objects.filter(build=job).select_related("build__engine__customer"))
    if not found:
        return Today(job)
    gauges = found[0].gauges
    gauge = gauges.get(gauge_pk) or next((each for each in gauges.values() if each.instrument.in_use), None)
    today = Today(job, gauges=gauges, gauge=gauge, limits=found[0].limits)
    read = _log_means(job)
    sheets = {sheet.fits: sheet for sheet in SpringSheet.objects.filter(build=job)}
    sides = list(PushrodSide.objects.filter(build=job))
    for records in found:
        state = head_state(records)
        today.heads.append(state)
        for stand in state.stands:
            for valve in stand.valves:
                sheet = sheets.get(valve.valve.kind) or sheets.get(FitsValves.BOTH)
                today.valves[valve.address] = _valve_today(
                    valve, records, gauge, read.get(valve.address, {}), sheet, sides
                )
    order = sorted(today.valves, key=lambda address: _along(today.valves[address].state.valve))
    today.valves = {address: today.valves[address] for address in order}
    return today


def _along(valve: Valve) -> tuple[int, str, int]:
    return valve.cylinder, valve.kind, valve.nth or 0


def _log_means(job: Build) -> dict[str, dict[str, float]]:
    """Mean of the newest set of readings, by address and by what was read [base unit]."""
    sets: dict[tuple[str, str], dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    rows = Reading.objects.standing().filter(build=job, characteristic__in=LOG_KEYS)
    for position, key, value, context in rows.values_list("position", "characteristic", "value", "context"):
        sets[position, key][int(context.get("set", 0))].append(float(value or 0))
    means: dict[str, dict[str, float]] = defaultdict(dict)
    for (position, key), found in sets.items():
        means[position][key] = fmean(found[max(found)])
    return means


def _valve_today(
    state: ValveState,
    records: HeadRecords,
    gauge: HeightGauge | None,
    read: Mapping[str, float],
    sheet: SpringSheet | None,
    sides: list[PushrodSide],
) -> ValveToday:
    inputs, build = state.inputs, records.build
    rockers, card, kind = build.rockers_for(state.valve.kind), build.cam_card, state.valve.kind
    spring, sources = _spring_today(read, sheet, inputs.lift)
    sources |= dict.fromkeys((*CLEARANCES, "pushrod_length"), "measured")
    sources |= dict.fromkeys(("lobe_lift", "lash"), "cam card") | {"lift": inputs.lift_source}
    clearances: dict[str, Any] = {name: read.get(name) for name in CLEARANCES}
    setup = Setup(
        arm_length=inputs.arm.length if inputs.arm else None,
        tip_radius=inputs.arm.tip_radius if inputs.arm else None,
        shaft_radius=inputs.arm.shaft_radius if inputs.arm else None,
        square_at=inputs.square_at,
        ratio=float(rockers.ratio) if rockers else None,
        lobe_lift=float(card.lobe_lift(kind)) if card else None,
        lash=float(card.lash(kind)) if card else None,
        lift=inputs.lift,
        top_now=state.top_now,
        pad_tilt=float(state.stand.pad_tilt),
        gauge_step=gauge.step_value() if gauge else None,
        dummy_radius=dummy_radius(gauge),
        pushrod_length=read.get("pushrod_length"),
        linkage=_linkage_today(records, state.valve, sides),
        **clearances,
        **spring,
    )
    return ValveToday(state, setup, sources)


def _linkage_today(records: HeadRecords, valve: Valve, sides: list[PushrodSide]) -> PushrodLinkage | None:
    """The pushrod's side of a valve; None where it is not entered, or its parts do not go together."""
    try:
        return linkage_for(records, valve, sides) if sides else None
    except GeometryError:
        return None


def dummy_radius(gauge: HeightGauge | None) -> float | None:
    """Half the gauge's own dummy shaft [in]; None where it is the rockers' size."""
    return float(gauge.dummy_diameter) / 2 if gauge is not None and gauge.dummy_diameter else None


def _spring_today(
    read: Mapping[str, float], sheet: SpringSheet | None, lift: float | None
) -> tuple[dict[str, Any], dict[str, str]]:
    """Installed height, seat load, rate and solid height: measured before the sheet's, and which of the two."""
    rate = float(sheet_rate) if sheet and (sheet_rate := sheet.rate()) is not None else None
    if lift and "seat_load" in read and "open_load" in read and read["open_load"] > read["seat_load"]:
        rate = (read["open_load"] - read["seat_load"]) / lift
    height = read.get("installed_height", float(sheet.installed_height) if sheet else None)
    load = read.get("seat_load")
    if load is None and sheet is not None:
        load = float(sheet.seat_load)
        if rate is not None and height is not None:
            load = float(
                load_at(
                    height,
                    spring_rate=rate,
                    seat_load=load,
                    installed_height=float(sheet.installed_height),
                )
            )
    found = {
        "installed_height": height,
        "seat_load": load,
        "spring_rate": rate,
        "solid_height": read.get("solid_height", float(sheet.solid_height) if sheet else None),
    }
    known = {
        **dict.fromkeys(read, "measured"),
        **({"spring_rate": "measured"} if "open_load" in read else {}),
    }
    return found, {name: known.get(name, "spring sheet") for name in found}


@dataclass(frozen=True)
class StandPair:
    """One stand today and in a trial."""

    was: StandState
    now: StandState

    @cached_property
    def packs(self) -> tuple[float | None, float | None]:
        """The pack [in] that it ends with, today and in the trial."""
        return planned_pack(self.was), planned_pack(self.now)

    @cached_property
    def carries(self) -> tuple[float, float] | None:
        """How far the shaft goes across [in] from where it was read, today and in the trial; None while not read."""
        was, now = (carried(*each) for each in zip((self.was, self.now), self.packs, strict=True))
        return None if was is None or now is None else (was, now)


@dataclass
class TriedOut:
    """A job with a trial worked out over it. `walks`: how far the mark's middle moves at each valve [in]."""

    today: Today
    outcomes: dict[str, Outcome]
    walks: dict[str, float | None]
    stands: list[StandPair]
    untouched: int


def try_out(today: Today, at: str, changes: Changes) -> TriedOut:
    """Work a trial out over the valves it is for, and the stands that carry them."""
    covered = today.covered(at)
    outcomes = {address: what_if(valve.setup, changes) for address, valve in covered.items()}
    tried = TriedOut(today, outcomes, {}, [], 0)
    for head in today.heads:
        for stand in head.stands:
            mine = {valve.address for valve in stand.valves} & set(outcomes)
            if not mine:
                tried.untouched += bool(stand.valves)
                continue
            pair = StandPair(stand, _trial_stand(stand, outcomes, changes))
            tried.stands.append(pair)
            for address in mine:
                _add_carry(tried, address, pair, changes)
    return tried


def _add_carry(tried: TriedOut, address: str, pair: StandPair, changes: Changes) -> None:
    """What the packs carry the shaft across at one valve, and so the mark and an exact pushrod."""
    outcome = tried.outcomes[address]
    if pair.carries is None:
        tilt = radians(float(pair.now.stand.pad_tilt))
        was, now = 0.0, (outcome.stand_move or 0.0) * tan(tilt)
    else:
        was, now = pair.carries
    tried.walks[address] = mark_walk(outcome, was, now)
    if outcome.today.linkage is not None:
        tried.outcomes[address] = with_pushrod(outcome, changes, carried=now - was)


def _trial_stand(stand: StandState, outcomes: Mapping[str, Outcome], changes: Changes) -> StandState:
    """The stand with its valves as a trial has them: judged, and its pack chosen, by what the bench uses."""
    row = copy(stand.stand)
    if changes.pad_tilt is not None:
        row.pad_tilt = Decimal(repr(changes.pad_tilt))
    valves = [
        _trial_valve(valve, row, outcomes[valve.address]) if valve.address in outcomes else valve
        for valve in stand.valves
    ]
    return replace(stand, stand=row, valves=valves)


def _trial_valve(valve: ValveState, row: Stand, outcome: Outcome) -> ValveState:
    trial, now = outcome.trial, outcome.now
    inputs = replace(valve.inputs, arm=trial.arm, lift=trial.lift, square_at=trial.square_at)
    problem = valve.problem
    if now.target_top is None and now.problems:
        problem = f"{valve.address}: {now.problems[0]}."
    elif now.target_top is not None:
        problem = ""
    moved = 0.0 if trial.top_now is None or valve.top_now is None else trial.top_now - valve.top_now
    return replace(
        valve,
        stand=row,
        inputs=inputs,
        problem=problem,
        target_top=now.target_top,
        reads=[replace(read, top=read.top + moved) for read in valve.reads],
        changed=[],
    )


def stays(stand: StandState) -> bool:
    """Whether a stand needs nothing: no valve of it is out."""
    return stand.all_read and not any(valve.verdict == "out" for valve in stand.valves)


def chosen(stand: StandState) -> PackChoice | None:
    """The pack that the bench would offer; None where what is in place serves, or before the stand is read."""
    if not stand.all_read or stays(stand):
        return None
    return (stand.choice_for_most if stand.beyond_shims == "tips" else None) or stand.choice


def planned_pack(stand: StandState) -> float | None:
    """Pack [in] that a stand ends with: the one in place where it serves, else the chosen one; None when not read."""
    if not stand.all_read:
        return None
    choice = chosen(stand)
    return stand.pack_total if choice is None else choice.thickness


def carried(stand: StandState, pack: float | None) -> float | None:
    """How far the shaft goes across from where it was read [in]: by the pack, or by what comes off the stand's foot."""
    if pack is None:
        return None
    choice = chosen(stand)
    if choice is not None and choice.lower_by > 0 and not choice.within:
        pack = choice.ideal
    try:
        return float(sideways_shift(pack - stand.pack_total, float(stand.stand.pad_tilt)))
    except GeometryError:
        return None
