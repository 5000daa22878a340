"""Puts the example head layouts on the shelf of a new book; a shelf that has layouts is left as it is."""

import json
from decimal import Decimal
from pathlib import Path

from django.db import migrations

LAYOUTS = Path(__file__).resolve().parents[2] / "fixtures" / "head_layouts.json"
WORDS = {"name", "label", "letter", "kind", "stand"}


def _fields(row):
    return {
        key: value if key in WORDS or not isinstance(value, str) else Decimal(value)
        for key, value in row.items()
        if not isinstance(value, list)
    }


def fill_the_shelf(apps, schema_editor):
    """Create each layout of the file, when no layout is there yet."""
    Head, Stand, Pad, Valve = (apps.get_model("valvetrain", name) for name in ("Head", "Stand", "Pad", "Valve"))
    if Head.objects.filter(build__isnull=True).exists():
        return
    for layout in json.loads(LAYOUTS.read_text(encoding="utf-8")):
        head = Head.objects.create(
            **{key: layout[key] for key in ("layout_name", "name", "material", "note")}, code=""
        )
        stands = {}
        for order, row in enumerate(layout["stands"], start=1):
            stands[row["name"]] = stand = Stand.objects.create(head=head, order=order, **_fields(row))
            for pad in row["pads"]:
                Pad.objects.create(stand=stand, **_fields(pad))
        for order, row in enumerate(layout["valves"], start=1):
            fields = _fields(row)
            fields["stand"] = stands[row["stand"]]
            Valve.objects.create(head=head, order=order, **fields)


class Migration(migrations.Migration):
    dependencies = [("valvetrain", "0001_initial")]
    operations = [migrations.RunPython(fill_the_shelf, migrations.RunPython.noop)]
