"""A link by which a customer looks at one job."""

from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from builds.forms.base import OnceForm
from builds.guests import new_token
from builds.models import GuestLink
from builds.models.guests import MOST_DAYS


class GuestLinkForm(OnceForm):
    """A new link. Its address is known here alone, and only once."""

    token = ""
    # The form's own rule is narrower, and says so in its own words.
    years_ahead = {"last_day": 5}

    class Meta:
        model = GuestLink
        fields = ["name", "last_day", "shows_photos", "takes_running"]
        help_texts = {
            "name": "Who gets it: the customer, their crew chief.",
            "last_day": f"At most {MOST_DAYS} days from today.",
            "shows_photos": "Sealed sheets are shown whole either way, with the pictures that are printed in them.",
            "takes_running": "Whoever has the link may write how far the engine ran, straight into its running record, "
            "and tell what lash they read: that waits until somebody here takes it over.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.instance.build.keeps_running:
            del self.fields["takes_running"]  # an engine that is on the bench runs nowhere

    def clean_last_day(self) -> date:
        """Refuse a day that is over, and one too far ahead."""
        day: date = self.cleaned_data["last_day"]
        today = timezone.localdate()
        last = today + timedelta(days=MOST_DAYS)
        if day < today:
            raise ValidationError(f"{day:%d %b %Y} is over. Choose today or a later day.")
        if day > last:
            raise ValidationError(
                f"A link is open for {MOST_DAYS} days at most. Choose a day up to {last:%d %b %Y}."
            )
        return day

    def save(self, commit: bool = True) -> GuestLink:
        """Write the link with the digest of a token made here."""
        self.token, self.instance.digest = new_token()
        link: GuestLink = super().save(commit=commit)
        return link
