"""What every form of the book does: answers in sentences, saves only what changed, and makes nothing twice."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django import forms
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator
from django.db import IntegrityError, models, transaction

from builds.forms.fields import PersonUnitsMixin
from builds.models import FormSent

# Django cannot take type arguments for these where the book runs.
if TYPE_CHECKING:
    RecordForm = forms.ModelForm[Any]
    InlineRows = forms.BaseInlineFormSet[Any, Any, Any]
else:
    RecordForm, InlineRows = forms.ModelForm, forms.BaseInlineFormSet

LONGEST_NOTE = 4000
# The largest number that a column holds is not worth saying.
DATABASE_LIMIT = 30_000


class Sentences:
    """A form whose fields say, by their own name, what was wrong and what would be right."""

    fields: dict[str, forms.Field]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        for name, field in self.fields.items():
            label = str(field.label or name.replace("_", " ")).capitalize()
            field.error_messages |= {"required": f"{label}: nothing is filled in. It is needed here."}
            if isinstance(field, forms.DateField):
                _teach_date(field, label)
            elif isinstance(field, forms.IntegerField):
                _teach_whole_number(field, label, *self._range_of(name, field))
            elif isinstance(field, forms.EmailField):
                field.error_messages["invalid"] = (
                    f"{label}: that is not an address. Type it like name@example.com."
                )
            if isinstance(field, forms.CharField):
                _teach_length(field, label)

    def _range_of(self, name: str, field: forms.IntegerField) -> tuple[int, int | None]:
        """The smallest and the largest whole number that fits a field."""
        return _end(field.min_value) or 0, _end(field.max_value)


def _end(limit: int | Callable[[], int] | None) -> int | None:
    """One end of a range, which Django also takes as something to call."""
    return limit() if callable(limit) else limit


def _teach_date(field: forms.DateField, label: str) -> None:
    field.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date", **field.widget.attrs})
    field.error_messages["invalid"] = f"{label}: that is not a date. Pick one, or type it like 2026-11-25."


def _teach_whole_number(field: forms.IntegerField, label: str, low: int, high: int | None) -> None:
    # A text field with a number pad: scrolling over type=number changes the value.
    field.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    right = f"a whole number from {low} to {high}" if high is not None else f"a whole number, {low} or more"
    for code in ("invalid", "min_value", "max_value"):
        field.error_messages[code] = f"{label}: type {right}."


def _teach_length(field: forms.CharField, label: str) -> None:
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs["rows"] = 3
        if field.max_length is None:
            field.validators.append(MaxLengthValidator(LONGEST_NOTE))
    field.error_messages["max_length"] = (
        f"{label}: this has %(show_value)d characters, and there is room for %(limit_value)d. Say it shorter."
    )


class BookForm(Sentences, PersonUnitsMixin, RecordForm):
    """A form for one record. Lengths are typed in the `unit` of the person at the keyboard."""

    def _range_of(self, name: str, field: forms.IntegerField) -> tuple[int, int | None]:
        low, high = super()._range_of(name, field)
        # A field that the form adds to the record's own has no such limits.
        validators = (
            self._meta.model._meta.get_field(name).validators if name in (self._meta.fields or ()) else []
        )
        lows = [check.limit_value for check in validators if isinstance(check, MinValueValidator)]
        highs = [check.limit_value for check in validators if isinstance(check, MaxValueValidator)]
        high = min([end for end in (high, *highs) if end is not None], default=None)
        return max([low, *lows]), high if high is not None and high < DATABASE_LIMIT else None

    def save(self, commit: bool = True) -> Any:
        """Write the record; of one that exists, only the fields that changed."""
        if not commit or self.instance._state.adding:
            return super().save(commit=commit)
        changed = [name for name in self.changed_data if name in (self._meta.fields or ())]
        if changed:
            self.instance.save(update_fields=changed)
        return self.instance


class OnceForm(BookForm):
    """A form that makes a new record, and makes it once however often it is sent."""

    form_token = forms.CharField(widget=forms.HiddenInput, required=False, initial=uuid4, max_length=40)

    def save_once(self) -> Any:
        """Make the record and return it, or the one that this form made before; None when the form is refused."""
        token = _as_token(self.data.get(self.add_prefix("form_token"), ""))
        made = self._made_before(token)
        if made is not None:
            return made
        if not self.is_valid():
            return None
        try:
            with transaction.atomic():
                record = self.save()
                FormSent.objects.create(token=token, made=record._meta.label, made_pk=record.pk)
        except IntegrityError:
            # The same form, sent a second time, was a moment earlier; or another form took the same number.
            made = self._made_before(token)
            if made is None:
                self.add_error(
                    None, "Somebody saved the same at this very moment. Look at the list, then send it again."
                )
            return made
        return record

    def _made_before(self, token: UUID) -> models.Model | None:
        model = self._meta.model
        sent = FormSent.objects.filter(token=token, made=model._meta.label).first()
        return sent and model.objects.filter(pk=sent.made_pk).first()


def _as_token(text: str) -> UUID:
    """The form's own token; a fresh one where the form came without."""
    try:
        return UUID(text)
    except ValueError:
        return uuid4()
