"""Recalls: begun, changed, closed; marks on their list, and marks that were an error."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from builds.forms.base import BookForm, OnceForm
from builds.forms.sent_once import SentOnce
from builds.models import Person, Recall, RecallLine, RecallMark, RecallStep
from builds.recalling import DEFAULT_ADVICE, ListedPart, begin, mark, strike_out

LONGEST_NOTE = 200


class RecallForm(OnceForm):
    """A recall that is begun."""

    class Meta:
        model = Recall
        fields = ["reason", "advice", "opened_on"]

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        self.fields["advice"].initial = self.initial["advice"] = DEFAULT_ADVICE

    def clean_opened_on(self) -> Any:
        """Not in days to come."""
        return _not_to_come(self.cleaned_data["opened_on"], "begun")

    def save(self, commit: bool = True) -> Recall:
        """Write it with its lines."""
        return begin(super().save(commit=False), self.person)


class RecallEditForm(BookForm):
    """What stands in the letters of a recall."""

    class Meta:
        model = Recall
        fields = ["reason", "advice"]


def _not_to_come(day: Any, what: str) -> Any:
    if day > timezone.localdate():
        raise ValidationError(
            f"{day:%d %b %Y} is still to come, so it cannot have been {what} then. Use today or before."
        )
    return day


class CloseForm(BookForm):
    """The day on which a recall was closed."""

    closed_on = forms.DateField(label="Closed on", initial=timezone.localdate)

    class Meta:
        model = Recall
        fields: list[str] = []

    def clean_closed_on(self) -> Any:
        """Neither before it was begun nor in days to come."""
        day = _not_to_come(self.cleaned_data["closed_on"], "closed")
        if day < self.instance.opened_on:
            raise ValidationError(
                f"{day:%d %b %Y} is before it was begun, {self.instance.opened_on:%d %b %Y}. Use that day or a later one."
            )
        return day

    def save(self, commit: bool = True) -> Recall:
        """Close it; once."""
        if self.instance.closed_on is None:
            self.instance.closed_on = self.cleaned_data["closed_on"]
            self.instance.save(update_fields=["closed_on"])
        recall: Recall = self.instance
        return recall


class MarkForm(SentOnce):
    """That something was done about an engine: told, checked or replaced."""

    step = forms.ChoiceField(label="What was done", choices=RecallStep.choices)
    lines = forms.MultipleChoiceField(label="About which part", widget=forms.CheckboxSelectMultiple)
    done_on = forms.DateField(label="On", initial=timezone.localdate)
    note = forms.CharField(
        label="Note", max_length=LONGEST_NOTE, required=False,
        help_text="Whom you spoke to and how; what the check showed; what went in instead.",
    )  # fmt: skip

    def __init__(
        self, *args: Any, recall: Recall, parts: list[ListedPart], person: Person, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.recall, self.person = recall, person
        self.parts = {str(part.line.pk): part for part in parts}
        lines = self.fields["lines"]
        assert isinstance(lines, forms.MultipleChoiceField)
        lines.choices = [(key, _called(part)) for key, part in self.parts.items()]
        lines.initial = list(self.parts)
        lines.error_messages["required"] = "About which part: nothing is ticked. Tick one at least."
        lines.error_messages["invalid_choice"] = (
            "About which part: one of these is not on the list of this engine any more. Load the page again."
        )

    def write(self) -> list[RecallMark] | None:
        """Note it; None when it is refused."""
        return self.written(self._mark)

    def _mark(self) -> list[RecallMark]:
        chosen: list[RecallLine] = [self.parts[key].line for key in self.cleaned_data["lines"]]
        return mark(
            self.recall, chosen[0].part.build.engine, self.person, lines=chosen, step=self.cleaned_data["step"],
            done_on=self.cleaned_data["done_on"], note=self.cleaned_data["note"], client_id=self.made_as,
        )  # fmt: skip


def _called(part: ListedPart) -> str:
    return f"{part.line.part}, job {part.trace.job}: {part.trace.word}"


class StrikeForm(SentOnce):
    """Why a mark was an error."""

    note = forms.CharField(label="Why it was an error", max_length=LONGEST_NOTE)

    def __init__(self, *args: Any, made: RecallMark, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.made, self.person = made, person

    def write(self) -> RecallMark | None:
        """Strike the mark out; None when that is refused."""
        return self.written(
            lambda: strike_out(self.made, self.person, why=self.cleaned_data["note"], client_id=self.made_as)
        )
