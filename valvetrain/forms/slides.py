"""The form for a stand that was slid so that its marks come to the middle."""

from typing import Any, ClassVar
from uuid import uuid4

from django import forms

from builds.forms.sentences import Sentences
from valvetrain.slides import LONGEST_NOTE, SlideEntry

STALE = "This page is too old to save from. Copy the values down, load it again, and type them there."
WAYS = [("", "say which way"), ("toward", "toward the valve"), ("away", "away from the valve")]


class SlideForm(Sentences, forms.Form):
    """How far a stand was slid, which way, and how much its holes were relieved, as typed."""

    template_fields: ClassVar = ("slide", "way", "relieved", "note")
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    sure = forms.BooleanField(label="It was slid, as typed", required=False)
    slide = forms.CharField(
        label="Slid along the pads",
        max_length=40,
        required=False,
        help_text="By dial or caliper, from its old place.",
    )
    way = forms.ChoiceField(
        label="Which way",
        choices=WAYS,
        error_messages={
            "required": "Which way: say toward the valve, or away from it.",
            "invalid_choice": STALE,
        },
    )
    relieved = forms.CharField(
        label="Holes relieved by",
        max_length=40,
        required=False,
        help_text="How much came away from each hole; empty when none did.",
    )
    note = forms.CharField(label="Note", max_length=LONGEST_NOTE, required=False)

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "slide_%s", **kwargs})
        self.unit = unit
        for name in ("slide", "relieved"):
            self.fields[name].widget.attrs |= {
                "inputmode": "decimal",
                "autocomplete": "off",
                "class": "measure",
            }
            self.fields[name].label = f"{self.fields[name].label}, {unit}"
        self.questioned = False
        for code in ("invalid", "required"):
            self.fields["client_id"].error_messages[code] = STALE

    @property
    def entry(self) -> SlideEntry:
        """What was typed, for the log."""
        typed = self.cleaned_data
        return SlideEntry(
            client_id=typed["client_id"], slide=typed["slide"], toward_valve=typed["way"] == "toward",
            relieved=typed["relieved"], unit=self.unit, note=typed["note"], sure=typed["sure"],
        )  # fmt: skip

    def question(self, sentence: str) -> None:
        """Ask whether a slide is meant: the tick appears that answers."""
        self.add_error("slide", sentence)
        self.questioned = True

    @property
    def shown(self) -> list[Any]:
        """The fields that a person sees."""
        names = (*self.template_fields, "sure") if self.questioned else self.template_fields
        return [self[name] for name in names]
