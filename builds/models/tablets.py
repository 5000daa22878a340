"""The bench's tablets: on one that an owner enrolled, people change places by PIN."""

from django.db import models
from django.utils import timezone

from builds.models.people import Person


class EnrolledTablet(models.Model):
    """One browser that an owner enrolled. It proves itself by a cookie, of which only the digest is kept."""

    name = models.CharField("name", max_length=60, help_text="As the shop calls it: bench by the door.")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    enrolled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    enrolled_at = models.DateTimeField(auto_now_add=True)
    last_opened_at = models.DateTimeField("a password was last given", null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)
    revoked_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )

    class Meta:
        ordering = ["-enrolled_at", "-pk"]

    def __str__(self) -> str:
        return self.name

    def revoke(self, person: Person) -> None:
        """Take the tablet off the list, once: everybody on it is logged out, and no PIN works there."""
        EnrolledTablet.objects.filter(pk=self.pk, revoked_at=None).update(
            revoked_at=timezone.now(), revoked_by=person
        )


class PinTries(models.Model):
    """How often in a row somebody's PIN was wrong on a tablet. A password on that tablet sets it back."""

    tablet = models.ForeignKey(EnrolledTablet, on_delete=models.CASCADE, related_name="pin_tries")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    wrong = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["tablet", "person"], name="pin_tries_once")]
        verbose_name_plural = "PIN tries"

    def __str__(self) -> str:
        return f"{self.person} on {self.tablet}: {self.wrong}"
