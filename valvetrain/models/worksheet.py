"""What the worksheet reckons with beside the log: the pushrod's side, moving masses, the piston's side."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from builds.fields import BaseUnitField
from builds.models import Build
from builds.tracking import History, Tracked
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.lifter import lifter_from_pushrod
from valvetrain.geometry.linkage import Point
from valvetrain.geometry.pushrod import end_allowance
from valvetrain.models.rockers import ABOVE_NOTHING, FitsValves

NOT_NEGATIVE = MinValueValidator(0, "This is nothing or more.")
LEANS = [
    MinValueValidator(-60, "This lies between −60° and 60°."),
    MaxValueValidator(60, "This lies between −60° and 60°."),
]


def _lean(label: str, drawing: str, measured: str, **more: Any) -> BaseUnitField:
    return BaseUnitField(
        label, unit_kind="angle", signed=True, drawing=drawing, measured=measured, validators=LEANS, **more
    )


def _maybe(label: str, measured: str, drawing: str = "", **more: Any) -> BaseUnitField:
    more.setdefault("validators", [ABOVE_NOTHING])
    return BaseUnitField(label, null=True, blank=True, measured=measured, drawing=drawing, **more)


def _grams(label: str, measured: str, drawing: str = "scale", **more: Any) -> BaseUnitField:
    return BaseUnitField(
        label, unit_kind="mass", measured=measured, drawing=drawing, validators=[NOT_NEGATIVE], **more
    )


class ForKind(Tracked):
    """One record for both kinds of valve of a build, or one for each."""

    fits = models.CharField("for", max_length=4, choices=FitsValves.choices, default=FitsValves.BOTH)

    class Meta:
        abstract = True

    def clean(self) -> None:
        """One for both kinds or one for each: never both ways."""
        mine: Any = self
        others = type(mine)._default_manager.filter(build_id=mine.build_id).exclude(pk=mine.pk)
        if self.fits == FitsValves.BOTH and others.exists():
            raise ValidationError(
                {"fits": "This job has this for one kind of valve already: choose the other kind."}
            )
        if self.fits != FitsValves.BOTH and others.filter(fits=FitsValves.BOTH).exists():
            raise ValidationError(
                {
                    "fits": "This job has this for intake and exhaust together: change that one to one kind first."
                }
            )
        if others.filter(fits=self.fits).exists():
            raise ValidationError({"fits": "This job has this for these valves already. Change that one."})


Record = TypeVar("Record", bound=ForKind)


def for_kind(records: Iterable[Record], kind: str) -> Record | None:
    """Of a build's records, the one for a kind of valve."""
    by_fit = {record.fits: record for record in records}
    return by_fit.get(kind) or by_fit.get(FitsValves.BOTH)


class PushrodSide(ForKind):
    """The rocker's other side: its cup, and where the lifter stands, read with a checking pushrod in place."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="pushrod_sides")
    cup_radius = BaseUnitField(
        "shaft to cup", drawing="cup-radius", validators=[ABOVE_NOTHING],
        measured="Shaft centre to the centre of the ball, adjuster as it runs: across shaft and ball, less half of each.",
    )  # fmt: skip
    cup_angle = BaseUnitField(
        "arm round to cup", unit_kind="angle", default=Decimal(180), drawing="cup-angle",
        measured="Roller centre, shaft, ball centre, over the top: 180 is straight across, more: the ball hangs lower.",
        validators=[MinValueValidator(90), MaxValueValidator(270)],
    )  # fmt: skip
    cup_offset = BaseUnitField(
        "cup along the shaft", default=0, signed=True, drawing="cup-offset",
        measured="From the roller’s middle to the ball’s, along the shaft; minus: the other way than the leans below.",
    )  # fmt: skip
    shaft_offset = _maybe(
        "shaft to valve axis",
        "Shaft centre to the stem’s middle, square to the stem. Empty: as it is with the mark centred.",
        "shaft-offset",
    )
    checked_length = BaseUnitField(
        "checking pushrod, overall", drawing="pushrod-length", validators=[ABOVE_NOTHING],
        measured="Over both ends at zero lash, valve closed, lifter on the base circle.",
    )  # fmt: skip
    checked_top = BaseUnitField(
        "top of shaft then", signed=True, drawing="shaft-top",
        measured="Above the closed tip while that pushrod was in; minus: below.",
    )  # fmt: skip
    lean = _lean(
        "pushrod’s lean", "pushrod-lean",
        "Angle gauge zeroed on the stem, laid on the pushrod, seen along the shaft; plus: its top leans to the valve.",
    )  # fmt: skip
    lean_along = _lean(
        "pushrod’s lean sideways", "pushrod-lean-along",
        "The same seen square to the shaft; plus: the way that the cup along the shaft counts as plus.", default=0,
    )  # fmt: skip
    lifter_lean = _lean(
        "lifter’s lean", "lifter-lean",
        "Its bore from the stem, seen along the shaft; plus: to the valve. By a bar in the bore, or the block’s print.",
        default=0,
    )  # fmt: skip
    lifter_lean_along = _lean(
        "lifter’s lean sideways", "pushrod-lean-along", "The same seen square to the shaft.", default=0
    )
    rocker_ball = _maybe(
        "ball at the rocker",
        "Across the ball. Empty at either end: lengths are taken between ball centres.",
        "ball",
    )
    rocker_cup_depth = _maybe(
        "cup’s depth at the rocker",
        "Rim to deepest point, where the pushrod’s rocker end is a cup. Empty: a ball.",
        "cup-depth",
    )
    lifter_ball = _maybe("ball at the lifter", "Across the ball at the lifter’s end.", "ball")
    length_in_use = _maybe(
        "pushrod in use, overall", "Over both ends, as fitted or ordered.", "pushrod-length"
    )
    roller_width = _maybe(
        "roller’s width",
        "Along the shaft. Empty, or wider than the tip: the tip’s own width bears.",
        "roller-width",
    )

    history = History()

    class Meta:
        ordering = ["build", "fits"]
        constraints = [
            models.UniqueConstraint(fields=["build", "fits"], name="pushrod_side_once_for_its_valves")
        ]

    def __str__(self) -> str:
        return f"pushrod’s side, {self.get_fits_display()}"

    def ends(self) -> float | None:
        """What an overall length reaches past both ball centres [in]; None where the ends are not known."""
        if self.rocker_ball is None or self.lifter_ball is None:
            return None
        depth = None if self.rocker_cup_depth is None else float(self.rocker_cup_depth)
        rocker_end = end_allowance(float(self.rocker_ball) / 2, cup_depth=depth)
        return float(rocker_end) + float(end_allowance(float(self.lifter_ball) / 2))

    def effective(self, overall: float) -> float:
        """Between ball centres [in], from a length over both ends."""
        return overall - (self.ends() or 0.0)

    def overall(self, effective: float) -> float:
        """Over both ends [in], from a length between ball centres."""
        return effective + (self.ends() or 0.0)

    def lifter_point(self, arm: RockerArm, shaft_offset: float) -> Point:
        """Where the lifter's ball is [in], in the frame of the closed tip. Raises `GeometryError`."""
        return lifter_from_pushrod(
            arm,
            shaft_height=float(self.checked_top) - arm.shaft_radius,
            shaft_offset=shaft_offset,
            cup_radius=float(self.cup_radius),
            cup_angle=float(self.cup_angle),
            cup_offset=float(self.cup_offset),
            pushrod_length=self.effective(float(self.checked_length)),
            lean=float(self.lean),
            lean_along=float(self.lean_along),
        )


class MovingMasses(ForKind):
    """What moves with a valve, weighed."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="moving_masses")
    valve = _grams("valve", "On a scale, with its lash cap.")
    retainer = _grams("retainer", "On a scale.", default=0)
    locks = _grams("locks", "The pair.", default=0)
    spring = _grams("spring, whole", "All springs of one valve; a third of it is reckoned with.", default=0)
    rocker = _grams(
        "rocker, at its tip",
        "Moment of inertia about the shaft over arm length squared, from its maker or by swinging it.",
        default=0,
    )  # fmt: skip
    pushrod = _grams("pushrod", "On a scale.", default=0)
    lifter = _grams("lifter", "On a scale, with its roller and tie bar’s half.", default=0)

    history = History()

    class Meta:
        ordering = ["build", "fits"]
        constraints = [
            models.UniqueConstraint(fields=["build", "fits"], name="moving_masses_once_for_its_valves")
        ]

    def __str__(self) -> str:
        return f"moving masses, {self.get_fits_display()}"


class PistonSide(ForKind):
    """What the valve meets in the cylinder: the piston's height and pocket, and the pressure on its head."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="piston_sides")
    rod_length = _maybe("rod length", "Centre to centre.", "rod-length")
    deck_clearance = _maybe(
        "deck clearance", "Crown below the deck at top centre; minus: above. Empty: as the log has it.",
        "deck-clearance", signed=True, validators=[],
    )  # fmt: skip
    gasket_thickness = _maybe(
        "head gasket, compressed", "Empty: as the log has it.", "gasket", validators=[NOT_NEGATIVE]
    )
    valve_recess = _maybe(
        "valve above the head’s face", "Lowest edge of the closed valve, along the cylinder; minus: it hangs below.",
        "valve-recess", signed=True, validators=[],
    )  # fmt: skip
    pocket_depth = BaseUnitField(
        "pocket depth", default=0, drawing="pocket-depth", validators=[NOT_NEGATIVE],
        measured="Below the crown under that edge, along the cylinder.",
    )  # fmt: skip
    valve_angle = BaseUnitField(
        "valve angle", unit_kind="angle", default=0, drawing="valve-angle", measured="Stem from the cylinder’s axis.",
        validators=[MinValueValidator(0), MaxValueValidator(60)],
    )  # fmt: skip
    head_diameter = _maybe("valve head diameter", "Across the head.", "valve-head")
    cylinder_pressure = _maybe(
        "cylinder pressure as the exhaust opens", "Above the port’s, without boost; from a simulation or a trace.",
        "", unit_kind="pressure", validators=[NOT_NEGATIVE],
    )  # fmt: skip
    boost = _maybe(
        "boost", "Above the air outside. Empty: none.", "", unit_kind="pressure", validators=[NOT_NEGATIVE]
    )

    history = History()

    class Meta:
        ordering = ["build", "fits"]
        constraints = [
            models.UniqueConstraint(fields=["build", "fits"], name="piston_side_once_for_its_valves")
        ]

    def __str__(self) -> str:
        return f"piston’s side, {self.get_fits_display()}"
