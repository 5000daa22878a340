"""The forms for one thickness of shim in the drawer: a new one, and counting one again."""

from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.utils import timezone

from builds.forms.base import BookForm, OnceForm
from builds.tracking import as_one_edit
from valvetrain.models import ShimStock

ERROR_MESSAGES: dict[str, Any] = {
    NON_FIELD_ERRORS: {
        "unique_together": "This shim is in the drawer already. Change how many pieces there are of it instead."
    }
}


class KeepsAtLeast:
    """A form in which the least number to keep may be left empty: then nothing is told."""

    fields: dict[str, forms.Field]
    cleaned_data: dict[str, Any]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["least"].required = False

    def clean_least(self) -> int:
        """Nothing typed is none."""
        return int(self.cleaned_data["least"] or 0)


class ShimForm(KeepsAtLeast, BookForm):
    """One thickness of shim; its pieces only when somebody has counted them."""

    count = forms.IntegerField(
        label="pieces, as counted now",
        required=False,
        min_value=0,
        max_value=29_999,
        help_text="Leave it empty when you did not count.",
    )

    class Meta:
        model = ShimStock
        fields = ["thickness", "least", "material", "fits"]
        error_messages = ERROR_MESSAGES

    field_order = ["thickness", "count"]

    @as_one_edit()
    def save(self, commit: bool = True) -> ShimStock:
        """Write what changed; a count holds from this moment, and what was fitted before it is in it already."""
        shim: ShimStock = super().save(commit=commit)
        counted = self.cleaned_data["count"]
        if counted is not None:
            shim.count, shim.counted_at = counted, timezone.now()
            shim.save(update_fields=["count", "counted_at"])
        return shim


class NewShimForm(KeepsAtLeast, OnceForm):
    """A thickness that is new in the drawer."""

    class Meta:
        model = ShimStock
        fields = ["thickness", "count", "least", "material", "fits"]
        error_messages = ERROR_MESSAGES
