"""The invented shop: an open book that anybody may look around in.

Everything is written through the doors that the shop's own people use, so what is shown is what the book makes of
it.
Days are counted back from the day of loading: the engine on the bench is always this week's.
"""

import json
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from builds.models import Build, Customer, Engine, Instrument, PartFitted, Person, Photo, Shop
from valvetrain.demo_bench import set_up, sizes
from valvetrain.demo_edits import edit_a_little
from valvetrain.demo_log import write_logs
from valvetrain.demo_photos import add_photos, no_files_left_behind
from valvetrain.demo_return import KEY, come_back, find_out
from valvetrain.demo_running import run_and_check
from valvetrain.demo_seals import add_guest_link, no_passphrase_left_behind, seal_some
from valvetrain.demo_worksheet import add_worksheet
from valvetrain.models import HeightGauge, ShimStock

FOLDER = settings.BASE_DIR / "fixtures" / "demo"
Row = dict[str, Any]


def read(name: str) -> Any:
    """One of the files that the invented shop is written in."""
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))


def load() -> bool:
    """Fill an empty book with the invented shop; leave a book that has people or jobs alone. Says which it did."""
    with no_files_left_behind() as taken, no_passphrase_left_behind(), transaction.atomic():
        if Person.objects.exists() or Build.objects.exists():
            return False
        _fill(taken)
    return True


def _fill(taken: list[Photo]) -> None:
    people = {row["username"]: _person(row) for row in read("people.json")}
    shop = read("shop.json")
    Shop.objects.update_or_create(pk=Shop.get().pk, defaults=shop["shop"])
    drawer = _drawer(shop)
    jobs = _jobs(shop, people)
    for setup in read("setups.json"):
        set_up(setup, jobs[setup["job"]], people, drawer)
    add_photos(jobs, people, taken)
    write_logs(jobs, people, drawer)
    add_worksheet(jobs["puller"], people["joss"], instrument=drawer["DI-1"])
    edit_a_little(jobs, people)
    seal_some(jobs, people, drawer)
    add_guest_link(jobs["boat"], people["runa"])
    for row in shop["jobs"]:
        _close(jobs[row["key"]], row)
    run_and_check(jobs, people, drawer)
    came = come_back(jobs, people, drawer)
    add_photos({KEY: came}, people, taken)
    find_out(came, people)


def _day(days_ago: int) -> date:
    return timezone.localdate() - timedelta(days=days_ago)


def _person(row: Row) -> Person:
    return Person.objects.create_user(
        row["username"], name=row["name"], password=row["password"],
        is_superuser=row["is_superuser"], is_staff=row["is_superuser"],
        role=row.get("role", "builder"), may_check=row.get("may_check", False),
    )  # fmt: skip


def _drawer(shop: Row) -> dict[str, Instrument]:
    drawer = {}
    for row in shop["instruments"]:
        drawer[row["mark"]] = instrument = Instrument.objects.create(
            mark=row["mark"],
            kind=row["kind"],
            name=row["name"],
            serial=row.get("serial", ""),
            resolution=Decimal(row["resolution"]) if "resolution" in row else None,
            last_checked_on=_day(row["checked"]),
            due_on=_day(row["due"]),
        )
        if "gauge" in row:
            HeightGauge.objects.create(instrument=instrument, **sizes(row["gauge"]))
    ShimStock.objects.bulk_create(
        ShimStock(thickness=Decimal(thickness), count=count, material="steel")
        for thickness, count in shop["shims"]
    )
    return drawer


def _jobs(shop: Row, people: dict[str, Person]) -> dict[str, Build]:
    customers = {row["name"]: Customer.objects.create(**row) for row in shop["customers"]}
    engines = {}
    for row in shop["engines"]:
        facts = {key: value for key, value in row.items() if key not in ("key", "customer")}
        names = {"name", "serial", "firing_order", "cylinders"}
        engines[row["key"]] = Engine.objects.create(
            customer=customers[row["customer"]],
            **{key: value if key in names else Decimal(value) for key, value in facts.items()},
        )
    jobs = {}
    for row in shop["jobs"]:
        opened = _day(row["opened"])
        jobs[row["key"]] = Build.objects.create(
            job_number=f"{opened.year}-{row['number']:03d}",
            engine=engines[row["engine"]],
            title=row["title"],
            opened_on=opened,
            promised_on=_day(row["promised"]) if "promised" in row else None,
            note=row.get("note", ""),
            opened_by=people[row["opened_by"]],
        )
    for row in shop["parts"]:
        facts = {key: value for key, value in row.items() if key not in ("job", "fitted")}
        PartFitted.objects.create(build=jobs[row["job"]], fitted_on=_day(row["fitted"]), **facts)
    return jobs


def _close(job: Build, row: Row) -> None:
    """Note when an engine went out: only now, since a closed log takes no readings."""
    if "went_out" in row:
        job.went_out_on = _day(row["went_out"])
        job.save(update_fields=["went_out_on"])
