"""A spring's seat load is allowed a share of its sheet's, in percent: no plain ratio."""

from django.db import migrations

KEY = "seat_load_tolerance"


def to_share(apps, schema_editor):
    limits = apps.get_model("builds", "Limit").objects.filter(key=KEY)
    limits.update(unit_kind="share", name="seat load about the sheet's, either way")


def to_ratio(apps, schema_editor):
    limits = apps.get_model("builds", "Limit").objects.filter(key=KEY)
    limits.update(unit_kind="ratio", name="seat load about the sheet's, percent")


class Migration(migrations.Migration):
    dependencies = [("builds", "0006_uncertainty")]

    operations = [migrations.RunPython(to_share, to_ratio)]
