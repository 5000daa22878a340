"""Rocker arms and the gauges that set their stands."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from builds.fields import BaseUnitField, PlainNumberField
from builds.models import Build, Instrument
from builds.tracking import History, Tracked
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.height import gauge_step

# Usual sizes [in], so wide that only another unit or a slipped point falls outside.
ROLLER = ("0.2", "1")
SHAFT = ("0.3", "1.5")
ABOVE_NOTHING = MinValueValidator(Decimal("0.0001"), "This must be more than nothing.")


def _part_of_lift(label: str, *, help_text: str = "") -> PlainNumberField:
    """How far along the lift the arm stands square: a number from 0 to 1."""
    return PlainNumberField(
        label, max_digits=5, decimal_places=4, default=Decimal("0.5"), help_text=help_text,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
    )  # fmt: skip


class FitsValves(models.TextChoices):
    """Which valves a rocker set works."""

    BOTH = "both", "intake and exhaust"
    INTAKE = "I", "intake"
    EXHAUST = "E", "exhaust"


class RockerSet(Tracked):
    """The rocker arms of a build; a second set where intake and exhaust differ."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="rocker_sets")
    fits = models.CharField("works", max_length=4, choices=FitsValves.choices, default=FitsValves.BOTH)
    name = models.CharField("name", max_length=80, blank=True)
    material = models.CharField("material", max_length=60, blank=True)
    arm_length = BaseUnitField(
        "arm length",
        measured="Shaft centre to roller centre.",
        drawing="arm-length",
        validators=[ABOVE_NOTHING],
        plausible=("0.7", "3"),
    )
    tip_diameter = BaseUnitField(
        "roller diameter", measured="Across the tip roller, with a micrometer.", drawing="roller",
        validators=[ABOVE_NOTHING], plausible=ROLLER,
    )  # fmt: skip
    shaft_diameter = BaseUnitField(
        "shaft diameter", measured="Across the rocker shaft, with a micrometer.", drawing="shaft",
        validators=[ABOVE_NOTHING], plausible=SHAFT,
    )  # fmt: skip
    ratio = PlainNumberField(
        "nominal ratio", max_digits=6, decimal_places=4, default=Decimal("1.6"),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(3)],
    )  # fmt: skip
    square_at = _part_of_lift("square at, as a part of lift", help_text="0.5 is half lift, common practice.")

    history = History()

    class Meta:
        ordering = ["build", "fits"]
        constraints = [
            models.UniqueConstraint(fields=["build", "fits"], name="rocker_set_once_for_its_valves")
        ]

    def __str__(self) -> str:
        return self.name or f"rockers, {self.get_fits_display()}"

    def clean(self) -> None:
        """One set for both kinds, or one set for each: never both ways."""
        others = RockerSet.objects.filter(build_id=self.build_id).exclude(pk=self.pk)
        if self.fits == FitsValves.BOTH and others.exists():
            raise ValidationError(
                {"fits": "This build has a rocker set for one kind already: choose the other kind."}
            )
        if self.fits != FitsValves.BOTH and others.filter(fits=FitsValves.BOTH).exists():
            raise ValidationError(
                {
                    "fits": "This build's rocker set works intake and exhaust: change that one to one kind first."
                }
            )

    def arm(self) -> RockerArm:
        """This set as the geometry service takes it."""
        return RockerArm(
            length=float(self.arm_length),
            tip_radius=float(self.tip_diameter) / 2,
            shaft_radius=float(self.shaft_diameter) / 2,
        )


class HeightGauge(Tracked):
    """What a height gauge in the drawer was made for: its step as measured, or the lift and arm it was made for."""

    instrument = models.OneToOneField(Instrument, on_delete=models.CASCADE, related_name="height_gauge")
    step = BaseUnitField(
        "step as measured", null=True, blank=True, signed=True, drawing="gauge-step",
        measured="Foot to the underside of the gauge's arm, on a surface plate. Outranks what it was made for.",
        plausible=("-0.3", "1"),
    )  # fmt: skip
    reference_lift = BaseUnitField(
        "made for net lift", null=True, blank=True, measured="The lift that the gauge was made for.",
        validators=[ABOVE_NOTHING], plausible=("0.2", "1.5"),
    )  # fmt: skip
    tip_diameter = BaseUnitField(
        "made for roller diameter", null=True, blank=True, drawing="roller", validators=[ABOVE_NOTHING],
        plausible=ROLLER,
    )  # fmt: skip
    shaft_diameter = BaseUnitField(
        "made for shaft diameter", null=True, blank=True, drawing="shaft", validators=[ABOVE_NOTHING],
        plausible=SHAFT,
    )  # fmt: skip
    square_at = _part_of_lift("made square at, as a part of lift")
    dummy_diameter = BaseUnitField(
        "dummy shaft diameter", null=True, blank=True, drawing="shaft",
        measured="Across the dummy shaft, where it is not the rockers' own size.", validators=[ABOVE_NOTHING],
        plausible=SHAFT,
    )  # fmt: skip

    history = History()

    def __str__(self) -> str:
        return str(self.instrument)

    def clean(self) -> None:
        """A gauge has a step, or all that its step is worked out from."""
        if self.step is None and None in (self.reference_lift, self.tip_diameter, self.shaft_diameter):
            raise ValidationError(
                "Give the gauge's step as measured, or the lift, roller and shaft diameter that it was made for."
            )

    def step_value(self) -> float:
        """The gauge's step [in]: measured where it was measured, else worked out from what it was made for."""
        if self.step is not None:
            return float(self.step)
        arm = RockerArm(
            length=1.0,  # the step does not depend on it
            tip_radius=float(self.tip_diameter) / 2,
            shaft_radius=float(self.shaft_diameter) / 2,
        )
        return float(gauge_step(arm, float(self.reference_lift), float(self.square_at)))
