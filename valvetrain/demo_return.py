"""The engine of the invented shop that came back: number 31 car, with a rocker pin out on 5E.

What happened, in plain words. The roller of each rocker turns on a pin that is staked into the arm. On the arms of lot
A2098 the staking is shallow. At 5E the pin began to creep out of its bore, and the bore wore to a bell; so the roller
stood a little deeper in the arm after each race night, and the lash of that one valve opened: by one thousandth over the
first three nights, by three and a half over twelve. Every check was still inside the five thousandths that had been
agreed with the customer, so nobody stopped it. A line through those readings leaves the limit just about where the pin
did come out, in the main race of the fourteenth night, after 786 laps.

How the figures hang together. Lash as found is 0.059 in, 0.036 more than when it left; lift is lost by as much, so 5E
lifts 0.607 in where it lifted 0.643. Of the 0.036 the tip gives 0.006 (it is lower by that, and the gauge finds the shaft
higher above it by that: the stand itself has not moved). The pushrod gives 0.007: it is bent by 0.120, which shortens its
7.800 by 8/3 · 0.120² / 7.8 = 0.005, times the ratio of 1.5. The rest, 0.023, is the roller that hangs in its worn bore.
The mark is 0.076 wide, where it was 0.035, and its middle 0.036 outboard. By width alone the shaft would stand 0.17 off
its height; the gauge says that it does not. So the mark is wide because the roller wandered outboard, not because the
stand stood wrong. All springs lost some 4 lbf of 150: a season's normal loss. Everything else reads as it left.

`tests/valvetrain/test_demo_return.py` works this out again from the book alone.
"""

import json
from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.utils import timezone

from builds.looks import open_return
from builds.models import Build, Instrument, Person
from valvetrain.demo_bench import moment_of, write_bench
from valvetrain.demo_findings import find, recall, take_out
from valvetrain.demo_running import Moved, read_again

FILE = settings.BASE_DIR / "fixtures" / "demo" / "return.json"
KEY = "track-return"
Row = dict[str, Any]


def come_back(
    jobs: Mapping[str, Build], people: Mapping[str, Person], drawer: Mapping[str, Instrument]
) -> Build:
    """Take the engine in and read it as found. Gives the job that does."""
    plan = _plan()
    left = jobs[plan["job"]]
    came_on = timezone.localdate() - timedelta(days=plan["came_back"])
    came = open_return(
        left, people[plan["who"]], came_back_on=came_on, complaint=plan["complaint"], how_it_ran=plan["how_it_ran"],
        job_number=f"{came_on.year}-{plan['number']:03d}",
    ).build  # fmt: skip
    write_bench(plan["log"], came, people, drawer, f"standbook-demo/{KEY}")
    for row in plan["moved"]:
        read_again(left, came, people[row["who"]], [_moved(row, drawer)], moment_of(row))
    return came


def find_out(came: Build, people: Mapping[str, Person]) -> None:
    """Write down what was found, take out what failed, and ask after its lot."""
    plan = _plan()
    find(plan["findings"], came, people)
    take_out(plan["out"], came, people[plan["who"]])
    recall(plan["recall"], people)


def _plan() -> Row:
    plan: Row = json.loads(FILE.read_text(encoding="utf-8"))
    return plan


def _moved(row: Row, drawer: Mapping[str, Instrument]) -> Moved:
    return Moved(
        row["step"], row["unit"], drawer.get(row["with"]), Decimal(row["grain"]), row["by"],
        Decimal(row.get("all", 0)), turn=2,
    )  # fmt: skip
