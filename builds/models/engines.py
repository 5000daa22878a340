"""Engines, each of one customer at a time."""

import re
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.urls import reverse

from builds.fields import BaseUnitField
from builds.models.customers import Customer, row_count
from builds.tracking import History, Tracked, TrackedQuerySet

MOST_CYLINDERS = 24


class EngineQuerySet(TrackedQuerySet["Engine"]):
    """Lists of engines."""

    def for_list(self) -> "EngineQuerySet":
        """Everything a row of the engines list shows, in one query."""
        from builds.models.jobs import Build  # jobs point at engines

        jobs = Build.objects.jobs().filter(engine=models.OuterRef("pk"))
        return self.select_related("customer").annotate(job_count=row_count(jobs, "engine"))

    def matching(self, text: str) -> "EngineQuerySet":
        """Engines whose name, serial number or customer has `text`."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(serial__icontains=text)
            | models.Q(customer__name__icontains=text)
        )


class Engine(Tracked):
    """One engine, known by its serial number, through all its builds."""

    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="engines", verbose_name="customer"
    )
    name = models.CharField(
        "engine", max_length=120, help_text="What the shop calls it: V8 drag engine, two heads."
    )
    serial = models.CharField("serial number", max_length=60, blank=True)
    cylinders = models.PositiveSmallIntegerField(
        "cylinders", default=8, validators=[MinValueValidator(1), MaxValueValidator(MOST_CYLINDERS)]
    )
    mains = models.PositiveSmallIntegerField(
        "main bearings", default=5, validators=[MinValueValidator(1), MaxValueValidator(13)]
    )
    firing_order = models.CharField("firing order", max_length=80, blank=True, help_text="1-8-4-3-6-5-7-2")
    bore = BaseUnitField(
        "bore",
        null=True,
        blank=True,
        measured="Across the cylinder, with a bore gauge.",
        plausible=("1", "8"),
    )
    stroke = BaseUnitField(
        "stroke", null=True, blank=True, measured="From the crank's own sheet, or by depth gauge.",
        plausible=("0.75", "8"),
    )  # fmt: skip
    note = models.TextField("note", blank=True)

    objects: ClassVar = EngineQuerySet.as_manager()
    history = History()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["serial"])]

    def __str__(self) -> str:
        return f"{self.name} ({self.serial})" if self.serial else self.name

    def get_absolute_url(self) -> str:
        """The engine's page."""
        return reverse("engine-detail", args=[self.pk])

    def clean(self) -> None:
        """Refuse a firing order that does not name every cylinder once, and taking away a measured cylinder."""
        if self.cylinders is None or not 1 <= self.cylinders <= MOST_CYLINDERS:
            return  # the field itself says so, and nothing can be held against such a number
        if self.firing_order and sorted(_numbers(self.firing_order)) != list(range(1, self.cylinders + 1)):
            raise ValidationError(
                {
                    "firing_order": f"“{self.firing_order}” does not name each cylinder from 1 to {self.cylinders} once. "
                    "Type the order with dashes between: 1-3-4-2."
                }
            )
        lost = [f"cyl{number}" for number in self.measured_cylinders() if number > self.cylinders]
        if lost:
            raise ValidationError(
                {"cylinders": f"Readings stand at {', '.join(lost)}. Keep at least {lost[-1][3:]} cylinders."}
            )

    @transaction.atomic
    def hand_over(self, buyer: Customer, *, from_pk: str) -> bool:
        """Give the engine to another customer, once. Not when it meanwhile belongs to somebody else than was seen."""
        owner = Engine.objects.select_for_update().values_list("customer_id", flat=True).get(pk=self.pk)
        if owner not in (buyer.pk, self.customer_id) or (owner != buyer.pk and str(owner) != from_pk):
            return False
        self.customer = buyer
        if owner != buyer.pk:
            self.save(update_fields=["customer"])
        return True

    def measured_cylinders(self) -> list[int]:
        """Numbers of the cylinders at which a reading stands, on any build of this engine."""
        from builds.models.readings import Reading  # readings point at builds

        if self.pk is None:
            return []
        places = Reading.objects.filter(build__engine=self, position__startswith="cyl").order_by()
        found = (place[3:] for place in places.values_list("position", flat=True).distinct())
        return sorted(int(number) for number in found if number.isdecimal())


def _numbers(text: str) -> list[int]:
    """The numbers in a firing order, whatever stands between them."""
    return [int(number) for number in re.findall(r"[0-9]{1,3}", text)]
