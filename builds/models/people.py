"""The people of the shop."""

from django.contrib.auth.models import AbstractUser
from django.db import models


class LengthUnit(models.TextChoices):
    """The unit in which a person reads and types lengths."""

    INCH = "in", "inch"
    MILLIMETRE = "mm", "millimetre"


class Person(AbstractUser):
    """Somebody who works in this book. Deactivated when they leave, never deleted: records name them."""

    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    name = models.CharField("full name", max_length=120)
    length_unit = models.CharField(
        "reads lengths in", max_length=2, choices=LengthUnit.choices, default=LengthUnit.INCH
    )

    REQUIRED_FIELDS = ["name"]

    class Meta:
        verbose_name_plural = "people"
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name or self.username

    def get_full_name(self) -> str:
        """The name as it stands on a sheet."""
        return self.name

    def get_short_name(self) -> str:
        """The first word of the name, for the bench."""
        return self.name.split(" ")[0]
