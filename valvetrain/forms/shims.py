"""The form for one thickness of shim in the drawer."""

from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS

from builds.forms.base import BookForm, OnceForm
from valvetrain.models import ShimStock


class ShimForm(BookForm):
    """One thickness of shim and how many pieces there are."""

    class Meta:
        model = ShimStock
        fields = ["thickness", "count", "material", "fits"]
        error_messages: dict[str, Any] = {
            NON_FIELD_ERRORS: {
                "unique_together": "This shim is in the drawer already. Change how many pieces there are of it instead."
            }
        }


class NewShimForm(OnceForm):
    """A thickness that is new in the drawer."""

    class Meta(ShimForm.Meta):
        pass
