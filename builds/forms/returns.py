"""That an engine came back: when, what happened, how it ran, and the number of the job that reads it as found."""

from typing import Any

from django import forms

from builds.forms.base import BookForm, OnceForm
from builds.forms.seen import SeenMixin
from builds.looks import LookRefused, change_return, open_return
from builds.models import Build, Person, Return

RETURN_FIELDS = ["came_back_on", "complaint", "how_it_ran"]
LABELS = {"came_back_on": "Came back on"}
HELP_TEXTS = {
    "came_back_on": "The day it stood in the shop again.",
    "how_it_ran": "What it did before that: where, how hard, what was changed on it, what was heard first.",
}


class NewReturnForm(OnceForm):
    """The return of an engine that is out."""

    job_number = forms.CharField(
        label="Job number", max_length=30, required=False,
        help_text="Of the job that reads it as found. The next free one is filled in.",
    )  # fmt: skip

    class Meta:
        model = Return
        fields = RETURN_FIELDS
        labels = LABELS
        help_texts = HELP_TEXTS

    def __init__(self, *args: Any, job: Build, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job, self.person = job, person

    def save(self, commit: bool = True) -> Return:
        """Open the return with its job."""
        typed = {name: self.cleaned_data[name] for name in (*RETURN_FIELDS, "job_number")}
        return open_return(self.job, self.person, **typed)


class ReturnForm(SeenMixin, BookForm):
    """What is written of a return."""

    class Meta:
        model = Return
        fields = RETURN_FIELDS
        labels = LABELS
        help_texts = HELP_TEXTS

    def change(self) -> bool:
        """Write what was typed; whether it could be."""
        if not self.is_valid():
            return False
        try:
            change_return(self.instance, **{name: self.cleaned_data[name] for name in RETURN_FIELDS})
        except LookRefused as refused:
            self.refuse(refused)
            return False
        return True
