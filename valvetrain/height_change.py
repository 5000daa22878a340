"""The stand heights of an engine as found, beside those that it left with: high or low at each valve."""

from collections.abc import Iterator
from decimal import Decimal

from django.urls import reverse

from builds.comparing import NOT_AGAIN, ONLY_NOW, Compared, Pair, Stood
from builds.limits import LimitFor
from builds.models import Build
from valvetrain.as_found_reads import LogReads, as_it_came
from valvetrain.gathering import HeadRecords, gather
from valvetrain.models import Head
from valvetrain.standlines import ORDER
from valvetrain.states import ValveState
from valvetrain.targets import head_state
from valvetrain.work_done import WorkDone

STEP, NAME = "stand-height", "stand height"


def compared_heights(pair: Pair) -> Iterator[Compared]:
    """A line for each valve whose height is read on either side; plus: high. A constant number of queries."""
    reads, work = LogReads(pair.now), WorkDone([pair.found.pk])
    built_heads = _heads(pair.built)
    found_heads = [as_it_came(records, reads, work) for records in _heads(pair.found)]
    _with_lifts_of_then(built_heads, found_heads)
    then, now = _valves(built_heads), _valves(found_heads)
    for address in dict.fromkeys([*now, *then]):
        built, found = (valves.get(address) for valves in (then, now))
        stood = [_stood(valve) for valve in (built, found)]
        if all(each.value is None for each in stood):
            continue
        head = (found or built or next(iter(now.values()))).valve.head
        yield Compared(
            position=address, key="height_error", name="stand height, + high", step=STEP, step_name=NAME, order=ORDER,
            unit=pair.length_unit, length_unit=pair.length_unit, coverage=pair.coverage, then=stood[0], now=stood[1],
            url=reverse("bench-at", args=[head.pk, address]) if found is not None else "", note=_unlike(built, found),
        )  # fmt: skip


def _heads(build: Build) -> list[HeadRecords]:
    return gather(Head.objects.filter(build=build).select_related("build__engine__customer"), with_tools=True)


def _with_lifts_of_then(built: list[HeadRecords], found: list[HeadRecords]) -> None:
    """Let net lifts measured then stand in where none is measured as found, so that only the shaft's move is told."""
    for records in found:
        for address, measured in built[0].build.lifts.items() if built else ():
            if not records.build.lifts.get(address):
                records.build.lifts[address] = measured


def _valves(gathered: list[HeadRecords]) -> dict[str, ValveState]:
    states = [head_state(records) for records in gathered]
    return {valve.address: valve for state in states for valve in state.valves}


def _stood(valve: ValveState | None) -> Stood:
    if valve is None:
        return Stood(there=False)
    low, high = (
        None if end is None else Decimal(repr(end)) for end in (valve.tolerance.low, valve.tolerance.high)
    )
    limit = None if low is None and high is None else LimitFor(low, high, valve.tolerance.source)
    if valve.height_error is None:
        return Stood(limit=limit)
    standard = None if valve.budget is None else valve.budget.standard
    return Stood(Decimal(repr(valve.height_error)), len(valve.reads), standard, limit, valve.verdict)


def _unlike(built: ValveState | None, found: ValveState | None) -> str:
    """What the two sides' targets do not hang on alike: the net lift."""
    if built is None or found is None or built.height_error is None or found.height_error is None:
        return ""
    then, now = (valve.inputs.lift_readings for valve in (built, found))
    if then and then == now:
        return f"net lift {NOT_AGAIN}"
    return f"net lift {ONLY_NOW}" if now and not then else ""
