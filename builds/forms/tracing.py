"""What a part is traced by."""

from django import forms

from builds.forms.sentences import Sentences
from builds.models import TracedBy
from builds.part_numbers import kept_as, refused
from builds.tracing import ALL

LONGEST_NUMBER = 80


class TraceForm(Sentences, forms.Form):
    """A lot, a maker's number or a serial number; or whichever of them it is."""

    by = forms.ChoiceField(
        label="It is", choices=[(ALL, "any of these"), *TracedBy.choices], required=False,
        error_messages={"invalid_choice": "It is: choose lot, maker’s number or serial number, or any of these."},
    )  # fmt: skip
    q = forms.CharField(
        label="Number", max_length=LONGEST_NUMBER, required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
        help_text="As it stands on the part or its box. Capitals make no difference.",
    )  # fmt: skip

    def clean_by(self) -> str:
        """All three where nothing is chosen."""
        return self.cleaned_data["by"] or ALL

    def clean_q(self) -> str:
        """Refuse signs that nobody sees."""
        text: str = self.cleaned_data["q"]
        if sentence := refused("Number", text):
            raise forms.ValidationError(sentence)
        return kept_as(text)
