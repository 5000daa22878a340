"""What an engine did since it went out: passes, laps, hours, distance; and what was told from the track. Append-only."""

import json
import uuid
from decimal import Decimal
from pathlib import Path
from typing import ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models, transaction

from builds import characteristics, measures
from builds.amounts import counted
from builds.appendonly import AppendOnly, AppendOnlyQuerySet
from builds.fields import PlainNumberField
from builds.models.guests import GuestLink
from builds.models.jobs import Build
from builds.models.people import Person
from builds.models.readings import Reading
from builds.tracking import History, Tracked

DEFAULT_CHECK_RULES = Path(settings.BASE_DIR) / "fixtures" / "default_check_rules.json"


class RunUnit(models.TextChoices):
    """What running is counted in."""

    PASSES = "passes", "passes"
    LAPS = "laps", "laps"
    HOURS = "hours", "hours"
    MILES = "miles", "miles"
    KILOMETRES = "km", "kilometres"


class StatedAs(models.TextChoices):
    """How an amount is meant."""

    MORE = "more", "since the entry before"
    TOTAL = "total", "in all since this job went out"


BY_ONE = (models.Q(entered_by__isnull=False) & models.Q(via__isnull=True)) | (
    models.Q(entered_by__isnull=True) & models.Q(via__isnull=False)
)


class RunEntryQuerySet(AppendOnlyQuerySet["RunEntry"]):
    """Entries of running records."""

    def standing(self) -> "RunEntryQuerySet":
        """Those that no later entry corrects or strikes out, in the order in which the engine ran."""
        return self.filter(corrected_by__isnull=True, amount__isnull=False).order_by("ran_on", "pk")


class RunEntry(AppendOnly):
    """So much running of an engine as a job left it. A correction names the old entry and says why.

    `text` is what was typed; `amount` the same as a number. One without an amount strikes the old one out.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="running")
    ran_on = models.DateField("ran on")
    unit = models.CharField("counted in", max_length=8, choices=RunUnit.choices)
    text = models.CharField("as typed", max_length=20, blank=True)
    amount = models.DecimalField("how many", max_digits=12, decimal_places=3, null=True)
    stated_as = models.CharField("meant", max_length=6, choices=StatedAs.choices, default=StatedAs.MORE)
    note = models.CharField("note", max_length=200, blank=True)
    told_by = models.CharField("told by", max_length=80, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    via = models.ForeignKey(GuestLink, on_delete=models.PROTECT, related_name="+", null=True)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    reason = models.CharField("why it was corrected", max_length=200, blank=True)

    objects: ClassVar = RunEntryQuerySet.as_manager()

    class Meta:
        ordering = ["ran_on", "pk"]
        verbose_name_plural = "run entries"
        indexes = [models.Index(fields=["build", "ran_on"])]
        constraints = [
            models.CheckConstraint(condition=BY_ONE, name="run_entry_by_a_person_or_a_link"),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=False) | models.Q(corrects__isnull=False),
                name="run_entry_has_an_amount_or_strikes_one_out",
            ),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True) | models.Q(amount__gte=0),
                name="run_entry_runs_forward",
            ),
            models.CheckConstraint(
                condition=models.Q(corrects__isnull=True) | ~models.Q(reason=""),
                name="run_correction_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.text or 'struck out'} {self.unit}".strip()

    @property
    def struck_out(self) -> bool:
        """Whether this entry only takes another one back."""
        return self.amount is None


class ToldReading(AppendOnly):
    """A figure that a customer read at the track and told: no reading of the shop until somebody here takes it over."""

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="told_readings")
    position = models.CharField("address", max_length=40)
    characteristic = models.CharField("what was measured", max_length=40)
    text = models.CharField("as typed", max_length=40)
    unit = models.CharField("unit typed in", max_length=10)
    value = models.DecimalField(max_digits=22, decimal_places=12)
    read_on = models.DateField("read on")
    note = models.CharField("note", max_length=200, blank=True)
    told_by = models.CharField("told by", max_length=80, blank=True)
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    via = models.ForeignKey(GuestLink, on_delete=models.PROTECT, related_name="+", null=True)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["build", "read_on"])]
        constraints = [
            models.CheckConstraint(condition=BY_ONE, name="told_reading_by_a_person_or_a_link"),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.what} {self.as_typed}"

    @property
    def as_typed(self) -> str:
        """The typed text, with the unit behind it when none was typed."""
        return self.text if measures.has_unit(self.text) else f"{self.text} {self.unit}"

    @property
    def what(self) -> str:
        """The name of what was read."""
        try:
            return characteristics.get(self.characteristic).name
        except characteristics.UnknownCharacteristic:
            return self.characteristic.replace("_", " ")

    @property
    def teller(self) -> str:
        """Who told it: by name, else for whom the link is."""
        return self.told_by or (self.via.name if self.via is not None else "somebody by telephone")


class ToldAnswer(AppendOnly):
    """What the shop did with a figure that was told: took it over as a reading, or left it, with a reason."""

    told = models.OneToOneField(ToldReading, on_delete=models.PROTECT, related_name="answer")
    reading = models.OneToOneField(
        Reading, on_delete=models.PROTECT, null=True, blank=True, related_name="taken_over_from"
    )
    reason = models.CharField("why it was left", max_length=200, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(reading__isnull=False) | ~models.Q(reason=""),
                name="told_reading_taken_over_or_left_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"answer to {self.told_id}"


class CheckRule(Tracked):
    """How often the shop wants a thing looked at between rebuilds: a step of the log, after so much running."""

    step = models.SlugField("step of the log", max_length=40, editable=False)
    name = models.CharField("what to look at", max_length=80)
    unit = models.CharField("counted in", max_length=8, choices=RunUnit.choices, editable=False)
    first_after = PlainNumberField(
        "first after", max_digits=8, decimal_places=2, null=True, blank=True,
        validators=[MinValueValidator(Decimal("0.01"))],
    )  # fmt: skip
    every = PlainNumberField(
        "then every", max_digits=8, decimal_places=2, validators=[MinValueValidator(Decimal("0.01"))]
    )
    in_use = models.BooleanField("asked for", default=True)
    source = models.CharField("where it comes from", max_length=200)

    history = History()

    class Meta:
        ordering = ["step", "unit"]
        constraints = [
            models.UniqueConstraint(fields=["step", "unit"], name="check_rule_once_for_a_step_and_unit")
        ]

    def __str__(self) -> str:
        return f"{self.name}, by {self.unit}"

    @classmethod
    def add_defaults(cls) -> None:
        """Add the common-practice rules that this book lacks; those it has stay as the shop set them."""
        rows = [row["fields"] for row in json.loads(DEFAULT_CHECK_RULES.read_text(encoding="utf-8"))]
        with transaction.atomic():
            known = set(cls.objects.values_list("step", "unit"))
            cls.objects.bulk_create([cls(**row) for row in rows if (row["step"], row["unit"]) not in known])

    @property
    def first_words(self) -> str:
        """The running to the first look: 1 pass; nothing where it is as all others."""
        return "" if self.first_after is None else counted(self.first_after, self.unit)

    @property
    def every_words(self) -> str:
        """The running from look to look: 10 passes."""
        return counted(self.every, self.unit)

    def due_at(self, last_looked: Decimal | None) -> Decimal:
        """How much an engine may have run before the next look; none yet: the first one."""
        every: Decimal = self.every
        if last_looked is None:
            return every if self.first_after is None else self.first_after
        return last_looked + every
