"""Shim pieces in the drawer, and the packs that were fitted: append-only, like the readings."""

import uuid
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from builds.appendonly import AppendOnly
from builds.fields import BaseUnitField
from builds.models import Person
from valvetrain.models.heads import Stand


class ShimStock(models.Model):
    """One thickness of shim in the drawer and how many pieces there are."""

    thickness = BaseUnitField(
        "thickness", measured="With a micrometer, on the flat.", drawing="shim",
        validators=[MinValueValidator(Decimal("0.0005"), "A shim is at least half a thousandth thick.")],
    )  # fmt: skip
    count = models.PositiveIntegerField("pieces in the drawer", default=0)
    material = models.CharField("material", max_length=40, blank=True)
    fits = models.CharField("for bolt", max_length=40, blank=True)

    class Meta:
        ordering = ["thickness", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["thickness", "material", "fits"], name="shim_once_in_drawer")
        ]

    def __str__(self) -> str:
        return f"{self.thickness} in"


class FittedPack(AppendOnly):
    """The shims that were put under every pad of a stand. The newest one is in place; no pieces means none."""

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    stand = models.ForeignKey(Stand, on_delete=models.PROTECT, related_name="packs")
    fitted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    fitted_at = models.DateTimeField("fitted at, as the device says", default=timezone.now)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    note = models.CharField("note", max_length=200, blank=True)
    context = models.JSONField("what held when it was fitted", default=dict, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"pack under {self.stand_id}"

    def total(self) -> Decimal:
        """Thickness [in] under one pad."""
        return sum((piece.thickness * piece.count for piece in self.pieces.all()), Decimal(0))


class FittedPiece(AppendOnly):
    """Pieces of one thickness in a fitted pack, under one pad."""

    pack = models.ForeignKey(FittedPack, on_delete=models.PROTECT, related_name="pieces")
    thickness = models.DecimalField(max_digits=18, decimal_places=10)
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["pack", "-thickness"]
        constraints = [models.CheckConstraint(condition=models.Q(count__gte=1), name="fitted_piece_is_there")]

    def __str__(self) -> str:
        return f"{self.count} of {self.thickness} in"
