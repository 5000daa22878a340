"""What the spring's own sheet says."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from builds.fields import BaseUnitField
from builds.models import Build
from valvetrain.models.rockers import FitsValves

ABOVE_NOTHING = MinValueValidator(Decimal("0.0001"), "This must be more than nothing.")


class SpringSheet(models.Model):
    """The springs of a build as their maker's sheet has them; a second sheet where intake and exhaust differ."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="spring_sheets")
    fits = models.CharField("under", max_length=4, choices=FitsValves.choices, default=FitsValves.BOTH)
    name = models.CharField("name", max_length=80, blank=True)
    installed_height = BaseUnitField(
        "installed height wanted",
        measured="Seat to the retainer's underside, valve closed.",
        validators=[ABOVE_NOTHING],
    )
    seat_load = BaseUnitField("seat load there", unit_kind="force", validators=[ABOVE_NOTHING])
    open_height = BaseUnitField("height of the open load", null=True, blank=True, validators=[ABOVE_NOTHING])
    open_load = BaseUnitField(
        "open load there", unit_kind="force", null=True, blank=True, validators=[ABOVE_NOTHING]
    )
    solid_height = BaseUnitField("solid height", measured="Coils touching.", validators=[ABOVE_NOTHING])

    class Meta:
        ordering = ["build", "fits"]
        constraints = [
            models.UniqueConstraint(fields=["build", "fits"], name="spring_sheet_once_for_its_valves")
        ]

    def __str__(self) -> str:
        return self.name or f"springs, {self.get_fits_display()}"

    def clean(self) -> None:
        """One sheet for both kinds or one for each; and heights in their order."""
        others = SpringSheet.objects.filter(build_id=self.build_id).exclude(pk=self.pk)
        if self.fits == FitsValves.BOTH and others.exists():
            raise ValidationError(
                {"fits": "This build has a spring sheet for one kind already: choose the other kind."}
            )
        if self.fits != FitsValves.BOTH and others.filter(fits=FitsValves.BOTH).exists():
            raise ValidationError(
                {"fits": "This build's spring sheet is for both kinds: change that one first."}
            )
        if self.solid_height and self.installed_height and self.solid_height >= self.installed_height:
            raise ValidationError({"solid_height": "The solid height is below the installed height."})

    def rate(self) -> Decimal | None:
        """Spring rate [lbf/in] from the sheet's two loads; None where it gives only one."""
        if self.open_height is None or self.open_load is None or self.open_height >= self.installed_height:
            return None
        return (self.open_load - self.seat_load) / (self.installed_height - self.open_height)
