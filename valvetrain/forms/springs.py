"""The forms of a spring sheet."""

from typing import Any

from django.core.exceptions import ValidationError

from builds.forms.base import BookForm, OnceForm
from valvetrain.models import SpringSheet

SHEET_FIELDS = ["name", "fits", "installed_height", "seat_load", "open_height", "open_load", "solid_height"]


class SpringSheetRules:
    """What both forms of a spring sheet check."""

    instance: SpringSheet
    cleaned_data: dict[str, Any]

    def clean_fits(self) -> str:
        """One sheet for one kind of valve."""
        fits: str = self.cleaned_data["fits"]
        others = SpringSheet.objects.filter(build=self.instance.build_id, fits=fits)
        if others.exclude(pk=self.instance.pk).exists():
            raise ValidationError("This job has a spring sheet for these valves already. Change that one.")
        return fits


class SpringSheetForm(SpringSheetRules, BookForm):
    """The spring sheet of a job."""

    class Meta:
        model = SpringSheet
        fields = SHEET_FIELDS


class NewSpringSheetForm(SpringSheetRules, OnceForm):
    """A spring sheet that is new on a job."""

    class Meta:
        model = SpringSheet
        fields = SHEET_FIELDS
