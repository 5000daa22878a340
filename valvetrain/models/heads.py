"""Heads with their valves, stands and pads; and the layouts on the shop's shelf that heads are copied from."""

from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models, transaction
from django.urls import reverse

from builds.fields import BaseUnitField
from builds.models import Build, Reading
from builds.tracking import History, Tracked

NAME_IN_ADDRESS = RegexValidator(
    r"^[A-Za-z][A-Za-z0-9-]*$", "Letters, digits and dashes, a letter first: stand2."
)

# Usual places on a head [in]; a long one is an in-line six's.
ALONG = ("-5", "40")
ACROSS = ("-8", "8")


class HeadMaterial(models.TextChoices):
    """What the stand bolts screw into: it decides how much thread they need."""

    ALUMINIUM = "aluminium", "aluminium"
    IRON = "iron", "iron"


class ValveKind(models.TextChoices):
    """Intake or exhaust."""

    INTAKE = "I", "intake"
    EXHAUST = "E", "exhaust"


class Head(Tracked):
    """One cylinder head of a build; or, without a build, a layout on the shelf to copy from."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, null=True, blank=True, related_name="heads")
    layout_name = models.CharField("layout name", max_length=80, blank=True)
    code = models.CharField(
        "letter", max_length=4, blank=True, validators=[NAME_IN_ADDRESS],
        help_text="Starts the stands' addresses: L, R. Leave it empty on a one-head engine.",
    )  # fmt: skip
    name = models.CharField("head", max_length=80, help_text="Left head.")
    material = models.CharField(
        "head material", max_length=10, choices=HeadMaterial.choices, default=HeadMaterial.ALUMINIUM
    )
    note = models.TextField("note", blank=True)

    history = History()

    class Meta:
        ordering = ["build", "code", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(build__isnull=True) & ~models.Q(layout_name=""))
                | (models.Q(build__isnull=False) & models.Q(layout_name="")),
                name="head_on_a_build_or_on_the_shelf",
            ),
            models.UniqueConstraint(fields=["build", "code"], name="head_code_once_in_a_build"),
            models.UniqueConstraint(
                fields=["layout_name"], condition=~models.Q(layout_name=""), name="layout_name_once"
            ),
        ]

    def __str__(self) -> str:
        return self.layout_name or self.name

    def get_absolute_url(self) -> str:
        """The page of this head's hardware."""
        return reverse("head-detail", args=[self.pk])

    @property
    def is_layout(self) -> bool:
        """Whether this is a layout on the shelf."""
        return self.build_id is None

    @property
    def job(self) -> Build:
        """The build that this head belongs to; a layout belongs to none, and is not asked."""
        assert self.build is not None
        return self.build

    @transaction.atomic
    def copy_to(
        self,
        build: Build | None,
        *,
        code: str,
        name: str,
        layout_name: str = "",
        cylinders: dict[int, int] | None = None,
    ) -> "Head":
        """Copy this head, stands, pads and valves and all. `cylinders` renumbers: layout's cylinder to engine's."""
        new = Head.objects.create(
            build=build, layout_name=layout_name, code=code, name=name, material=self.material, note=self.note
        )
        valves = list(self.valves.all())
        for stand in self.stands.prefetch_related("pads"):
            old_pk, pads = stand.pk, list(stand.pads.all())
            stand.pk, stand.head, stand._state.adding = None, new, True
            stand.save()
            for pad in pads:
                pad.pk, pad.stand, pad._state.adding = None, stand, True
            Pad.objects.bulk_create(pads)
            for valve in valves:
                if valve.stand_id == old_pk:
                    valve.stand = stand
        for valve in valves:
            valve.pk, valve.head, valve._state.adding = None, new, True
            valve.cylinder = (cylinders or {}).get(valve.cylinder, valve.cylinder)
        Valve.objects.bulk_create(valves)
        return new

    def measured_addresses(self) -> set[str]:
        """Addresses of this head that the log names, by a reading, a fitted pack or a slide: those stay as they are."""
        if self.build_id is None:
            return set()
        mine = {address for address, _kind in self.addresses()}
        read = Reading.objects.filter(build_id=self.build_id).values_list("position", flat=True).distinct()
        worked_on = models.Q(packs__isnull=False) | models.Q(moves__isnull=False)
        packed = {stand.address for stand in self.stands.filter(worked_on).distinct()}
        packed |= {
            pad.address
            for pad in Pad.objects.filter(stand__head=self, fitted_pieces__isnull=False)
            .select_related("stand__head")
            .distinct()
        }
        return (mine & set(read.order_by())) | packed

    def why_it_stays(self) -> str:
        """Why this head can't be taken off its job; empty when it can."""
        measured = self.measured_addresses()
        if not measured:
            return ""
        return f"{', '.join(sorted(measured))}: the log of this job names them, so the head stays."

    def take_away(self) -> None:
        """Remove this head or layout with its parts; `ValidationError` with the reason when the log names any."""
        reason = self.why_it_stays()
        if reason:
            raise ValidationError(reason)
        self.delete()

    def cylinders_along(self) -> list[int]:
        """The cylinders that this head serves, in order along it."""
        return list(dict.fromkeys(valve.cylinder for valve in self.valves.all()))

    def addresses(self) -> Iterator[tuple[str, str]]:
        """Every address on this head with what it is: valve, stand or pad."""
        for valve in self.valves.all():
            yield valve.address, "valve"
        for stand in self.stands.all():
            yield stand.address, "stand"
            for pad in stand.pads.all():
                yield pad.address, "pad"


class Stand(Tracked):
    """One rigid bar that carries rockers and sits on its pads: a paired stand, a bar stand, or a shaft on pedestals."""

    head = models.ForeignKey(Head, on_delete=models.CASCADE, related_name="stands")
    order = models.PositiveSmallIntegerField("order along the head", default=1)
    name = models.CharField(
        "name in addresses", max_length=20, validators=[NAME_IN_ADDRESS], help_text="stand2"
    )
    label = models.CharField("label", max_length=60, blank=True, help_text="Intake bar, five pads.")
    pad_tilt = BaseUnitField(
        "pad tilt", unit_kind="angle", default=0, signed=True, drawing="pad-tilt",
        measured="Angle between the pad's normal and the valve stem, with a protractor. Plus: shims carry the "
        "shaft toward the valve.",
        validators=[MinValueValidator(-45), MaxValueValidator(45)], plausible=("-30", "30"),
    )  # fmt: skip
    bolt_diameter = BaseUnitField(
        "bolt diameter",
        measured="Nominal size of the stand bolt.",
        drawing="bolt-size",
        plausible=("0.15", "0.8"),
    )
    bolt_hole = BaseUnitField(
        "bolt hole in the stand",
        null=True,
        blank=True,
        measured="Across the hole that the stand bolt goes through; empty when it is not measured.",
        drawing="bolt-hole",
        plausible=("0.15", "0.9"),
    )
    bolt_length = BaseUnitField(
        "bolt length",
        measured="Under the head to the end of the thread.",
        drawing="bolt-length",
        plausible=("0.4", "8"),
    )
    washer_thickness = BaseUnitField(
        "washer",
        measured="Thickness under the bolt's head.",
        default=0,
        drawing="washer",
        plausible=("0", "0.3"),
    )
    thickness_at_bolt = BaseUnitField(
        "stand thickness at the bolt",
        measured="From the washer's seat to the pad.",
        drawing="stand-thickness",
        plausible=("0.1", "5"),
    )
    tapped_depth = BaseUnitField(
        "tapped depth",
        measured="Full thread in the head, from the pad down.",
        drawing="tapped-depth",
        plausible=("0.2", "4"),
    )

    history = History()

    class Meta:
        ordering = ["order", "pk"]
        constraints = [models.UniqueConstraint(fields=["head", "name"], name="stand_name_once_on_a_head")]

    def __str__(self) -> str:
        return self.label or self.name

    def clean(self) -> None:
        """A bolt goes through its hole."""
        hole, bolt = self.bolt_hole, self.bolt_diameter
        if hole is not None and bolt is not None and hole < bolt:
            raise ValidationError(
                {
                    "bolt_hole": "Bolt hole in the stand: it is smaller than the bolt that goes through it. Measure "
                    "across the hole again, or leave it empty."
                }
            )

    @property
    def address(self) -> str:
        """The stand's printed address: L.stand2."""
        return f"{self.head.code}.{self.name}" if self.head.code else self.name

    def why_it_stays(self) -> str:
        """Why this stand can't be removed; empty when it can."""
        if self.packs.exists():
            return f"A pack was fitted under {self.address}: the log names it, so the stand stays."
        if self.moves.exists():
            return f"{self.address} was slid on its pads: the log names it, so the stand stays."
        carried = ", ".join(valve.address for valve in self.valves.all())
        return f"{self.address} carries {carried}. Put them on another stand first." if carried else ""

    def take_away(self) -> None:
        """Remove this stand with its pads; `ValidationError` with the reason when it can't go."""
        reason = self.why_it_stays()
        if reason:
            raise ValidationError(reason)
        self.delete()


class Pad(Tracked):
    """One machined pad on the head under a stand, with a bolt through it."""

    stand = models.ForeignKey(Stand, on_delete=models.CASCADE, related_name="pads")
    letter = models.CharField("letter", max_length=2, validators=[NAME_IN_ADDRESS])
    along = BaseUnitField(
        "along the head",
        signed=True,
        measured="From the front face of the head.",
        drawing="plan",
        plausible=ALONG,
    )
    across = BaseUnitField(
        "across the head", signed=True, default=0, measured="From the line of the pads, toward the valves.",
        drawing="plan", plausible=ACROSS,
    )  # fmt: skip

    history = History()

    class Meta:
        ordering = ["stand", "along", "pk"]
        constraints = [models.UniqueConstraint(fields=["stand", "letter"], name="pad_letter_once_on_a_stand")]

    def __str__(self) -> str:
        return f"pad {self.letter}"

    @property
    def address(self) -> str:
        """The pad's printed address: L.stand2.padA."""
        return f"{self.stand.address}.pad{self.letter}"


class Valve(Tracked):
    """One valve, in its place along the head, worked by a rocker on one stand."""

    head = models.ForeignKey(Head, on_delete=models.CASCADE, related_name="valves")
    stand = models.ForeignKey(Stand, on_delete=models.CASCADE, related_name="valves")
    order = models.PositiveSmallIntegerField("order along the head", default=1)
    cylinder = models.PositiveSmallIntegerField(
        "cylinder", validators=[MinValueValidator(1), MaxValueValidator(24)]
    )
    kind = models.CharField("kind", max_length=1, choices=ValveKind.choices)
    nth = models.PositiveSmallIntegerField(
        "which of its kind", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(3)],
        help_text="Only where a cylinder has two of a kind: 1 or 2.",
    )  # fmt: skip
    along = BaseUnitField(
        "along the head",
        signed=True,
        measured="From the front face of the head.",
        drawing="plan",
        plausible=ALONG,
    )
    across = BaseUnitField(
        "across the head",
        signed=True,
        measured="From the line of the pads to the tip.",
        drawing="plan",
        plausible=ACROSS,
    )
    tip_diameter = BaseUnitField(
        "tip diameter", measured="Across the stem at the tip.", drawing="tip", plausible=("0.15", "0.7")
    )

    history = History()

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            # Two rules instead of one with nulls alike: SQLite has no such constraint.
            models.UniqueConstraint(
                fields=["head", "cylinder", "kind"],
                condition=models.Q(nth__isnull=True),
                name="valve_once_on_a_head",
            ),
            models.UniqueConstraint(
                fields=["head", "cylinder", "kind", "nth"], name="numbered_valve_once_on_a_head"
            ),
        ]

    def __str__(self) -> str:
        return self.address

    @property
    def address(self) -> str:
        """The valve's printed address: 3E."""
        return f"{self.cylinder}{self.kind}{self.nth or ''}"

    def clean(self) -> None:
        """A valve's stand is on the same head."""
        if self.stand_id and self.head_id and self.stand.head_id != self.head_id:
            raise ValidationError({"stand": "This stand is on another head."})


def addresses_of(build: Build) -> dict[str, str]:
    """Every valvetrain address of a build with what it is; the ground floor asks through its registry."""
    heads = Head.objects.filter(build=build).prefetch_related("valves", "stands__pads")
    found: dict[str, str] = {}
    for head in heads:
        for stand in head.stands.all():
            stand.head = head
            for pad in stand.pads.all():
                pad.stand = stand
        found.update(head.addresses())
    return found
