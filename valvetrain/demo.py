"""The invented shop: an open book that anybody may look around in.

Everything is written through the doors that the shop's own people use, so what is shown is what the book makes of
it.
Days are counted back from the day of loading: the engine on the bench is always this week's.
"""

import json
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from builds.models import Build, Customer, Engine, Instrument, PartFitted, Person, Photo, Reading, Shop
from builds.recording import Entry
from valvetrain.demo_edits import edit_a_little
from valvetrain.demo_log import write_logs
from valvetrain.demo_photos import add_photos, no_files_left_behind
from valvetrain.demo_seals import add_guest_link, no_passphrase_left_behind, seal_some
from valvetrain.demo_worksheet import add_worksheet
from valvetrain.gathering import gather
from valvetrain.logbook import fit_pack, record_height, record_lift
from valvetrain.models import CamCard, Head, HeightGauge, RockerSet, ShimStock, Stand

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
        _set_up(setup, jobs[setup["job"]], people, drawer)
    add_photos(jobs, people, taken)
    write_logs(jobs, people, drawer)
    add_worksheet(jobs["puller"], people["joss"], instrument=drawer["DI-1"])
    edit_a_little(jobs, people)
    seal_some(jobs, people, drawer)
    add_guest_link(jobs["boat"], people["runa"])
    for row in shop["jobs"]:
        _close(jobs[row["key"]], row)


def _day(days_ago: int) -> date:
    return timezone.localdate() - timedelta(days=days_ago)


def _person(row: Row) -> Person:
    return Person.objects.create_user(
        row["username"], name=row["name"], password=row["password"],
        is_superuser=row["is_superuser"], is_staff=row["is_superuser"],
        role=row.get("role", "builder"), may_check=row.get("may_check", False),
    )  # fmt: skip


def _sizes(row: Row) -> Row:
    """A row of fields in which lengths and angles are written as text, as decimals."""
    words = {"name", "fits", "material", "serial", "firing_order"}
    return {
        key: Decimal(value) if isinstance(value, str) and key not in words else value
        for key, value in row.items()
    }


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
            HeightGauge.objects.create(instrument=instrument, **_sizes(row["gauge"]))
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
    """Note when an engine went out and came back: only now, since a closed log takes no readings."""
    if "went_out" in row:
        job.went_out_on = _day(row["went_out"])
        job.came_back_on = _day(row["came_back"]) if "came_back" in row else None
        job.save(update_fields=["went_out_on", "came_back_on"])


def _set_up(setup: Row, job: Build, people: dict[str, Person], drawer: dict[str, Instrument]) -> None:
    for row in setup["rockers"]:
        RockerSet.objects.create(build=job, **_sizes(row))
    CamCard.objects.create(build=job, **_sizes(setup["cam"]))
    for row in setup["heads"]:
        layout = Head.objects.get(build=None, layout_name=row["layout"])
        places = dict(zip(layout.cylinders_along(), row["cylinders"], strict=True))
        layout.copy_to(job, code=row["code"], name=row["name"], cylinders=places)
    log = _Log(job, people, drawer)
    for number, row in enumerate(setup["log"]):
        log.write(row, uuid5(NAMESPACE_URL, f"standbook-demo/{setup['job']}/{number}"))


class _Log:
    """Writes one job's log, line by line, as the tablet would have."""

    def __init__(self, job: Build, people: dict[str, Person], drawer: dict[str, Instrument]) -> None:
        self.people, self.drawer = people, drawer
        self.records = gather(job.heads.select_related("build__engine__customer"))
        self.head_of = {
            address: records for records in self.records for address, _kind in records.head.addresses()
        }
        self.keyed: dict[str, Reading] = {}

    def write(self, row: Row, client_id: UUID) -> None:
        """Write one line: a lift, a gap, or a pack."""
        person, records = self.people[row["who"]], self.head_of[row["at"]]
        at = timezone.make_aware(datetime.combine(_day(row["days_ago"]), time.fromisoformat(row["time"])))
        if row["do"] == "fit":
            self._fit(row, person, client_id, at)
            return
        entry = Entry(
            client_id=client_id,
            position=row["at"],
            characteristic="net_lift" if row["do"] == "lift" else "stand_gap",
            text=row["text"],
            unit="in",
            instrument=self.drawer[row["with"]],
            taken_at=at,
            device="bench tablet",
            corrects=self.keyed[row["corrects"]] if "corrects" in row else None,
            reason=row.get("reason", ""),
            note=row.get("note", ""),
        )
        if row["do"] == "lift":
            reading, _new = record_lift(records, person, entry)
        else:
            reading, _new = record_height(
                records, person, entry, pack=self._pack_at(row["at"]), foot_feeler=row.get("foot_feeler", "")
            )
        if "key" in row:
            self.keyed[row["key"]] = reading

    def _pack_at(self, address: str) -> str:
        """The pack under a valve's stand now, as the tablet names it."""
        records = self.head_of[address]
        for stand in records.stands:
            if address in {valve.address for valve in records.valves_on[stand.pk]}:
                packs = records.packs.get(stand.pk)
                return str(packs[-1].client_id) if packs else ""
        return ""

    def _fit(self, row: Row, person: Person, client_id: UUID, at: datetime) -> None:
        records = self.head_of[row["at"]]
        stand: Stand = next(stand for stand in records.stands if stand.address == row["at"])
        counts = {Decimal(text): row["pieces"].count(text) for text in row["pieces"]}
        pack, _new = fit_pack(
            stand, person, client_id=client_id, pieces=list(counts.items()), fitted_at=at, note=row["note"]
        )
        records.packs.setdefault(stand.pk, []).append(pack)
