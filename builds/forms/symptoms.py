"""The lists to look through, and the prompts on them, as an owner edits them."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Max

from builds.forms.base import BookForm, OnceForm
from builds.models import CausePrompt, Symptom

OWN_SOURCE = "the shop’s own"


class _SymptomName:
    """A form with the name of a list, which no two share, whatever their capitals."""

    instance: Symptom
    cleaned_data: dict[str, Any]

    def clean_name(self) -> str:
        """Refuse a name that another list has."""
        name: str = self.cleaned_data["name"]
        if Symptom.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(
                f"There is a list “{name}” already. Change that one, or name this one otherwise."
            )
        return name


class SymptomForm(_SymptomName, BookForm):
    """What is seen, and whether its list is offered."""

    class Meta:
        model = Symptom
        fields = ["name", "in_use"]
        labels = {"in_use": "offered on new findings"}
        help_texts = {"in_use": "What was answered from it stays as it is."}


class NewSymptomForm(_SymptomName, OnceForm):
    """A new list, at the end."""

    class Meta:
        model = Symptom
        fields = ["name"]
        help_texts = {"name": "What is seen on the engine: bent pushrod, lash opened up."}

    def save(self, commit: bool = True) -> Any:
        """Put it behind the others."""
        self.instance.order = (Symptom.objects.aggregate(last=Max("order"))["last"] or 0) + 1
        return super().save(commit=commit)


class _PromptText:
    """A form with a prompt, which stands once on its list."""

    instance: CausePrompt
    cleaned_data: dict[str, Any]

    def clean_text(self) -> str:
        """Refuse what stands on this list already."""
        text: str = self.cleaned_data["text"]
        others = CausePrompt.objects.filter(symptom=self.instance.symptom_id, text__iexact=text)
        if others.exclude(pk=self.instance.pk).exists():
            raise ValidationError("This stands on the list already. Change that one, or put it in use again.")
        return text


class PromptForm(_PromptText, BookForm):
    """What to look at, where that comes from, and whether it is asked."""

    class Meta:
        model = CausePrompt
        fields = ["text", "source", "in_use"]
        help_texts = {
            "text": "As a question that “it is so” or “it is not so” answers.",
            "source": "Common practice, a maker’s sheet with its date, the shop’s own.",
            "in_use": "What was answered before keeps the words it was asked in.",
        }


class NewPromptForm(_PromptText, OnceForm):
    """One thing more to look at, at the end of its list."""

    class Meta:
        model = CausePrompt
        fields = ["text", "source"]
        help_texts = PromptForm.Meta.help_texts

    def save(self, commit: bool = True) -> Any:
        """Put it behind the others of its list."""
        last = CausePrompt.objects.filter(symptom=self.instance.symptom_id).aggregate(last=Max("order"))[
            "last"
        ]
        self.instance.order = (last or 0) + 1
        return super().save(commit=commit)
