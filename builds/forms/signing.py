"""What is sent when a sheet is put up, accepted, signed. Plain forms: the rules stand in `builds.sealing`."""

import json
from datetime import datetime
from typing import Any

from django import forms

from builds.forms.sentences import Sentences
from builds.models import LengthUnit, PaperSize
from builds.sealing.rules import MOST_STROKES, Mark

PAD = {"width": 360, "height": 120}  # where a typed name stands instead of a drawing
NOT_WHOLE = "This page did not arrive whole. Load it again, then send it."


class _SentForm(Sentences, forms.Form):
    """Something sent once, with an id that its page was given."""

    client_id = forms.UUIDField(
        widget=forms.HiddenInput, error_messages=dict.fromkeys(("required", "invalid"), NOT_WHOLE)
    )

    @property
    def sentences(self) -> list[str]:
        """All that was wrong, where it stands beside no field."""
        shown = {field.html_name for field in self.visible_fields()}
        return [str(error) for name, errors in self.errors.items() if name not in shown for error in errors]


class BeginForm(_SentForm):
    """A sheet that is put up for signing: in which unit, for which paper, and why, where it is a revision."""

    unit = forms.ChoiceField(label="Lengths in", choices=LengthUnit.choices)
    paper = forms.ChoiceField(label="Paper", choices=PaperSize.choices)
    reason = forms.CharField(
        label="Why it is revised",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Printed on the new sheet. The old one stays, marked as superseded.",
    )

    def __init__(self, *args: Any, revises: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not revises:
            del self.fields["reason"]


class AcceptForm(_SentForm):
    """Items that somebody accepts by name, all for one reason."""

    item = forms.MultipleChoiceField(
        label="What is accepted",
        error_messages={
            "required": "Nothing is ticked. Tick what you accept.",
            "invalid_choice": "Something changed since this page was shown. Look at the list again, then tick it.",
        },
    )
    reason = forms.CharField(label="Why", required=False, max_length=1000)

    def __init__(self, *args: Any, marks: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].choices = [(mark, mark) for mark in marks]  # type: ignore[attr-defined]

    @property
    def sentences(self) -> list[str]:
        """All that was wrong; the page shows no field of this form by itself."""
        return [str(error) for errors in self.errors.values() for error in errors]


class SignForm(_SentForm):
    """A signature: drawn, or the name typed in its place; the name, and the secret once more."""

    signing = forms.CharField(
        widget=forms.HiddenInput,
        max_length=20,
        error_messages=dict.fromkeys(("required", "max_length"), NOT_WHOLE),
    )
    seen_digest = forms.CharField(
        widget=forms.HiddenInput,
        max_length=64,
        error_messages=dict.fromkeys(("required", "max_length"), NOT_WHOLE),
    )
    strokes = forms.CharField(widget=forms.HiddenInput, required=False, max_length=2 * MOST_STROKES)
    typed = forms.BooleanField(
        label="I cannot draw here: my typed name stands for my signature, and the sheet says so.",
        required=False,
    )
    typed_name = forms.CharField(
        label="Your full name",
        max_length=120,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "words", "spellcheck": "false"}
        ),
        error_messages={"required": "Type your name, as the book has it."},
    )
    secret = forms.CharField(
        label="Your password once more",
        required=False,
        max_length=128,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )

    def mark(self, at: datetime) -> Mark:
        """What goes under the sheet."""
        given = self.cleaned_data
        strokes = given["strokes"]
        if given["typed"]:
            strokes = json.dumps({**PAD, "strokes": [], "typed": given["typed_name"]})
        return Mark(given["client_id"], given["typed_name"], strokes, given["seen_digest"], at)
