"""What the spring's own sheet says."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from builds.fields import BaseUnitField
from builds.measures import show, unit_for
from builds.models import Build
from builds.tracking import History, Tracked
from valvetrain.models.rockers import FitsValves

ABOVE_NOTHING = MinValueValidator(Decimal("0.0001"), "This must be more than nothing.")


class SpringSheet(Tracked):
    """The springs of a build as their maker's sheet has them; a second sheet where intake and exhaust differ."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="spring_sheets")
    fits = models.CharField("under", max_length=4, choices=FitsValves.choices, default=FitsValves.BOTH)
    name = models.CharField("name", max_length=80, blank=True)
    installed_height = BaseUnitField(
        "installed height wanted",
        measured="Seat to the retainer's underside, valve closed.",
        validators=[ABOVE_NOTHING],
        plausible=("0.8", "4"),
    )
    seat_load = BaseUnitField(
        "seat load there", unit_kind="force", validators=[ABOVE_NOTHING], plausible=("20", "900")
    )
    open_height = BaseUnitField(
        "height of the open load", null=True, blank=True, validators=[ABOVE_NOTHING], plausible=("0.5", "3.5")
    )
    open_load = BaseUnitField(
        "open load there", unit_kind="force", null=True, blank=True, validators=[ABOVE_NOTHING],
        plausible=("50", "3000"),
    )  # fmt: skip
    solid_height = BaseUnitField(
        "solid height", measured="Coils touching.", validators=[ABOVE_NOTHING], plausible=("0.4", "3")
    )

    history = History()

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
                {"fits": "This job has a spring sheet for one kind already: choose the other kind."}
            )
        if self.fits != FitsValves.BOTH and others.filter(fits=FitsValves.BOTH).exists():
            raise ValidationError(
                {
                    "fits": "This job’s spring sheet is for intake and exhaust: change that one to one kind first."
                }
            )
        wrong = self._out_of_order()
        if wrong:
            raise ValidationError(wrong)

    def _out_of_order(self) -> dict[str, str]:
        """Fields whose figures cannot be: a spring is highest installed, lower open, lowest solid."""
        wrong = {}
        top, opened, solid = self.installed_height, self.open_height, self.solid_height
        if top is not None and solid is not None and solid >= top:
            wrong["solid_height"] = (
                "Solid, a spring is lower than installed. Look at both heights on the sheet."
            )
        elif opened is not None and top is not None and opened >= top:
            wrong["open_height"] = (
                "Open, a spring is lower than installed. Look at both heights on the sheet."
            )
        elif opened is not None and solid is not None and opened <= solid:
            wrong["open_height"] = "Open, a spring is higher than solid. Look at both heights on the sheet."
        if self.open_load is not None and self.seat_load is not None and self.open_load <= self.seat_load:
            wrong["open_load"] = (
                "Open, a spring pushes harder than on the seat. Look at both loads on the sheet."
            )
        return wrong

    def value_in(self, length_unit: str) -> str:
        """The sheet in a line, in the units of the person who reads."""
        force = unit_for("force", length_unit)
        seat = show(self.seat_load, force, with_unit=True)
        installed, solid = (
            show(height, length_unit, with_unit=True) for height in (self.installed_height, self.solid_height)
        )
        return f"seat {seat} at {installed}, solid {solid}"

    def rate(self) -> Decimal | None:
        """Spring rate [lbf/in] from the sheet's two loads; None where it gives only one."""
        if self.open_height is None or self.open_load is None or self.open_height >= self.installed_height:
            return None
        rate: Decimal = (self.open_load - self.seat_load) / (self.installed_height - self.open_height)
        return rate
