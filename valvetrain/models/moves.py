"""A stand that was slid so that its marks come to the middle: append-only, like the packs."""

import uuid
from decimal import Decimal

from django.db import models
from django.utils import timezone

from builds.appendonly import AppendOnly
from builds.models import Person
from valvetrain.models.heads import Stand


class StandMove(AppendOnly):
    """One slide of a stand along its pads. Heights and marks that were read before it no longer count as proof.

    `slide` is along the pad [in], plus: toward the valve; `relieved` how much of the bolt holes came away for it.
    """

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    stand = models.ForeignKey(Stand, on_delete=models.PROTECT, related_name="moves")
    slide_text = models.CharField("slide, as typed", max_length=40)
    slide_unit = models.CharField("unit typed in", max_length=10)
    slide = models.DecimalField("slide along the pad", max_digits=22, decimal_places=12)
    relieved_text = models.CharField("relieved, as typed", max_length=40, blank=True)
    relieved = models.DecimalField("relieved", max_digits=22, decimal_places=12, default=Decimal(0))
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    moved_at = models.DateTimeField("moved at, as the device says", default=timezone.now)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    note = models.CharField("note", max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(slide=0), name="a_move_moves"),
            models.CheckConstraint(condition=models.Q(relieved__gte=0), name="relief_is_nothing_or_more"),
        ]

    def __str__(self) -> str:
        return f"{self.stand_id} slid {self.slide_text} {self.slide_unit}"
