"""What a setup sheet costs: one head of sixteen valves with its whole log, from its records to the PDF.

    python -m tests.bench.setup_sheet

Beside it, turn and turn about, the same press prints a plain document of as many pages, full of text in the same
type and size. The ratio of the medians is printed; the goal is 1.5 or less. Both are warm: the second
sheet of a head and later.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

if __name__ == "__main__":
    os.environ["STANDBOOK_DATA"] = tempfile.mkdtemp()
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django

    django.setup()

from django.db import connection
from django.utils import timezone
from pypdf import PdfReader

from builds.models import Build, Customer, Engine, Instrument, Limit, Person, Reading
from builds.positions import positions_of
from builds.printing.paper import PAPERS
from builds.printing.press import press
from builds.recording import Entry, record, strike_out
from valvetrain.gathering import gather
from valvetrain.logbook import fit_pack, record_height, record_lift
from valvetrain.models import CamCard, Head, HeightGauge, Pad, RockerSet, SpringSheet, Stand, Valve
from valvetrain.sheets.page import setup_pdf
from valvetrain.sheets.setup import setup_sheet

ROUNDS = 21
GOAL = 1.5
PAUSE = 0.1  # s, so that neither pays for sweeping up after the other
SENTENCES = 112  # fill a page
PAPER = PAPERS["A4"]


@contextmanager
def temporary_book() -> Iterator[None]:
    """A book in memory, gone afterwards."""
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)


def make_head() -> tuple[Head, Person]:
    """One head of sixteen valves on eight stands, read, shimmed and read again. All of it is invented."""
    person = Person.objects.create(username="nora", name="Nora Vesterlund")
    Limit.add_defaults()
    customer = Customer.objects.create(name="Halvorsen Pulling Team")
    engine = Engine.objects.create(customer=customer, name="In-line eight", serial="HPT-8", cylinders=8)
    build = Build.objects.create(
        job_number="26-031", engine=engine, title="Set up new rockers", opened_by=person
    )
    RockerSet.objects.create(
        build=build, name="Set A", material="aluminium", arm_length=Decimal("1.650"), tip_diameter=Decimal("0.470"),
        shaft_diameter=Decimal("0.700"), ratio=Decimal("1.6"),
    )  # fmt: skip
    CamCard.objects.create(
        build=build, name="Card 12", intake_lobe_lift=Decimal("0.440"), exhaust_lobe_lift=Decimal("0.430"),
        intake_lash=Decimal("0.004"), exhaust_lash=Decimal("0.006"), intake_duration=Decimal("262"),
        exhaust_duration=Decimal("270"), lobe_separation=Decimal("114"),
    )  # fmt: skip
    instrument = Instrument.objects.create(
        mark="HG-1", kind="height-gauge", last_checked_on=timezone.localdate() - timedelta(days=400),
        due_on=timezone.localdate() - timedelta(days=35),
    )  # fmt: skip
    HeightGauge.objects.create(instrument=instrument, step=Decimal("0.235"))
    head = Head.objects.create(build=build, code="L", name="Head")
    for number in range(1, 9):
        _stand(head, number)
    head = Head.objects.select_related("build__engine__customer").get(pk=head.pk)
    _readings(head, person, instrument)
    return head, person


def _stand(head: Head, number: int) -> None:
    stand = Stand.objects.create(
        head=head, order=number, name=f"stand{number}", label=f"Pair, cylinder {number}",
        bolt_diameter=Decimal("0.4375"), bolt_length=Decimal("2.75"), washer_thickness=Decimal("0.120"),
        thickness_at_bolt=Decimal("1.450"), tapped_depth=Decimal("1.350"),
    )  # fmt: skip
    along = Decimal("4.4") * number
    for letter, off in (("A", "-1.42"), ("B", "1.42")):
        Pad.objects.create(stand=stand, letter=letter, along=along + Decimal(off), across=0)
    for place, (kind, off) in enumerate((("I", "-0.95"), ("E", "0.95"))):
        Valve.objects.create(
            head=head, stand=stand, order=2 * number + place, cylinder=number, kind=kind,
            along=along + Decimal(off), across=Decimal("1.62"), tip_diameter=Decimal("0.3415"),
        )  # fmt: skip


def _readings(head: Head, person: Person, instrument: Instrument) -> None:
    """Baseline, packs, proof with repeats; one valve left out, one reading corrected, one struck out."""
    addresses = [valve.address for valve in head.valves.all()]

    def read(address: str, gap: str, pack: str, **more: object) -> Reading:
        entry = Entry(uuid4(), address, "stand_gap", gap, "in", instrument=instrument, **more)  # type: ignore[arg-type]
        return record_height(gather([head])[0], person, entry, pack=pack)[0]

    for address in addresses[:4]:
        for lift in ("0.698", "0.701"):
            record_lift(gather([head])[0], person, Entry(uuid4(), address, "net_lift", lift, "in"))
    for index, address in enumerate(addresses):
        read(address, f"0.0{20 + index % 5}", "")
    for index, stand in enumerate(head.stands.all()):
        pieces = [(Decimal("0.015"), 1), (Decimal("0.010"), 1)] if index % 2 else [(Decimal("0.020"), 1)]
        pack = str(fit_pack(stand, person, client_id=uuid4(), pieces=pieces)[0].client_id)
        for valve in stand.valves.all():
            for gap in ("0.001", "0.0015"):
                read(valve.address, gap, pack)
    last = str(head.stands.last().packs.last().client_id)  # type: ignore[union-attr]
    wrong = read("8E", "0.021", last, sure=True)
    read("8E", "0.012", last, corrects=wrong, reason="gauge not seated", sure=True)
    struck = read("8I", "0.019", last, sure=True)
    strike_out(head.build, person, client_id=uuid4(), reading=struck, reason="read at the wrong valve")  # type: ignore[arg-type]
    _steps(head, person, instrument)


# Keyed in at every valve: what, and in which unit.
STEPS = [
    ("lobe_lift", "0.440", "in"), ("pushrod_length", "8.700", "in"), ("pushrod_to_head", "0.045", "in"),
    ("installed_height", "1.902", "in"), ("seat_load", "238", "lbf"), ("open_load", "590", "lbf"),
    ("retainer_to_seal", "0.080", "in"), ("rocker_to_retainer", "0.052", "in"), ("piston_to_valve", "0.125", "in"),
    ("piston_to_valve_angle", "10", "°"), ("lash_cold", "0.005", "in"),
]  # fmt: skip


def _steps(head: Head, person: Person, instrument: Instrument) -> None:
    """The steps of the log at every valve and pad, one value out before the work and in after it."""
    build = head.job
    positions = positions_of(build)
    SpringSheet.objects.create(
        build=build, installed_height=Decimal("1.900"), seat_load=Decimal(240), open_height=Decimal("1.200"),
        open_load=Decimal(590), solid_height=Decimal("1.120"),
    )  # fmt: skip

    def key_in(address: str, key: str, text: str, unit: str, **more: object) -> None:
        entry = Entry(uuid4(), address, key, text, unit, instrument=instrument, sure=True, **more)  # type: ignore[arg-type]
        record(build, person, entry, positions)

    key_in("1E", "rocker_to_retainer", "0.030", "in")
    for valve in head.valves.all():
        for key, text, unit in STEPS:
            key_in(valve.address, key, text, unit, context={"set": 1})
    for stand in head.stands.all():
        for pad in stand.pads.all():
            key_in(pad.address, "stand_bolt_torque", "35", "lbf·ft")
    for angle in ("107", "107.5", "106.5"):
        key_in("engine", "intake_centreline", angle, "°")


def pages_in(pdf: bytes) -> int:
    """How many pages a PDF has."""
    return len(PdfReader(BytesIO(pdf)).pages)


def plain_document(pages: int) -> str:
    """Pages full of plain text: the sheet's own type, size and paper."""
    sentence = (
        "The arm stands square to the valve stem when the valve is half open, and stand height makes it so. "
    )
    body = "".join(f"<p>{sentence * SENTENCES}</p>" for _ in range(pages))
    page = f"@page {{ size: {PAPER.size}; margin: 15mm }} p {{ break-after: page }}"
    style = f"{page} p:last-child {{ break-after: auto }} html {{ font: 7.6pt/1.3 Plex }}"
    return f"<!doctype html><title>Plain</title><style>{style}</style>{body}"


def timed(run: Callable[[], object]) -> float:
    """Seconds that something takes."""
    time.sleep(PAUSE)
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main() -> int:
    """Measure both, print, and say by the exit code whether the goal is met."""
    with temporary_book():
        head, person = make_head()
        first = timed(lambda: setup_pdf(setup_sheet(head, person), PAPER))
        pages = pages_in(setup_pdf(setup_sheet(head, person), PAPER))
        plain = plain_document(pages)
        assert pages_in(press.to_pdf(plain)) == pages
        sheets, plains = [], []
        for _ in range(ROUNDS):
            sheets.append(timed(lambda: setup_pdf(setup_sheet(head, person), PAPER)))
            plains.append(timed(lambda: press.to_pdf(plain)))
    ours, bare = statistics.median(sheets), statistics.median(plains)
    print(f"setup sheet of 16 valves, {pages} pages: first {first:.2f} s, then {ours * 1e3:.0f} ms;", end=" ")
    print(f"plain text of {pages} pages {bare * 1e3:.0f} ms; ratio {ours / bare:.2f} (goal {GOAL:g})")
    return 0 if ours / bare <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
