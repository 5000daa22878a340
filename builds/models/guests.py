"""Links by which a customer looks at one job."""

from datetime import date, timedelta

from django.db import models
from django.utils import timezone

from builds.models.jobs import Build
from builds.models.people import Person

USUAL_DAYS, MOST_DAYS = 30, 365


def usual_last_day() -> date:
    """The day to which a link is open when nothing else is said."""
    return timezone.localdate() + timedelta(days=USUAL_DAYS)


class GuestLink(models.Model):
    """One link to one job: to be read, and to tell from the track where it says so. Only its address's digest is kept."""

    build = models.ForeignKey(Build, on_delete=models.PROTECT, related_name="guest_links")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    name = models.CharField("for whom", max_length=80)
    last_day = models.DateField("open up to and with", default=usual_last_day)
    shows_photos = models.BooleanField("shows the photos of the job", default=False)
    takes_running = models.BooleanField("takes running and lash from the track", default=False)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    last_used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)
    revoked_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, editable=False
    )

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"link for {self.name}"

    @property
    def is_over(self) -> bool:
        """Whether the last day has gone by."""
        return timezone.localdate() > self.last_day

    @property
    def is_live(self) -> bool:
        """Whether the link still opens its job."""
        return self.revoked_at is None and not self.is_over

    @property
    def state_words(self) -> str:
        """Open, over or revoked, in words."""
        if self.revoked_at is not None:
            return f"revoked on {timezone.localtime(self.revoked_at):%d %b %Y}"
        return "over" if self.is_over else "open"

    @property
    def ended_sentence(self) -> str:
        """Why it opens nothing any more, for the one who holds it."""
        if self.revoked_at is not None:
            return "The shop has closed this link. Ask the shop for a new one."
        return f"This link was open up to {self.last_day:%d %b %Y}. Ask the shop for a new one."

    def revoke(self, person: Person) -> None:
        """Close it, once; the first who did stays named."""
        GuestLink.objects.filter(pk=self.pk, revoked_at=None).update(
            revoked_at=timezone.now(), revoked_by=person
        )
