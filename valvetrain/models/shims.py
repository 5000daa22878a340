"""Shim pieces in the drawer, and the packs that were fitted: append-only, like the readings."""

import uuid
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from builds.appendonly import AppendOnly
from builds.fields import BaseUnitField
from builds.models import Person
from builds.tracking import History, Tracked
from valvetrain.models.heads import Pad, Stand


class ShimStock(Tracked):
    """One thickness of shim in the drawer, and how many pieces there were when somebody last counted them.

    What is there now follows from the packs that were fitted since: see `drawer_count`.
    """

    thickness = BaseUnitField(
        "thickness", measured="With a micrometer, on the flat.", drawing="shim",
        validators=[MinValueValidator(Decimal("0.0005"), "A shim is at least half a thousandth thick.")],
        plausible=("0.0005", "0.25"),
    )  # fmt: skip
    count = models.PositiveIntegerField("pieces in the drawer", default=0)
    counted_at = models.DateTimeField("counted at", default=timezone.now, editable=False)
    least = models.PositiveSmallIntegerField(
        "keep at least", default=0, help_text="Fewer than this in the drawer is told as low. 0: never told."
    )
    material = models.CharField("material", max_length=40, blank=True)
    fits = models.CharField("for bolt", max_length=40, blank=True)

    history = History()

    class Meta:
        ordering = ["thickness", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["thickness", "material", "fits"], name="shim_once_in_drawer")
        ]

    def __str__(self) -> str:
        return f"{self.thickness} in"


class FittedPack(AppendOnly):
    """The shims that were put under the pads of a stand. The newest one is in place; no pieces means none."""

    client_id = models.UUIDField("made on the device as", unique=True, default=uuid.uuid4)
    stand = models.ForeignKey(Stand, on_delete=models.PROTECT, related_name="packs")
    fitted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    fitted_at = models.DateTimeField("fitted at, as the device says", default=timezone.now)
    saved_at = models.DateTimeField("written at, by this book's clock", auto_now_add=True)
    measured_text = models.CharField("total by micrometer, as typed", max_length=40, blank=True)
    measured_unit = models.CharField("unit typed in", max_length=10, blank=True)
    measured_total = models.DecimalField(
        "total by micrometer", max_digits=22, decimal_places=12, null=True, blank=True
    )
    old_scrapped = models.BooleanField("the shims that came out are scrap", default=False)
    note = models.CharField("note", max_length=200, blank=True)
    carried = models.BooleanField("as it came in with the engine, out of no drawer", default=False)
    context = models.JSONField("what held when it was fitted", default=dict, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"pack under {self.stand_id}"

    @property
    def differs(self) -> bool:
        """Whether the pack is not the same under every pad."""
        return any(piece.pad_id is not None for piece in self.pieces.all())

    def nominal(self, pad: int | None = None) -> Decimal:
        """Sum of the pieces [in] under a pad; with none named, under the pad that has most."""
        under_all = Decimal(0)
        besides: dict[int, Decimal] = {}
        for piece in self.pieces.all():
            thickness = piece.thickness * piece.count
            if piece.pad_id is None:
                under_all += thickness
            else:
                besides[piece.pad_id] = besides.get(piece.pad_id, Decimal(0)) + thickness
        if pad is None:
            return under_all + max(besides.values(), default=Decimal(0))
        return under_all + besides.get(pad, Decimal(0))

    def total(self, pad: int | None = None) -> Decimal:
        """Thickness [in] under a pad, as measured with a micrometer, else the sum of its pieces."""
        return self.nominal(pad) if self.measured_total is None else self.measured_total


class FittedPiece(AppendOnly):
    """Pieces of one thickness in a fitted pack: under one pad, or alike under every pad when none is named."""

    pack = models.ForeignKey(FittedPack, on_delete=models.PROTECT, related_name="pieces")
    pad = models.ForeignKey(
        Pad, on_delete=models.PROTECT, null=True, blank=True, related_name="fitted_pieces"
    )
    thickness = models.DecimalField(max_digits=18, decimal_places=10)
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["pack", "-thickness"]
        indexes = [models.Index(fields=["thickness"], name="fitted_piece_by_thickness")]
        constraints = [models.CheckConstraint(condition=models.Q(count__gte=1), name="fitted_piece_is_there")]

    def __str__(self) -> str:
        return f"{self.count} of {self.thickness} in"
