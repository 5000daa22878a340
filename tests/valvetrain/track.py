"""An engine that went out, ran, and was looked at in between: the scene with numbers that can be followed by hand."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

from builds.looks import open_check
from builds.models import Build, Instrument, Person, RunEntry
from builds.recording import Entry, record
from tests.scenes import Scene, make_scene

WENT_OUT = date(2026, 3, 1)


def read(
    build: Build, person: Person, values: Mapping[str, str], key: str = "lash_cold", number: int = 0
) -> None:
    """Read one thing at several addresses, with the feeler or whatever the drawer has for it."""
    unit = "lbf" if key == "seat_load" else "in"
    tool, _made = Instrument.objects.get_or_create(
        mark="ST-1" if unit == "lbf" else "F-1", kind="spring-tester" if unit == "lbf" else "feeler"
    )
    for address, text in values.items():
        entry = Entry(uuid4(), address, key, text, unit, instrument=tool, sure=True, context={"set": number})
        record(build, person, entry)


def go_out(build: Build, day: date = WENT_OUT) -> None:
    """The engine leaves."""
    build.went_out_on = day
    build.save(update_fields=["went_out_on"])


def run(build: Build, person: Person, days: int, amount: str, unit: str = "passes") -> RunEntry:
    """So much more running, so many days after it left."""
    return RunEntry.objects.create(
        build=build, ran_on=build.went_out_on + timedelta(days=days), unit=unit, text=amount,
        amount=Decimal(amount), entered_by=person,
    )  # fmt: skip


def check(
    build: Build, person: Person, days: int, values: Mapping[str, str], key: str = "lash_cold"
) -> Build:
    """A look between rebuilds, so many days after it left."""
    found = open_check(build, person, read_on=build.went_out_on + timedelta(days=days))
    read(found, person, values, key)
    return found


def drifting(person: Person, job_number: str = "26-014") -> Scene:
    """Lash of 1I grows .0002 in a pass from the card's .004, so that it leaves .006 at 10 passes; 3E stays.

    Six looks from none to 5 passes, a pass apart; it has run 8 passes.
    """
    scene = make_scene(person, job_number=job_number)
    read(scene.build, person, {"1I": "0.0040", "3E": "0.0040", "5I": "0.0040"})
    go_out(scene.build)
    for number in range(1, 6):
        run(scene.build, person, 3 * number, "1")
        loose = {"1I": f"{Decimal('0.0040') + Decimal('0.0002') * number}", "3E": "0.0040"}
        check(scene.build, person, 3 * number, loose)
    run(scene.build, person, 20, "3")
    return scene
