"""Engines with parts of one lot, and what they ran: for tests of traces, recalls and how long parts last. Invented."""

from datetime import date, timedelta
from decimal import Decimal

from builds.models import Build, Customer, Engine, PartFitted, Person, RunEntry

DAY = date(2026, 1, 5)


def an_engine(number: int, *, phone: str = "") -> Build:
    """An engine of a customer of its own, with a job whose engine went out."""
    customer = Customer.objects.create(
        name=f"Customer {number:03}", phone=phone, address=f"{number} Quarry Road"
    )
    engine = Engine.objects.create(
        customer=customer, name=f"V8 no. {number}", serial=f"S-{number}", cylinders=8
    )
    return Build.objects.create(
        engine=engine, job_number=f"25-{number:03}", opened_on=DAY, went_out_on=DAY + timedelta(days=20)
    )


def a_part(build: Build, **more: object) -> PartFitted:
    """Sixteen rocker arms of one lot."""
    facts: dict[str, object] = {"role": "rocker arm", "lot": "K-42", "quantity": 16, "fitted_on": DAY} | more
    return PartFitted.objects.create(build=build, **facts)


def ran(build: Build, person: Person, days: int, amount: str, unit: str = "passes") -> RunEntry:
    """So much running, so many days after the job was opened."""
    return RunEntry.objects.create(
        build=build,
        ran_on=DAY + timedelta(days=days),
        unit=unit,
        text=amount,
        amount=Decimal(amount),
        entered_by=person,
    )


def a_rebuild(build: Build, number: str, days: int) -> Build:
    """A later job on the same engine, still open."""
    return Build.objects.create(engine=build.engine, job_number=number, opened_on=DAY + timedelta(days=days))
