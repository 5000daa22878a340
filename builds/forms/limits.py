"""The form of a limit that a job sets for itself."""

from typing import Any

from builds.forms.base import BookForm
from builds.forms.fields import MeasureFormField
from builds.forms.widgets import SuggestInput
from builds.measures import unit_for
from builds.models import Limit

SOURCES = ("customer's spec", "maker's sheet", "engine maker's manual", "rules of the class")
SIGNED_KINDS = ("length", "angle", "volume")


class JobLimitForm(BookForm):
    """One job's own limit: its ends in its own kind of unit, and whose figures they are."""

    class Meta:
        model = Limit
        fields = ["low", "high", "source"]
        help_texts = {
            "source": "Whose figures these are, with the paper and its date. It is printed on the sheet."
        }

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, unit=unit, **kwargs)
        kind = self.instance.unit_kind
        for name in ("low", "high"):
            field = MeasureFormField(
                unit_kind=kind, signed=kind in SIGNED_KINDS, required=False, label=self.fields[name].label
            )
            field.use_unit(unit_for(kind, unit))
            self.fields[name] = field
        self.fields["source"].widget = SuggestInput(SOURCES, attrs={"maxlength": "200"})
        self.fields["source"].error_messages["required"] = (
            "Where it comes from: nothing is filled in. Name it: customer’s spec, maker’s sheet with its date."
        )
