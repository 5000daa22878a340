"""Which part went where, with the numbers that let it be found again."""

from django.core.validators import MinValueValidator
from django.db import models
from django.utils import timezone

from builds.models.engines import Build
from builds.tracking import History, Tracked

# Roles offered while typing; a shop may write its own.
COMMON_ROLES = [
    "rocker arm", "rocker shaft", "rocker stand", "stand bolt", "pushrod", "lifter", "camshaft", "intake valve",
    "exhaust valve", "lash cap", "valve spring", "retainer", "valve lock", "valve seal", "cylinder head",
    "head gasket", "head bolt", "piston", "piston ring set", "connecting rod", "rod bearing", "main bearing",
    "crankshaft", "timing set", "oil pump",
]  # fmt: skip


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

    history = History()

    class Meta:
        ordering = ["role", "position", "pk"]
        verbose_name = "part fitted"
        verbose_name_plural = "parts fitted"
        indexes = [models.Index(fields=["lot"]), models.Index(fields=["maker_number"])]

    def __str__(self) -> str:
        return f"{self.role} {self.position}".strip()
