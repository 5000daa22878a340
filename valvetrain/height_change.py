"""The stand heights of an engine as found, beside those that it left with: high or low at each valve."""

from collections.abc import Iterator
from decimal import Decimal

from django.urls import reverse

from builds.comparing import NOT_AGAIN, NOT_THAT, ONLY_NOW, Compared, Pair, Stood
from builds.limits import LimitFor
from builds.measures import show
from builds.models import Build
from valvetrain.as_found_reads import LogReads, as_it_came
from valvetrain.changes import NOTICEABLE, lift_part
from valvetrain.gathering import HeadRecords, gather
from valvetrain.models import Head
from valvetrain.standlines import ORDER
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState
from valvetrain.work_done import WorkDone

STEP, NAME = "stand-height", "stand height"


def compared_heights(pair: Pair) -> Iterator[Compared]:
    """A line for each valve whose height is read on either side; plus: high. A constant number of queries."""
    reads, work = LogReads(pair.now), WorkDone([pair.found.pk])
    built_heads = _heads(pair.built)
    found_heads = [as_it_came(records, reads, work) for records in _heads(pair.found)]
    then, now = _valves(built_heads), _valves(found_heads)
    for address in dict.fromkeys([*now, *then]):
        built, found = (valves.get(address) for valves in (then, now))
        stood = [_stood(valve) for valve in (built, found)]
        if all(each.value is None for each in stood):
            continue
        yield Compared(
            position=address, key="height_error", name="stand height, + high", step=STEP, step_name=NAME, order=ORDER,
            unit=pair.length_unit, length_unit=pair.length_unit, coverage=pair.coverage, then=stood[0], now=stood[1],
            url=reverse("bench-at", args=[found.valve.head_id, address]) if found is not None else "",
            note=_unlike(built, found, pair.length_unit),
        )  # fmt: skip


def _heads(build: Build) -> list[HeadRecords]:
    return gather(Head.objects.filter(build=build).select_related("build__engine__customer"), with_tools=True)


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


def _unlike(built: ValveState | None, found: ValveState | None, unit: str) -> str:
    """What the two sides' targets do not hang on alike, the net lift, and how much of the change is its."""
    if built is None or found is None or built.height_error is None or found.height_error is None:
        return ""
    then, now = built.inputs, found.inputs
    if then.lift_readings and then.lift_readings == now.lift_readings:
        return f"net lift {NOT_AGAIN}"
    told = []
    if now.lift_readings and not then.lift_readings:
        told.append(f"net lift {ONLY_NOW}")
    elif then.lift_readings and not now.lift_readings:
        told.append(f"net lift {NOT_THAT}")
    part = lift_part(then, now)
    if part is not None and abs(part) > NOTICEABLE:
        lifts = " → ".join(show(each.lift, unit) for each in (then, now))
        amount = show(part, unit, sign=True, with_unit=True)
        told.append(f"{amount} of the change is the net lift’s ({lifts} {unit}), not the stand’s")
    return "; ".join(told)
