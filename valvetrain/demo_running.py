"""What the invented shop's engines did since they went out, and what was read on them between rebuilds.

Running comes as the customers tell it. A check reads every lash again; its plan names only what moved since the engine
left, all else wanders by a blade's half thousandth, the same at every loading.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.utils import timezone

from builds.looks import open_check
from builds.models import Build, Instrument, Person, Reading, StatedAs
from builds.positions import positions_of
from builds.recording import Entry, record
from builds.run_entries import add_entry
from builds.told import Told, tell
from valvetrain.demo_seals import add_guest_link

FILE = settings.BASE_DIR / "fixtures" / "demo" / "running.json"
BLADE = Decimal("0.0005")
Row = dict[str, Any]


@dataclass(frozen=True)
class Moved:
    """How far something stands from what it was when the engine left.

    `by` an address, else `everywhere`; on every fourth valve what is read lies a `grain` beside that, on other valves at
    each `turn`, so that nothing of it looks like a drift.
    """

    step: str
    unit: str
    tool: Instrument | None
    grain: Decimal
    by: Mapping[str, str] = field(default_factory=dict)
    everywhere: Decimal = Decimal(0)
    turn: int = 0


def run_and_check(
    jobs: Mapping[str, Build], people: Mapping[str, Person], drawer: Mapping[str, Instrument]
) -> None:
    """Write every running record, then the checks in between, then what was told by a link and waits."""
    plan = json.loads(FILE.read_text(encoding="utf-8"))
    for row in plan["running"]:
        for number, (days_ago, text, *note) in enumerate(row["ran"]):
            add_entry(
                jobs[row["job"]], client_id=_key(f"ran/{row['job']}/{number}"), ran_on=_day(days_ago), unit=row["unit"],
                text=text, stated_as=StatedAs.MORE, note="".join(note), told_by=row["told_by"],
                person=people[row["who"]],
            )  # fmt: skip
    for row in plan["checks"]:
        _check(row, jobs[row["job"]], people[row["who"]], drawer)
    _tell(plan["told"], jobs[plan["told"]["job"]], people)


def _check(row: Row, job: Build, person: Person, drawer: Mapping[str, Instrument]) -> None:
    check = open_check(job, person, read_on=_day(row["days_ago"]))
    start = timezone.make_aware(datetime.combine(check.opened_on, time(10)))
    moved = [Moved("lash_cold", "in", drawer["FE-1"], BLADE, row["lash"], turn=row["turn"])]
    if "seat_load" in row:
        moved.append(Moved("seat_load", "lbf", None, Decimal(1), everywhere=Decimal(row["seat_load"])))
    read_again(job, check, person, moved, start)
    check.went_out_on = check.opened_on  # it was done that day
    check.save(update_fields=["went_out_on"])


def read_again(job: Build, look: Build, person: Person, moved: Iterable[Moved], start: datetime) -> None:
    """Read on a look at an engine what was read on the job that it left with, moved as planned."""
    positions = positions_of(look)
    for each in moved:
        before = Reading.objects.standing().filter(build=job, characteristic=each.step).order_by("pk")
        for number, reading in enumerate(before):
            entry = Entry(
                client_id=_key(f"{look.job_number}/{each.step}/{reading.position}"), position=reading.position,
                characteristic=each.step, text=_now(each, reading, number), unit=each.unit, instrument=each.tool,
                taken_at=start, device="bench tablet", context={"set": 0},
            )  # fmt: skip
            record(look, person, entry, positions)
            start += timedelta(minutes=1)


def _now(moved: Moved, reading: Reading, number: int) -> str:
    """What is read now, as fine as it was read before."""
    if reading.position in moved.by:
        change = Decimal(moved.by[reading.position])
    else:
        grains = 0 if (number - moved.turn) % 4 else 1 if number % 8 < 4 else -1
        change = moved.everywhere + moved.grain * grains
    return f"{Decimal(reading.text) + change:f}"


def _tell(row: Row, job: Build, people: Mapping[str, Person]) -> None:
    """What the customer put in by his link: running, and a lash that nobody in the shop has answered yet."""
    link = add_guest_link(job, people["runa"], days=row["link_days"], takes_running=True)
    days_ago, text, note = row["ran"]
    add_entry(
        job, client_id=_key("told/ran"), ran_on=_day(days_ago), unit="laps", text=text, stated_as=StatedAs.MORE,
        note=note, told_by=link.name, via=link,
    )  # fmt: skip
    for address, (lash, said) in row["lash"].items():
        told = Told(
            _key(f"told/{address}"),
            address,
            "lash_cold",
            lash,
            "in",
            _day(row["read"]),
            note=said,
            told_by=link.name,
        )
        tell(job, told, via=link)


def _day(days_ago: int) -> date:
    return timezone.localdate() - timedelta(days=days_ago)


def _key(name: str) -> UUID:
    return uuid5(NAMESPACE_URL, f"standbook-demo/running/{name}")
