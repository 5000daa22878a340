"""The lift of a lobe: rows from its card, or a table that a cam checker wrote."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from builds.fields import BaseUnitField
from builds.models import Build
from builds.tracking import History, Tracked
from valvetrain.models.heads import ValveKind
from valvetrain.models.rockers import ABOVE_NOTHING

NOT_NEGATIVE = MinValueValidator(0, "This is nothing or more.")


class AnglesOf(models.TextChoices):
    """Whose degrees a table is in."""

    CRANK = "crank", "crankshaft"
    CAM = "cam", "camshaft"


class PlacedBy(models.TextChoices):
    """What says where in the cycle a table's lobe stands."""

    CENTRELINE = "centreline", "the centreline"
    OWN = "own", "its own angles"


class LobeTable(Tracked):
    """The lift of one kind's lobe: durations typed from the card in rows, or a table as a cam checker wrote it.

    The table is kept as it came, and read again each time; while there is one it outranks the rows.
    """

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="lobe_tables")
    kind = models.CharField("lobe", max_length=1, choices=ValveKind.choices)
    ramp = BaseUnitField(
        "ramp", unit_kind="angle", null=True, blank=True, drawing="ramp",
        measured="Crank degrees from the lowest lift in the rows down to the base circle. Empty: 30, common practice.",
        validators=[MinValueValidator(1), MaxValueValidator(120)],
    )  # fmt: skip
    text = models.TextField("table", blank=True)
    file_name = models.CharField("came as", max_length=120, blank=True)
    lift_unit = models.CharField(
        "lifts are in", max_length=2, choices=[("in", "inches"), ("mm", "millimetres")], default="in"
    )
    angles_of = models.CharField(
        "degrees are of the", max_length=5, choices=AnglesOf.choices, default=AnglesOf.CRANK
    )
    placed_by = models.CharField(
        "placed in the cycle by", max_length=10, choices=PlacedBy.choices, default=PlacedBy.CENTRELINE,
        help_text="The centreline: degreed, else the card’s. Its own angles: zero at top centre of the overlap.",
    )  # fmt: skip
    smoothing = BaseUnitField(
        "smoothing", default=Decimal("0.0001"), validators=[NOT_NEGATIVE, MaxValueValidator(Decimal("0.002"))],
        measured="How far the curve may stay off the readings: what the checker is good to. 0: through every reading.",
    )  # fmt: skip

    history = History()

    class Meta:
        ordering = ["build", "kind"]
        constraints = [models.UniqueConstraint(fields=["build", "kind"], name="lobe_table_once_for_its_kind")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} lobe"


class LobePoint(Tracked):
    """One row of a card: a lobe lift, and the crank degrees for which the lobe is above it."""

    table = models.ForeignKey(LobeTable, on_delete=models.CASCADE, related_name="points")
    lift = BaseUnitField("lobe lift", validators=[ABOVE_NOTHING])
    duration = BaseUnitField(
        "duration there", unit_kind="angle", validators=[MinValueValidator(1), MaxValueValidator(700)]
    )

    history = History()

    class Meta:
        ordering = ["table", "lift"]
        constraints = [models.UniqueConstraint(fields=["table", "lift"], name="lobe_point_once_at_its_lift")]

    def __str__(self) -> str:
        return f"{self.lift.normalize():f} in, {self.duration.normalize():f}°"
