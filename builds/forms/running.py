"""What is written into a running record: how far an engine ran, what was wrong with an entry, and a check of it."""

from typing import Any

from django import forms
from django.utils import timezone

from builds.forms.base import OnceForm
from builds.forms.sent_once import SentOnce
from builds.forms.widgets import SuggestInput
from builds.looks import open_check
from builds.models import Build, GuestLink, Person, RunEntry, RunUnit, StatedAs
from builds.run_entries import add_entry, strike_out

CHECK_WORDS = (
    "lash check",
    "lash and spring check",
    "after the first heat",
    "after a missed shift",
    "in the off season",
)


class RunForm(SentOnce):
    """So much running, on a day."""

    ran_on = forms.DateField(label="Ran on")
    text = forms.CharField(
        label="How much",
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={"required": "How much: type a number such as 6."},
    )
    unit = forms.ChoiceField(label="Counted in", choices=RunUnit.choices)
    stated_as = forms.ChoiceField(label="Meant", choices=StatedAs.choices)
    note = forms.CharField(label="Note", required=False, max_length=200)
    told_by = forms.CharField(label="Told by", required=False, max_length=80)

    def write(
        self, job: Build, *, person: Person | None = None, via: GuestLink | None = None, **more: Any
    ) -> RunEntry | None:
        """Write the entry; None when it is refused."""
        return self.written(
            lambda: add_entry(job, person=person, via=via, **{**self.cleaned_data, **more})[0]
        )


class TrackRunForm(RunForm):
    """The same as a guest fills it in."""

    told_by = forms.CharField(label="Your name", required=False, max_length=80)


class RunCorrectionForm(RunForm):
    """What an entry should have said, and why it did not."""

    reason = forms.CharField(label="Why", max_length=200, help_text="Typed wrong, told again, another day …")

    @staticmethod
    def first(entry: RunEntry) -> dict[str, Any]:
        """What it is filled in with: all that the old entry says."""
        return {
            "ran_on": entry.ran_on, "text": entry.text, "unit": entry.unit, "stated_as": entry.stated_as,
            "note": entry.note, "told_by": entry.told_by,
        }  # fmt: skip


class RunStrikeForm(SentOnce):
    """Why an entry is taken back."""

    reason = forms.CharField(label="Why", max_length=200, help_text="Another engine’s, told twice …")

    def write(self, job: Build, entry: RunEntry, person: Person) -> RunEntry | None:
        """Strike the entry out; None when that is refused."""
        return self.written(lambda: strike_out(job, entry=entry, person=person, **self.cleaned_data)[0])


class CheckForm(OnceForm):
    """A check of an engine that is out: on which day, and what it is."""

    read_on = forms.DateField(label="Read on", initial=timezone.localdate)

    class Meta:
        model = Build
        fields = ["title"]
        labels = {"title": "What it is"}
        help_texts = {"title": "Such as lash check. Empty: the checks of a job are counted up."}
        widgets = {"title": SuggestInput(CHECK_WORDS)}

    field_order = ["read_on", "title"]

    def __init__(self, *args: Any, job: Build, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, instance=Build(engine=job.engine), **kwargs)
        self.job, self.person = job, person

    def save(self, commit: bool = True) -> Build:
        """Open the check, with all that stands on the engine carried over to it."""
        data = self.cleaned_data
        return open_check(self.job, self.person, read_on=data["read_on"], title=data["title"])
