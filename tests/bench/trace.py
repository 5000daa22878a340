"""A lot traced in a book of 10,000 builds against one of 100: a ratio in one run, and how often the book is asked.

    python -m tests.bench.trace [rounds]

On a fresh book on this disk. The lot is on the same number of engines in both, so the page is as long; everything else in
the book grows a hundredfold. The goal is a ratio of 1.5 or less, and as many queries.
"""

import statistics
import sys
import tempfile
import time
from datetime import date, timedelta
from typing import Any

from tests.bench.recompute import prepare

GOAL = 1.5
ROUNDS = 40
FEW, MANY = 100, 10_000
CARRIERS = 20
DAY = date(2026, 1, 5)


def grow(person: Any, start: int, end: int) -> None:
    """Engines with a build, its parts and its running each; the first ones carry the lot."""
    from builds.models import Build, Customer, Engine, PartFitted, RunEntry

    numbers = range(start, end)
    customers = Customer.objects.bulk_create(
        Customer(name=f"Customer {n}", phone="555 0101") for n in numbers
    )
    engines = Engine.objects.bulk_create(
        Engine(customer=customer, name=f"Engine {n}", serial=f"S-{n}")
        for n, customer in zip(numbers, customers, strict=True)
    )
    builds = Build.objects.bulk_create(
        Build(engine=engine, job_number=f"B-{n}", opened_on=DAY, went_out_on=DAY + timedelta(days=9))
        for n, engine in zip(numbers, engines, strict=True)
    )
    PartFitted.objects.bulk_create(
        PartFitted(
            build=build,
            role=role,
            lot="K-42" if n < CARRIERS and role == "rocker arm" else f"L-{n}",
            quantity=16,
        )
        for n, build in zip(numbers, builds, strict=True)
        for role in ("rocker arm", "pushrod", "valve spring", "retainer")
    )
    RunEntry.objects.bulk_create(
        RunEntry(
            build=build,
            ran_on=DAY + timedelta(days=10 + i),
            unit="passes",
            text="4",
            amount=4,
            entered_by=person,
        )
        for build in builds
        for i in range(3)
    )


def measure(client: Any, rounds: int) -> tuple[float, int]:
    """The median time of the page [ms], and its queries."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    took = []
    for _turn in range(rounds + 3):
        started = time.perf_counter()
        answer = client.get("/returns/parts/?by=lot&q=k-42")
        took.append((time.perf_counter() - started) * 1e3)
        assert answer.context["found"] == CARRIERS
    with CaptureQueriesContext(connection) as captured:
        client.get("/returns/parts/?by=lot&q=k-42")
    return statistics.median(took[3:]), len(captured)


def main(rounds: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        prepare(folder)
        from django.conf import settings
        from django.core.management import call_command
        from django.test import Client

        settings.ALLOWED_HOSTS = ["testserver"]
        call_command("collectstatic", interactive=False, verbosity=0)
        from django.test.utils import setup_test_environment

        from builds.models import Person

        setup_test_environment()
        person = Person.objects.create_user("nora", name="Nora Vesterlund", password="nine loose lifters")
        client = Client()
        client.force_login(person)
        grow(person, 0, FEW)
        few, few_asked = measure(client, rounds)
        grow(person, FEW, MANY)
        many, many_asked = measure(client, rounds)
    print(f"{FEW} builds: median {few:.1f} ms, {few_asked} queries")
    print(f"{MANY} builds: median {many:.1f} ms, {many_asked} queries")
    print(f"ratio {many / few:.2f}; goal {GOAL}: {'met' if many / few <= GOAL else 'MISSED'}")
    print(f"queries: {'constant' if few_asked == many_asked else 'NOT CONSTANT'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)
