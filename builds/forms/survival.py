"""Of which parts it is asked how long they last, and counted in what."""

from typing import Any

from django import forms

from builds.forms.sentences import Sentences
from builds.forms.widgets import SuggestInput
from builds.models import COMMON_ROLES, RunUnit
from builds.part_numbers import kept_as, refused


class SurvivalForm(Sentences, forms.Form):
    """A kind of part, perhaps one maker's number of it, and the unit of running."""

    role = forms.CharField(label="What it is", max_length=60, widget=SuggestInput(COMMON_ROLES))
    maker_number = forms.CharField(
        label="Maker’s number", max_length=80, required=False, help_text="Left empty: all of the kind."
    )
    unit = forms.ChoiceField(
        label="Counted in", choices=RunUnit.choices, required=False,
        error_messages={"invalid_choice": "Counted in: choose passes, laps, hours, miles or kilometres."},
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Refuse signs that nobody sees; passes where no unit is chosen."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name in ("role", "maker_number"):
            text = cleaned.get(name) or ""
            if sentence := refused(str(self.fields[name].label).capitalize(), text):
                self.add_error(name, sentence)
            else:
                cleaned[name] = kept_as(text)
        cleaned["unit"] = cleaned.get("unit") or RunUnit.PASSES.value
        return cleaned
