"""The invented shop's witness marks, read by caliper: where the contact runs at the height that each valve was read at.

The width follows from the height error and the lift, the place from a little scatter that is the same at every loading;
`tests/valvetrain/test_demo_log.py` works the heights out again from the marks. Where a mark was measured on a photo
(`valvetrain.demo_photos`) only its two ends are read here.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import NAMESPACE_URL, uuid5

from builds.models import Build, Instrument, Person
from builds.recording import Entry
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry.travel import contact_offsets, expected_mark
from valvetrain.mark_log import record_marks
from valvetrain.models import Head, Stand
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState

# Marks of the engine in work that lie well outboard: their stand is to be slid. Middle of them [in], by job and stand.
OFF_CENTRE = {("puller", "L.stand1"): 0.038}
# The hole of an invented stand is a sixty-fourth wider than its bolt.
WIDER = Decimal("0.015625")
ENDS = ("mark_closed", "mark_open")


@dataclass(frozen=True)
class Run:
    """Where the contact runs on one tip [in], and how far its shaft stands from the valve's axis."""

    inner: float
    outer: float
    offset: float


def middle_of(job: str, stand: str, number: int) -> float:
    """Where the middle of a mark lies [in]: of the valve with this number on this stand of a job."""
    return OFF_CENTRE.get((job, stand), 0.006) + ((number * 5 + len(stand)) % 4 - 1.5) * 0.002


def run_of(valve: ValveState, middle: float, height_error: float | None = None) -> Run:
    """The mark that a valve's contact makes with its middle there, at the height that was read unless told another."""
    inputs, error = valve.inputs, valve.height_error if height_error is None else height_error
    assert inputs.arm is not None and inputs.lift is not None
    from_shaft = expected_mark(
        inputs.arm, inputs.lift, shaft_offset=1e-9, height_error=error or 0.0, square_at=inputs.square_at
    )
    offset = (float(from_shaft.inner) + float(from_shaft.outer)) / 2 - middle
    return Run(float(from_shaft.inner) - offset, float(from_shaft.outer) - offset, offset)


def write_marks(
    key: str,
    job: Build,
    person: Person,
    caliper: Instrument | None,
    start: datetime,
    *,
    photographed: Collection[str] = (),
) -> None:
    """Write the marks of every valve of a job that is in by the gauge; of those photographed only the ends."""
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
            for number, (address, what, text) in enumerate(_lines(key, records))
            if address not in photographed or what in ENDS
        ]  # fmt: skip
        record_marks(records, person, entries)


def _lines(key: str, records: HeadRecords) -> Iterator[tuple[str, str, str]]:
    state = head_state(records)
    for stand in state.stands:
        for number, valve in enumerate(stand.valves):
            if valve.verdict != "in" or valve.unsettled:
                continue
            run = run_of(valve, middle_of(key, stand.address, number))
            yield from _mark(valve, run, ends=number % 2 == 0, taper=0.004 if number % 3 else 0.0)


def _mark(valve: ValveState, run: Run, *, ends: bool, taper: float) -> Iterator[tuple[str, str, str]]:
    """What somebody reads on one tip, to a thousandth."""
    yield valve.address, "mark_inner", f"{run.inner:.3f}"
    yield valve.address, "mark_outer", f"{run.outer:.3f}"
    if ends:
        inputs = valve.inputs
        assert inputs.arm is not None and inputs.lift is not None
        contact = contact_offsets(
            inputs.arm,
            inputs.lift,
            height_error=valve.height_error or 0.0,
            shaft_offset=run.offset,
            square_at=inputs.square_at,
            points=2,
        ).contact
        yield valve.address, "mark_closed", f"{contact[0]:.3f}"
        yield valve.address, "mark_open", f"{contact[1]:.3f}"
    width = run.outer - run.inner
    yield valve.address, "mark_front_width", f"{width + taper / 2:.3f}"
    yield valve.address, "mark_rear_width", f"{width - taper / 2:.3f}"
