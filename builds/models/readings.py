"""Instruments, and everything measured: the append-only readings."""

import json
import uuid
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import ClassVar

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.utils import timezone

from builds import characteristics, measures
from builds.appendonly import AppendOnly, AppendOnlyQuerySet
from builds.fields import BaseUnitField, PlainNumberField
from builds.models.jobs import Build
from builds.models.people import Person
from builds.models.photos import Photo
from builds.tracking import History, Tracked


class InstrumentKind(models.TextChoices):
    """Kinds of measuring tool."""

    HEIGHT_GAUGE = "height-gauge", "height gauge"
    FEELER = "feeler", "feeler set"
    MICROMETER = "micrometer", "micrometer"
    DEPTH_MICROMETER = "depth-micrometer", "depth micrometer"
    CALIPER = "caliper", "caliper"
    DIAL = "dial", "dial indicator"
    SCALE = "scale", "scale"
    SPRING_TESTER = "spring-tester", "spring tester"
    TORQUE_WRENCH = "torque-wrench", "torque wrench"
    DEGREE_WHEEL = "degree-wheel", "degree wheel"
    BURETTE = "burette", "burette"
    OTHER = "other", "other"


# What the tools read that do not read a length.
KIND_OF_UNIT: dict[str, str] = {
    InstrumentKind.SPRING_TESTER: "force", InstrumentKind.TORQUE_WRENCH: "torque",
    InstrumentKind.DEGREE_WHEEL: "angle", InstrumentKind.BURETTE: "volume",
}  # fmt: skip
DEFAULT_UNCERTAINTIES = Path(settings.BASE_DIR) / "fixtures" / "default_uncertainties.json"
NOT_NEGATIVE = MinValueValidator(0, "An uncertainty is nothing or more.")


class UsualUncertainty(Tracked):
    """What the shop takes a kind of tool, or a figure from a paper, to be good to when nothing is stated for it.

    An expanded uncertainty, U at k = 2, in the base unit of its kind.
    """

    key = models.SlugField(max_length=40, unique=True, editable=False)
    name = models.CharField("what", max_length=80)
    uncertainty = BaseUnitField("plus or minus, at k = 2", validators=[NOT_NEGATIVE])
    unit_kind = models.CharField(max_length=10, default="length", editable=False)
    source = models.CharField("where it comes from", max_length=200)

    history = History()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def add_defaults(cls) -> None:
        """Add the common-practice figures that this book lacks; those it has stay as the shop set them."""
        rows = [row["fields"] for row in json.loads(DEFAULT_UNCERTAINTIES.read_text(encoding="utf-8"))]
        with transaction.atomic():
            known = set(cls.objects.values_list("key", flat=True))
            cls.objects.bulk_create([cls(**row) for row in rows if row["key"] not in known])

    def value_in(self, length_unit: str) -> str:
        """The figure in words, in the unit of the person who reads."""
        unit = measures.unit_for(self.unit_kind, length_unit)
        return f"± {measures.show(self.uncertainty, unit, with_unit=True)}"


class Instrument(Tracked):
    """A measuring tool in the drawer, by the shop's own mark."""

    mark = models.CharField(
        "shop's mark", max_length=30, unique=True, help_text="What is engraved on it: HG-2."
    )
    kind = models.CharField("kind", max_length=20, choices=InstrumentKind.choices)
    name = models.CharField("name", max_length=80, blank=True)
    serial = models.CharField("serial number", max_length=60, blank=True)
    resolution = BaseUnitField("reads to", null=True, blank=True, measured="The smallest step it shows.")
    uncertainty = BaseUnitField(
        "uncertainty, plus or minus", null=True, blank=True, validators=[NOT_NEGATIVE],
        measured="From its certificate or its maker’s sheet. Empty: what is usual for its kind.",
    )  # fmt: skip
    coverage = PlainNumberField(
        "stated with k", max_digits=4, decimal_places=2, default=Decimal(2),
        help_text="Coverage factor on the certificate; mostly 2.",
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(5)],
    )  # fmt: skip
    last_checked_on = models.DateField("last checked", null=True, blank=True)
    due_on = models.DateField("next check due", null=True, blank=True)
    in_use = models.BooleanField("in use", default=True)

    history = History()

    class Meta:
        ordering = ["mark"]

    def __str__(self) -> str:
        return f"{self.mark} {self.name}".strip()

    def clean(self) -> None:
        """Refuse a check that is still to come, and one that was due before it was done."""
        if self.last_checked_on is not None and self.last_checked_on > timezone.localdate():
            raise ValidationError(
                {
                    "last_checked_on": f"{self.last_checked_on:%d %b %Y} is still to come. Use the day it was "
                    "last checked."
                }
            )
        if (
            self.due_on is not None
            and self.last_checked_on is not None
            and self.due_on < self.last_checked_on
        ):
            raise ValidationError(
                {
                    "due_on": f"The next check is due after the last one, {self.last_checked_on:%d %b %Y}. "
                    "Use a later day, or leave it empty."
                }
            )

    @property
    def unit_kind(self) -> str:
        """The kind of quantity that it reads."""
        return KIND_OF_UNIT.get(self.kind, "length")

    def resolution_in(self, length_unit: str) -> str:
        """The smallest step that it shows, in the unit of the person who reads."""
        unit = measures.unit_for(self.unit_kind, length_unit)
        return measures.show(self.resolution, unit, with_unit=self.resolution is not None)

    def uncertainty_in(self, length_unit: str) -> str:
        """What is stated for it; nothing where nothing is."""
        if self.uncertainty is None:
            return ""
        unit = measures.unit_for(self.unit_kind, length_unit)
        return f"± {measures.show(self.uncertainty, unit, with_unit=True)} (k {self.coverage.normalize():f})"

    def overdue(self, today: date | None = None) -> bool:
        """Whether its check is past due, today or on another day."""
        return self.due_on is not None and self.due_on < (today or timezone.localdate())


class ReadingQuerySet(AppendOnlyQuerySet["Reading"]):
    """Readings of a build."""

    def for_list(self) -> "ReadingQuerySet":
        """Newest first, with all that a row of the log shows, in one query."""
        return self.select_related("instrument", "taken_by", "corrects", "corrected_by").order_by("-pk")

    def standing(self) -> "ReadingQuerySet":
        """Those that no later reading corrects or strikes out, oldest first."""
        return self.filter(corrected_by__isnull=True, value__isnull=False).order_by("pk")


class Reading(AppendOnly):
    """One measured value. Never edited: a correction is a new reading that names the old one and says why.

    `text` and `unit` are what was typed, character for character; `value` is the same in the base unit of
    the characteristic, to 1e-12. A correction without a value strikes the old reading out.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="readings")
    position = models.CharField("address", max_length=40)
    characteristic = models.CharField("what was measured", max_length=40)
    text = models.CharField("as typed", max_length=40, blank=True)
    unit = models.CharField("unit typed in", max_length=10, blank=True)
    value = models.DecimalField(max_digits=22, decimal_places=12, null=True)
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    photo = models.ForeignKey(
        Photo,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="readings",
        verbose_name="measured on",
    )
    how = models.CharField("how it was taken", max_length=40, blank=True)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="readings")
    taken_at = models.DateTimeField("taken at, as the device says", default=timezone.now)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    device = models.CharField("device", max_length=60, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    reason = models.CharField("why it was corrected", max_length=200, blank=True)
    note = models.CharField("note", max_length=200, blank=True)
    context = models.JSONField("what held when it was taken", default=dict, blank=True)

    how_taken: list[str]  # on a reading that went through `with_notes`
    of_time = ""  # on one that went through `with_times`

    objects: ClassVar = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["build", "position", "characteristic"])]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(value__isnull=False) | models.Q(corrects__isnull=False),
                name="reading_has_a_value_or_strikes_one_out",
            ),
            models.CheckConstraint(
                condition=models.Q(corrects__isnull=True) | ~models.Q(reason=""), name="correction_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.characteristic} {self.text or 'struck out'}"

    @property
    def struck_out(self) -> bool:
        """Whether this entry only takes another one back."""
        return self.value is None

    @property
    def what(self) -> str:
        """What was measured, in the trade's words."""
        try:
            return characteristics.get(self.characteristic).name
        except characteristics.UnknownCharacteristic:
            return self.characteristic.replace("_", " ")

    @property
    def as_typed(self) -> str:
        """The typed text, with the unit behind it when none was typed."""
        return self.text if measures.has_unit(self.text) else f"{self.text} {self.unit}".strip()

    @property
    def in_words(self) -> str:
        """Where, what and how much, in the trade's words, as it was typed."""
        return f"{self.position} {self.what} {'struck out' if self.struck_out else self.as_typed}".strip()

    def value_in(self, length_unit: str) -> str:
        """The value in the unit of the person who reads, with its unit."""
        if self.value is None:
            return ""
        kind = measures.BY_SYMBOL[self.unit].kind if self.unit in measures.BY_SYMBOL else "length"
        unit = measures.unit_for(kind, length_unit)
        return measures.show(self.value, unit, with_unit=True)

    @property
    def corrected(self) -> bool:
        """Whether a later record corrects or strikes out this one."""
        return hasattr(self, "corrected_by")
