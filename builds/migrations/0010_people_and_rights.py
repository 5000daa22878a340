# Roles of people, links for guests, and the bench's enrolled tablets.

from typing import Any

import builds.models.guests
import builds.models.people
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def owners_check(apps: Any, schema_editor: Any) -> None:
    """Owners could do everything until now; the right to check is theirs until it is switched off."""
    apps.get_model("builds", "Person").objects.filter(is_superuser=True).update(may_check=True)


def nothing(apps: Any, schema_editor: Any) -> None:
    """The column goes; there is nothing to put back."""


class Migration(migrations.Migration):
    dependencies = [
        ("builds", "0009_sealed_sheets"),
    ]

    operations = [
        migrations.AlterModelManagers(
            name="person",
            managers=[
                ("objects", builds.models.people.PersonManager()),
            ],
        ),
        migrations.AddField(
            model_name="person",
            name="may_check",
            field=models.BooleanField(
                default=False, verbose_name="checks what others measured, and signs second"
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="pin",
            field=models.CharField(
                blank=True, editable=False, max_length=128, verbose_name="hash of the PIN for the bench"
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="role",
            field=models.CharField(
                choices=[("builder", "builder"), ("office", "office")],
                default="builder",
                max_length=10,
                verbose_name="works here as",
            ),
        ),
        migrations.CreateModel(
            name="EnrolledTablet",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        help_text="As the shop calls it: bench by the door.",
                        max_length=60,
                        verbose_name="name",
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("enrolled_at", models.DateTimeField(auto_now_add=True)),
                (
                    "last_opened_at",
                    models.DateTimeField(editable=False, null=True, verbose_name="a password was last given"),
                ),
                ("revoked_at", models.DateTimeField(editable=False, null=True)),
                (
                    "enrolled_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "revoked_by",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-enrolled_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="GuestLink",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("name", models.CharField(max_length=80, verbose_name="for whom")),
                (
                    "last_day",
                    models.DateField(
                        default=builds.models.guests.usual_last_day, verbose_name="open up to and with"
                    ),
                ),
                (
                    "shows_photos",
                    models.BooleanField(default=False, verbose_name="shows the photos of the job"),
                ),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                ("last_used_at", models.DateTimeField(editable=False, null=True)),
                ("revoked_at", models.DateTimeField(editable=False, null=True)),
                (
                    "build",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="guest_links",
                        to="builds.build",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "revoked_by",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
            },
        ),
        migrations.CreateModel(
            name="PinTries",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("wrong", models.PositiveSmallIntegerField(default=0)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "tablet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="pin_tries",
                        to="builds.enrolledtablet",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "PIN tries",
                "constraints": [models.UniqueConstraint(fields=("tablet", "person"), name="pin_tries_once")],
            },
        ),
        migrations.RunPython(owners_check, nothing),
    ]
