"""What the worksheet reckons with on the invented shop's pulling engine: invented, in keeping with rockers and card."""

import json
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from django.conf import settings

from builds.models import Build, Instrument, Person
from builds.recording import Entry
from valvetrain.models import LobePoint, LobeTable, MovingMasses, PistonSide, PushrodSide, SpringSheet
from valvetrain.worksheet_pairs import LIFT_PAIR, record_pair

FILE = settings.BASE_DIR / "fixtures" / "demo" / "worksheet.json"
WORDS = {"fits", "name", "kind"}


def add_worksheet(
    job: Build, person: Person, *, instrument: Instrument | None = None, taken_at: datetime | None = None
) -> None:
    """Enter on a job all that its worksheet asks for; a spring sheet only where the job has none."""
    rows: dict[str, list[dict[str, Any]]] = json.loads(FILE.read_text(encoding="utf-8"))
    models: dict[str, type[Any]] = {"pushrod": PushrodSide, "masses": MovingMasses, "piston": PistonSide}
    if not SpringSheet.objects.filter(build=job).exists():
        models["springs"] = SpringSheet
    for name, model in models.items():
        for row in rows[name]:
            record = model(build=job, **_sizes(row))
            record.full_clean()
            record.save()
    for row in rows["lobes"]:
        table = LobeTable.objects.create(build=job, kind=row["kind"])
        LobePoint.objects.bulk_create(
            LobePoint(table=table, lift=Decimal(lift), duration=Decimal(duration))
            for lift, duration in row["rows"]
        )
    for number, row in enumerate(rows["pairs"]):
        entry = Entry(
            client_id=uuid5(NAMESPACE_URL, f"standbook-demo/worksheet/{job.pk}/{number}"),
            position=row["at"], characteristic=LIFT_PAIR.key, text=row["valve"], unit="in", instrument=instrument,
            taken_at=taken_at, device="bench tablet",
        )  # fmt: skip
        record_pair(job, person, entry, row["lobe"])


def _sizes(row: dict[str, str]) -> dict[str, Any]:
    return {key: value if key in WORDS else Decimal(value) for key, value in row.items()}
