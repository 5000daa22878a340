"""Writes down how every record stands on the day from which its edits are kept, for the first edit to be held against."""

from typing import Any

from django.db import migrations

from builds.tracking_begins import begin


def begin_history(apps: Any, schema_editor: Any) -> None:
    """One row for each record that is there."""
    begin(apps, "builds")


class Migration(migrations.Migration):
    dependencies = [("builds", "0011_history")]
    operations = [migrations.RunPython(begin_history, migrations.RunPython.noop)]
