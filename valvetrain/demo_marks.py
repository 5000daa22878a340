"""The invented shop's witness marks, read by caliper: where the contact runs at the height that each valve was read at.

The width follows from the height error and the lift, the place from a little scatter that is the same at every loading;
`tests/valvetrain/test_demo_log.py` works the heights out again from the marks.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import NAMESPACE_URL, uuid5

from builds.models import Build, Instrument, Person
from builds.recording import Entry
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry.travel import contact_offsets, expected_mark
from valvetrain.mark_log import record_marks
from valvetrain.models import Head, Stand
from valvetrain.states import ValveState
from valvetrain.targets import head_state

# Marks of the engine in work that lie well outboard: their stand is to be slid. Middle of the marks [in].
OFF_CENTRE = {"L.stand1": 0.034}
# The hole of an invented stand is a sixty-fourth wider than its bolt.
WIDER = Decimal("0.015625")


def write_marks(key: str, job: Build, person: Person, caliper: Instrument | None, start: datetime) -> None:
    """Write the marks of every valve of a job that is in by the gauge."""
    for stand in Stand.objects.filter(head__build=job):
        Stand.objects.filter(pk=stand.pk).update(bolt_hole=stand.bolt_diameter + WIDER)
    heads = Head.objects.filter(build=job).select_related("build__engine__customer").order_by("pk")
    for place, records in enumerate(gather(heads, with_tools=True)):
        entries = [
            Entry(
                client_id=uuid5(NAMESPACE_URL, f"standbook-demo/{key}/{address}/{what}"), position=address,
                characteristic=what, text=text, unit="in", instrument=caliper, device="bench tablet",
                taken_at=start + timedelta(minutes=20 * place + number // 2), context={"set": 0},
            )
            for number, (address, what, text) in enumerate(_lines(records))
        ]  # fmt: skip
        record_marks(records, person, entries)


def _lines(records: HeadRecords) -> Iterator[tuple[str, str, str]]:
    state = head_state(records)
    for stand in state.stands:
        for number, valve in enumerate(stand.valves):
            if valve.verdict != "in" or valve.unsettled:
                continue
            middle = (
                OFF_CENTRE.get(stand.address, 0.006) + ((number * 5 + len(stand.address)) % 4 - 1.5) * 0.002
            )
            yield from _mark(valve, middle, ends=number % 2 == 0, taper=0.004 if number % 3 else 0.0)


def _mark(valve: ValveState, middle: float, *, ends: bool, taper: float) -> Iterator[tuple[str, str, str]]:
    """What somebody reads on one tip, to a thousandth, whose mark has its middle there."""
    inputs, error = valve.inputs, valve.height_error or 0.0
    assert inputs.arm is not None and inputs.lift is not None
    from_shaft = expected_mark(
        inputs.arm, inputs.lift, shaft_offset=1e-9, height_error=error, square_at=inputs.square_at
    )
    offset = (float(from_shaft.inner) + float(from_shaft.outer)) / 2 - middle
    inner, outer = float(from_shaft.inner) - offset, float(from_shaft.outer) - offset
    yield valve.address, "mark_inner", f"{inner:.3f}"
    yield valve.address, "mark_outer", f"{outer:.3f}"
    if ends:
        contact = contact_offsets(
            inputs.arm,
            inputs.lift,
            height_error=error,
            shaft_offset=offset,
            square_at=inputs.square_at,
            points=2,
        ).contact
        yield valve.address, "mark_closed", f"{contact[0]:.3f}"
        yield valve.address, "mark_open", f"{contact[1]:.3f}"
    yield valve.address, "mark_front_width", f"{outer - inner + taper / 2:.3f}"
    yield valve.address, "mark_rear_width", f"{outer - inner - taper / 2:.3f}"
