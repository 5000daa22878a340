"""The shop itself: its letterhead and its limits."""

from django.db import models

from builds.fields import BaseUnitField


class PaperSize(models.TextChoices):
    """The paper in the shop's printer."""

    A4 = "A4", "A4"
    LETTER = "Letter", "US Letter"


class Shop(models.Model):
    """The one shop that keeps this book."""

    name = models.CharField("shop name", max_length=120, default="Our engine shop")
    address = models.TextField("address", blank=True)
    phone = models.CharField("telephone", max_length=40, blank=True)
    email = models.EmailField("e-mail", blank=True)
    paper = models.CharField("paper", max_length=6, choices=PaperSize.choices, default=PaperSize.LETTER)

    def __str__(self) -> str:
        return self.name

    @classmethod
    def get(cls) -> "Shop":
        """The shop; made with its defaults the first time somebody asks."""
        shop = cls.objects.first()
        return shop if shop is not None else cls.objects.create(pk=1)


class Limit(models.Model):
    """One limit of the shop, with where it comes from. A maker's sheet outranks it."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField("limit", max_length=80)
    low = BaseUnitField("not below", null=True, blank=True, signed=True)
    high = BaseUnitField("not above", null=True, blank=True, signed=True)
    unit_kind = models.CharField(max_length=10, default="length")
    source = models.CharField("where it comes from", max_length=200)

    class Meta:
        ordering = ["pk"]
        constraints = [
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
