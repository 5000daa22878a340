"""A lot, a maker's number or a serial number that turned out bad: who has it, and who was told."""

import uuid

from django.db import models
from django.utils import timezone

from builds.appendonly import AppendOnly
from builds.models.parts import PartFitted
from builds.models.people import Person
from builds.tracking import History, Tracked


class TracedBy(models.TextChoices):
    """By which of its numbers a part is traced."""

    LOT = "lot", "lot"
    NUMBER = "maker_number", "maker’s number"
    SERIAL = "serial", "serial number"


class Recall(Tracked):
    """A list of the engines that carry a part which has to be looked at, with what their customers are told."""

    by = models.CharField("traced by", max_length=12, choices=TracedBy.choices, editable=False)
    value = models.CharField("number", max_length=80, editable=False)
    reason = models.CharField(
        "why", max_length=200, help_text="What is wrong with it, as far as it is known."
    )
    advice = models.TextField(
        "what the customer is asked to do",
        help_text="As it stands in the letter: do not start it; bring it in; check the lash first.",
    )
    opened_on = models.DateField("begun", default=timezone.localdate)
    opened_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    closed_on = models.DateField("closed", null=True, blank=True, editable=False)

    history = History()

    class Meta:
        ordering = ["-opened_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_by_display()} {self.value}"


class RecallLine(Tracked):
    """One part on the list of a recall."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(PartFitted, on_delete=models.PROTECT, related_name="recall_lines")

    history = History()

    class Meta:
        ordering = ["recall", "pk"]
        constraints = [models.UniqueConstraint(fields=["recall", "part"], name="part_once_on_a_recall")]

    def __str__(self) -> str:
        return f"{self.part}"


class RecallStep(models.TextChoices):
    """How far a line of a recall is."""

    TOLD = "told", "told"
    CHECKED = "checked", "checked"
    REPLACED = "replaced", "replaced"


class RecallMark(AppendOnly):
    """That a customer was told, a part was checked, or replaced: when, by whom, and how it went.

    One that `strikes_out` another says that the other was entered in error, and in its note why.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    line = models.ForeignKey(RecallLine, on_delete=models.PROTECT, related_name="marks")
    step = models.CharField("what was done", max_length=10, choices=RecallStep.choices)
    done_on = models.DateField("on", default=timezone.localdate)
    note = models.CharField("note", max_length=200, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    saved_at = models.DateTimeField(auto_now_add=True)
    strikes_out = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, related_name="struck_out_by", editable=False
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(strikes_out__isnull=True) | ~models.Q(note=""),
                name="recall_mark_struck_out_says_why",
            )
        ]

    def __str__(self) -> str:
        return f"{self.line}: {self.get_step_display()}"
