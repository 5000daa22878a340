"""Which part went where, with the numbers that let it be found again."""

from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models.functions import Coalesce, Upper
from django.utils import timezone

from builds.models.jobs import Build
from builds.models.people import Person
from builds.tracking import History, Tracked, TrackedQuerySet

# Roles offered while typing; a shop may write its own.
COMMON_ROLES = [
    "rocker arm", "rocker shaft", "rocker stand", "stand bolt", "pushrod", "lifter", "camshaft", "intake valve",
    "exhaust valve", "lash cap", "valve spring", "retainer", "valve lock", "valve seal", "cylinder head",
    "head gasket", "head bolt", "piston", "piston ring set", "connecting rod", "rod bearing", "main bearing",
    "crankshaft", "timing set", "oil pump",
]  # fmt: skip


class PartFittedQuerySet(TrackedQuerySet["PartFitted"]):
    """Lists of parts."""

    def with_out(self) -> "PartFittedQuerySet":
        """Each with `came_out`: how many of it were taken out."""
        outs = PartTakenOut.objects.filter(part=models.OuterRef("pk")).order_by().values("part")
        taken = models.Subquery(outs.annotate(n=models.Sum("quantity")).values("n"))
        return self.annotate(came_out=Coalesce(taken, 0))

    def for_list(self) -> "PartFittedQuerySet":
        """Everything a row of a table of parts shows, in three queries; `on_recalls` are those that are open."""
        from builds.models.recalls import RecallLine  # recalls are of parts: this is the one way back

        outs = PartTakenOut.objects.select_related("in_job")
        lines = RecallLine.objects.filter(recall__closed_on__isnull=True).select_related("recall")
        return (
            self.with_out()
            .select_related("build")
            .prefetch_related(
                models.Prefetch("taken_out", outs),
                models.Prefetch("recall_lines", lines, to_attr="on_recalls"),
            )
        )

    def still_in(self) -> "PartFittedQuerySet":
        """Those of which at least one is still in its engine."""
        return self.with_out().filter(came_out__lt=models.F("quantity"))  # type: ignore[misc]


class PartFitted(Tracked):
    """One part, or several of one lot, fitted to a build."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="parts")
    role = models.CharField("what it is", max_length=60)
    maker = models.CharField("maker", max_length=80, blank=True)
    maker_number = models.CharField("maker's number", max_length=80, blank=True)
    lot = models.CharField("lot", max_length=80, blank=True)
    serial = models.CharField("serial number", max_length=80, blank=True)
    position = models.CharField(
        "where in the engine",
        max_length=40,
        blank=True,
        help_text="An address such as 3E, or words: all intakes.",
    )
    quantity = models.PositiveSmallIntegerField("how many", default=1, validators=[MinValueValidator(1)])
    fitted_on = models.DateField("fitted", default=timezone.localdate)
    note = models.CharField("note", max_length=200, blank=True)

    objects: ClassVar = PartFittedQuerySet.as_manager()
    history = History()

    class Meta:
        ordering = ["role", "position", "pk"]
        verbose_name = "part fitted"
        verbose_name_plural = "parts fitted"
        indexes = [
            models.Index(fields=["lot"]),
            models.Index(fields=["maker_number"]),
            # A lot is traced whatever its capitals.
            models.Index(Upper("lot"), name="part_by_upper_lot"),
            models.Index(Upper("maker_number"), name="part_by_upper_number"),
            models.Index(Upper("serial"), name="part_by_upper_serial"),
            models.Index(Upper("role"), name="part_by_upper_role"),
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.position}".strip()

    @property
    def numbers(self) -> list[tuple[str, str]]:
        """The numbers by which it is traced, each with what it is: those that it has."""
        known = [("lot", self.lot), ("serial number", self.serial), ("maker’s number", self.maker_number)]
        return [(word, number) for word, number in known if number]

    @property
    def left(self) -> int:
        """How many are still in the engine. On a part that came through `with_out`."""
        return self.quantity - self.came_out  # type: ignore[attr-defined,no-any-return]


class WhyOut(models.TextChoices):
    """Why a part came out of its engine. Only the first says that it failed."""

    FAILED = "failed", "failed"
    WORN = "worn", "worn, before it failed"
    RECALLED = "recalled", "its lot was recalled"
    REPLACED = "replaced", "replaced as a matter of course"
    OTHER = "other", "another reason"


class PartTakenOut(Tracked):
    """Of a part that was fitted, so many that came out: when, in which job, and why. What is left is still in."""

    part = models.ForeignKey(PartFitted, on_delete=models.PROTECT, related_name="taken_out")
    quantity = models.PositiveSmallIntegerField("how many", default=1, validators=[MinValueValidator(1)])
    position = models.CharField("where in the engine", max_length=40, blank=True)
    out_on = models.DateField("came out", default=timezone.localdate)
    why = models.CharField("why", max_length=10, choices=WhyOut.choices, default=WhyOut.REPLACED)
    in_job = models.ForeignKey(
        Build,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="parts_out",
        verbose_name="in job",
    )
    note = models.CharField("note", max_length=200, blank=True)
    noted_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )
    # The mark on a recall's list that took it out.
    by_mark = models.ForeignKey(
        "builds.RecallMark", on_delete=models.PROTECT, related_name="took_out", null=True, editable=False
    )

    history = History()

    class Meta:
        ordering = ["out_on", "pk"]
        verbose_name = "part taken out"
        verbose_name_plural = "parts taken out"

    def __str__(self) -> str:
        return f"{self.part.role} {self.position or self.part.position}".strip()
