"""The people of the shop."""

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.core.exceptions import ValidationError
from django.db import models, transaction

from builds.tracking import History, Tracked, TrackedQuerySet


class LengthUnit(models.TextChoices):
    """The unit in which a person reads and types lengths."""

    INCH = "in", "inch"
    MILLIMETRE = "mm", "millimetre"


class WorksAs(models.TextChoices):
    """What a person does here. Who is an owner stands in `is_superuser`, and is that before anything else."""

    BUILDER = "builder", "builder"
    OFFICE = "office", "office"


class PersonManager(UserManager["Person"]):
    """Makes people. An owner checks what others measured, unless that is switched off."""

    def get_queryset(self) -> TrackedQuerySet["Person"]:
        """People, each edit of whom is kept."""
        return TrackedQuerySet(self.model, using=self._db)

    def create_superuser(
        self, username: str, email: str | None = None, password: str | None = None, **extra_fields: Any
    ) -> "Person":
        """Make an owner."""
        return super().create_superuser(username, email, password, **{"may_check": True, **extra_fields})


class Person(Tracked, AbstractUser):
    """Somebody who works in this book. Deactivated when they leave, never deleted: records name them."""

    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    name = models.CharField("full name", max_length=120)
    length_unit = models.CharField(
        "reads lengths in", max_length=2, choices=LengthUnit.choices, default=LengthUnit.INCH
    )
    role = models.CharField("works here as", max_length=10, choices=WorksAs.choices, default=WorksAs.BUILDER)
    may_check = models.BooleanField("checks what others measured, and signs second", default=False)
    pin = models.CharField("hash of the PIN for the bench", max_length=128, blank=True, editable=False)

    objects: ClassVar[PersonManager] = PersonManager()  # type: ignore[assignment]
    # Secrets are in no history, not even as hashes; a log-in is no edit.
    history = History(leaves_out=["password", "pin", "last_login"])

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

    @property
    def is_owner(self) -> bool:
        """Whether this person may change the shop: its people, limits and letterhead."""
        return self.is_superuser and self.is_active

    @property
    def works_as(self) -> str:
        """Owner, builder or office, in one word."""
        return "owner" if self.is_superuser else self.role

    def is_last_owner(self) -> bool:
        """Whether nobody else could open the shop's pages if this person left."""
        others = Person.objects.filter(is_superuser=True, is_active=True).exclude(pk=self.pk)
        return self.is_owner and not others.exists()

    @transaction.atomic
    def switch_active(self, active: bool) -> None:
        """Open the book to this person, or close it. Records keep the name; the last owner stays."""
        if not active and self.is_last_owner():
            raise ValidationError(f"{self} is the only owner. Make somebody else an owner first.")
        self.is_active = active
        self.save(update_fields=["is_active"])
