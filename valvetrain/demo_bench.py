"""How the invented shop sets its heads up: hardware, lifts, gaps and packs, line by line, as the tablet would write them.

A line of the plan may name one valve (`at`, `text`) or several with `each`, read a minute after one another; a gap with a
blade under the gauge's foot is written gap/blade.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from django.utils import timezone

from builds.models import Build, Instrument, Limit, Person, Reading
from builds.recording import Entry
from valvetrain.gathering import gather
from valvetrain.logbook import fit_pack, record_height, record_lift
from valvetrain.models import CamCard, Head, RockerSet, Stand, Valve

Row = dict[str, Any]
WORDS = {"name", "fits", "material", "serial", "firing_order"}


def sizes(row: Row) -> Row:
    """A row of fields in which lengths and angles are written as text, as decimals."""
    return {
        key: Decimal(value) if isinstance(value, str) and key not in WORDS else value
        for key, value in row.items()
    }


def set_up(setup: Row, job: Build, people: Mapping[str, Person], drawer: Mapping[str, Instrument]) -> None:
    """Give a job its rockers, card, own limits and heads, and write its log."""
    for row in setup["rockers"]:
        RockerSet.objects.create(build=job, **sizes(row))
    CamCard.objects.create(build=job, **sizes(setup["cam"]))
    for row in setup.get("limits", []):
        shops = Limit.objects.get(build=None, key=row["key"])
        Limit.objects.create(
            build=job, key=shops.key, name=shops.name, unit_kind=shops.unit_kind, low=Decimal(row["low"]),
            high=Decimal(row["high"]), source=row["source"],
        )  # fmt: skip
    for row in setup["heads"]:
        layout = Head.objects.get(build=None, layout_name=row["layout"])
        places = dict(zip(layout.cylinders_along(), row["cylinders"], strict=True))
        head = layout.copy_to(job, code=row["code"], name=row["name"], cylinders=places)
        if "across" in row:
            Valve.objects.filter(head=head).update(across=Decimal(row["across"]))
    write_bench(setup["log"], job, people, drawer, f"standbook-demo/{setup['job']}")


def write_bench(
    rows: list[Row], job: Build, people: Mapping[str, Person], drawer: Mapping[str, Instrument], key: str
) -> None:
    """Write lines of a job's bench log in their order."""
    log = _Log(job, people, drawer)
    for number, row in enumerate(rows):
        for name, line in _lines(row):
            log.write(line, uuid5(NAMESPACE_URL, f"{key}/{number}{name}"))


def _lines(row: Row) -> Iterator[tuple[str, Row]]:
    """A line of the plan as one line for each valve, with what tells it from the others."""
    if "each" not in row:
        yield "", row
        return
    start = datetime.combine(datetime.min, time.fromisoformat(row["time"]))
    for number, (address, text) in enumerate(row["each"].items()):
        gap, _sign, blade = text.partition("/")
        moment = (start + timedelta(minutes=number)).time().isoformat("minutes")
        yield f"/{address}", {**row, "at": address, "text": gap, "foot_feeler": blade, "time": moment}


def moment_of(row: Row) -> datetime:
    """When a line of the plan was written: so many days before the day of loading."""
    day = timezone.localdate() - timedelta(days=row["days_ago"])
    return timezone.make_aware(datetime.combine(day, time.fromisoformat(row["time"])))


class _Log:
    """Writes one job's log, line by line, as the tablet would have."""

    def __init__(self, job: Build, people: Mapping[str, Person], drawer: Mapping[str, Instrument]) -> None:
        self.people, self.drawer = people, drawer
        self.records = gather(job.heads.select_related("build__engine__customer"))
        self.head_of = {
            address: records for records in self.records for address, _kind in records.head.addresses()
        }
        self.keyed: dict[str, Reading] = {}

    def write(self, row: Row, client_id: UUID) -> None:
        """Write one line: a lift, a gap, or a pack."""
        person, records = self.people[row["who"]], self.head_of[row["at"]]
        at = moment_of(row)
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
