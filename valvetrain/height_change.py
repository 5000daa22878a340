"""The stand heights of an engine as found, beside those that it left with: high or low at each valve."""

from collections.abc import Iterator
from decimal import Decimal

from django.urls import reverse

from builds.comparing import Compared, Pair, Stood
from builds.limits import LimitFor
from builds.models import Build
from valvetrain.gathering import gather
from valvetrain.models import Head
from valvetrain.standlines import ORDER
from valvetrain.states import ValveState
from valvetrain.targets import head_state

STEP, NAME = "stand-height", "stand height"
READ_WITH_LIFT = "the net lift was measured {}, and is taken from the cam card {}"


def compared_heights(pair: Pair) -> Iterator[Compared]:
    """A line for each valve whose height is read on either side; plus: high. A constant number of queries."""
    then, now = _valves(pair.built), _valves(pair.found)
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


def _valves(build: Build) -> dict[str, ValveState]:
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    states = [head_state(records) for records in gather(heads, with_tools=True)]
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
    """Where one side's target hangs on a measured lift and the other's on the card."""
    if built is None or found is None or built.height_error is None or found.height_error is None:
        return ""
    if built.inputs.lift_source == found.inputs.lift_source:
        return ""
    return READ_WITH_LIFT.format(
        *(("now", "then") if found.inputs.lift_source == "measured" else ("then", "now"))
    )
