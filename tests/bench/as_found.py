"""What as found beside as built costs: 32 valves on either side, in a book of 100 builds and in one of 10,000.

    python -m tests.bench.as_found

Both books are made in the same run; the page is asked for as a browser does, warm, and the queries of each are counted.
The goal: the same number of queries, and at 10,000 builds at most 1.5 times the time at 100. All of it is invented.
"""

import os
import statistics
import sys
import tempfile
import time
from contextlib import ExitStack
from datetime import timedelta
from decimal import Decimal
from typing import Any

if __name__ == "__main__":
    os.environ["STANDBOOK_DATA"] = tempfile.mkdtemp()
    os.environ["DJANGO_SETTINGS_MODULE"] = "builds.settings"
    import django

    django.setup()

from django.conf import settings
from django.db import connection
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from builds.comparing import compare
from builds.looks import open_return
from builds.models import Build, Customer, Engine, Instrument, Limit, Person, Reading, RunEntry
from tests.bench.setup_sheet import temporary_book
from valvetrain.models import CamCard, Head, HeightGauge, Pad, RockerSet, Stand, Valve

FEW, MANY = 100, 10_000
ROUNDS = 15
GOAL = 1.5
VALVES = 32
# What is read at every valve on both sides: what, when it left, as found. Base units.
READ = [
    ("lash_cold", "0.004", "0.006"), ("installed_height", "1.900", "1.896"), ("seat_load", "200", "188"),
    ("open_load", "550", "536"), ("net_lift", "0.700", "0.698"), ("mark_inner", "-0.030", "-0.034"),
    ("mark_outer", "0.032", "0.041"), ("retainer_to_seal", "0.080", "0.080"), ("stand_gap", "0.001", "0.006"),
]  # fmt: skip


def fill(count: int, customer: Customer, person: Person) -> None:
    """Other engines' builds, up to so many in all, each with a few readings, a limit of its own and some running."""
    have = Build.objects.count()
    engine = Engine.objects.create(customer=customer, name=f"Others, {count}", cylinders=8)
    day = timezone.localdate() - timedelta(days=900)
    Build.objects.bulk_create(
        Build(job_number=f"o-{number}", engine=engine, opened_on=day, went_out_on=day, opened_by=person)
        for number in range(have, count)
    )
    others = list(Build.objects.filter(engine=engine))
    Reading.objects.bulk_create(
        Reading(build=build, position=f"{cylinder}E", characteristic="lash_cold", text="0.004", unit="in", value="0.004",
                taken_by=person)
        for build in others
        for cylinder in (1, 3, 5)
    )  # fmt: skip
    Limit.objects.bulk_create(
        Limit(build=build, key="sweep", name="sweep", high=Decimal("0.070"), source="customer")
        for build in others
    )
    RunEntry.objects.bulk_create(
        RunEntry(build=build, ran_on=day, unit="passes", text="4", amount=4, entered_by=person)
        for build in others
    )


def big_engine(person: Person, customer: Customer) -> Build:
    """Sixteen cylinders, 32 valves on sixteen stands, read when it left; gone out."""
    day = timezone.localdate() - timedelta(days=60)
    engine = Engine.objects.create(customer=customer, name="V16 puller", serial="HPT-16", cylinders=16)
    build = Build.objects.create(job_number="26-100", engine=engine, opened_on=day, opened_by=person)
    RockerSet.objects.create(
        build=build, arm_length=Decimal("1.650"), tip_diameter=Decimal("0.470"), shaft_diameter=Decimal("0.700"),
        ratio=Decimal("1.6"),
    )  # fmt: skip
    CamCard.objects.create(
        build=build, intake_lobe_lift=Decimal("0.440"), exhaust_lobe_lift=Decimal("0.440"),
        intake_lash=Decimal("0.004"), exhaust_lash=Decimal("0.004"),
    )  # fmt: skip
    tool = Instrument.objects.create(mark="HG-1", kind="height-gauge")
    HeightGauge.objects.create(instrument=tool, step=Decimal("0.235"))
    for code, first in (("L", 1), ("R", 9)):
        _head(build, code, first)
    _read(build, person, tool, 1)
    build.went_out_on = day
    build.save()
    return build


def _head(build: Build, code: str, first: int) -> None:
    head = Head.objects.create(build=build, code=code, name=f"Head {code}")
    for place, cylinder in enumerate(range(first, first + 8)):
        stand = Stand.objects.create(
            head=head, order=place + 1, name=f"stand{place + 1}", bolt_diameter=Decimal("0.4375"),
            bolt_length=Decimal("2.75"), washer_thickness=Decimal("0.120"), thickness_at_bolt=Decimal("1.450"),
            tapped_depth=Decimal("1.350"),
        )  # fmt: skip
        along = Decimal("4.4") * place
        Pad.objects.create(stand=stand, letter="A", along=along, across=0)
        for number, kind in enumerate("IE"):
            Valve.objects.create(
                head=head, stand=stand, order=2 * place + number + 1, cylinder=cylinder, kind=kind,
                along=along + number, across=Decimal("1.62"), tip_diameter=Decimal("0.3415"),
            )  # fmt: skip


def _read(build: Build, person: Person, tool: Instrument, side: int) -> None:
    units = {"seat_load": "lbf", "open_load": "lbf"}
    Reading.objects.bulk_create(
        Reading(
            build=build, position=valve.address, characteristic=line[0], text=line[side], unit=units.get(line[0], "in"),
            value=Decimal(line[side]), taken_by=person, instrument=tool if line[0] == "stand_gap" else None,
        )
        for valve in Valve.objects.filter(head__build=build)
        for line in READ
    )  # fmt: skip


def asked(client: Client, address: str) -> tuple[float, int]:
    """Median time of the page [s], and how many queries the comparison on it makes."""
    assert client.get(address).status_code == 200
    job = Build.objects.select_related("engine", "follows__engine").get(came_in__isnull=False)
    queries = 0

    def count(execute: Any, *how: Any) -> Any:
        nonlocal queries
        queries += 1
        return execute(*how)

    with connection.execute_wrapper(count):
        lines = compare(job)
    assert len(lines) > VALVES * len(READ)
    times = []
    for _ in range(ROUNDS):  # what goes on beside this on a shared machine is in both medians
        start = time.perf_counter()
        client.get(address)
        times.append(time.perf_counter() - start)
    return statistics.median(times), queries


def main() -> int:
    """Measure both books, and say by the exit code whether the goal is met."""
    with ExitStack() as stack:
        stack.enter_context(temporary_book())
        plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        storages = {**settings.STORAGES, "staticfiles": plain}
        stack.enter_context(override_settings(ALLOWED_HOSTS=["testserver"], STORAGES=storages, DEBUG=False))
        person = Person.objects.create_superuser(
            "nora", name="Nora Vesterlund", password="nine loose lifters"
        )
        Limit.add_defaults()
        customer = Customer.objects.create(name="Halvorsen Pulling Team")
        came = open_return(
            big_engine(person, customer),
            person,
            came_back_on=timezone.localdate(),
            complaint="noise on the left",
        )
        _read(came.build, person, Instrument.objects.get(mark="HG-1"), 2)
        client = Client()
        client.force_login(person)
        address = reverse("return-compare", args=[came.build_id])
        fill(FEW, customer, person)
        few, few_queries = asked(client, address)
        fill(MANY, customer, person)
        many, many_queries = asked(client, address)
    print(f"{FEW} builds: {few * 1e3:.0f} ms, {few_queries} queries")
    print(f"{MANY} builds: {many * 1e3:.0f} ms, {many_queries} queries; {many / few:.2f} times")
    return 0 if many / few <= GOAL and few_queries == many_queries else 1


if __name__ == "__main__":
    sys.exit(main())
