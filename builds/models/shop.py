"""The shop itself: its letterhead and its limits."""

import json
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction

from builds.fields import BaseUnitField, PlainNumberField
from builds.measures import show, unit_for
from builds.tracking import History, Tracked, written_by
from builds.verdicts import Rule

DEFAULT_LIMITS = Path(settings.BASE_DIR) / "fixtures" / "default_limits.json"


class PaperSize(models.TextChoices):
    """The paper in the shop's printer."""

    A4 = "A4", "A4"
    LETTER = "Letter", "US Letter"


class Shop(Tracked):
    """The one shop that keeps this book."""

    name = models.CharField("shop name", max_length=120, default="Our engine shop")
    address = models.TextField("address", blank=True)
    phone = models.CharField("telephone", max_length=40, blank=True)
    email = models.EmailField("e-mail", blank=True)
    paper = models.CharField("paper", max_length=6, choices=PaperSize.choices, default=PaperSize.LETTER)
    running_in_advice = models.TextField(
        "running in and first lash check", blank=True,
        help_text="As this shop tells its customers: oil, first warm-up, when the lash is checked and the stands are "
        "torqued again. It stands on every build sheet; left empty, nothing does.",
    )  # fmt: skip
    guard_band = models.BooleanField(
        "guard band", default=False,
        help_text="On: a value is in only when it is inside its limit by its uncertainty, and undecided near it.",
    )  # fmt: skip
    guard_coverage = PlainNumberField(
        "coverage factor", max_digits=4, decimal_places=2, default=Decimal(2),
        help_text="The k in U = k·u. 2 is common: about 95 %.",
        validators=[MinValueValidator(1), MaxValueValidator(4)],
    )  # fmt: skip

    history = History()

    def __str__(self) -> str:
        return self.name

    @property
    def rule(self) -> Rule:
        """The rule that verdicts go by."""
        return Rule(self.guard_band, float(self.guard_coverage))

    @classmethod
    def get(cls) -> "Shop":
        """The shop; made with its defaults the first time somebody asks."""
        shop = cls.objects.first()
        if shop is not None:
            return shop
        with written_by(None):
            return cls.objects.create(pk=1)


class Limit(Tracked):
    """One limit with where it comes from: the shop's own, or one job's, which outranks it."""

    key = models.SlugField(max_length=40)
    build = models.ForeignKey(
        "builds.Build", on_delete=models.PROTECT, null=True, blank=True, related_name="limits", editable=False
    )
    name = models.CharField("limit", max_length=80)
    low = BaseUnitField("not below", null=True, blank=True, signed=True)
    high = BaseUnitField("not above", null=True, blank=True, signed=True)
    unit_kind = models.CharField(max_length=10, default="length")
    source = models.CharField("where it comes from", max_length=200)

    history = History()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["key"], condition=models.Q(build__isnull=True), name="limit_of_the_shop_once"
            ),
            models.UniqueConstraint(fields=["build", "key"], name="limit_of_a_job_once"),
            models.CheckConstraint(
                condition=models.Q(low__isnull=False) | models.Q(high__isnull=False), name="limit_has_an_end"
            ),
            models.CheckConstraint(
                condition=models.Q(low__isnull=True)
                | models.Q(high__isnull=True)
                | models.Q(low__lte=models.F("high")),
                name="limit_low_below_high",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def by_key(cls) -> dict[str, "Limit"]:
        """Every limit of the shop under its key, in one query."""
        return {limit.key: limit for limit in cls.objects.filter(build__isnull=True)}

    @classmethod
    def holding(cls, build_ids: Iterable[int]) -> dict[int, dict[str, "Limit"]]:
        """For each job the limits that hold on it: its own before the shop's. One query for all."""
        found: dict[int, dict[str, Limit]] = {build_id: {} for build_id in build_ids}
        rows = cls.objects.filter(models.Q(build__isnull=True) | models.Q(build__in=found))
        for row in sorted(rows, key=lambda row: row.build_id is not None):
            for build_id in found if row.build_id is None else [row.build_id]:
                found[build_id][row.key] = row
        return found

    @classmethod
    def add_defaults(cls) -> None:
        """Add the common-practice limits that this book lacks; those it has stay as the shop set them."""
        rows = [row["fields"] for row in json.loads(DEFAULT_LIMITS.read_text(encoding="utf-8"))]
        with transaction.atomic():
            known = set(cls.objects.filter(build__isnull=True).values_list("key", flat=True))
            cls.objects.bulk_create([cls(**row) for row in rows if row["key"] not in known])

    def clean(self) -> None:
        """Refuse a limit without an end, and one whose ends are the wrong way round."""
        if self.low is None and self.high is None:
            raise ValidationError(
                f"{self.name}: a limit needs at least one end. Fill in “not below” or “not above”."
            )
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValidationError(
                {"high": f"{self.name}: “not above” is smaller than “not below”. Change one of them."}
            )

    def value_in(self, length_unit: str) -> str:
        """The limit in words, in the unit of the person who reads."""
        unit = unit_for(self.unit_kind, length_unit)
        if self.low is None:
            return f"at most {show(self.high, unit, with_unit=True)}"
        if self.high is None:
            return f"at least {show(self.low, unit, with_unit=True)}"
        return f"{show(self.low, unit, sign=True)} to {show(self.high, unit, sign=True, with_unit=True)}"
