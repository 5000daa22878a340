"""What every form of the book does: answers in sentences, saves only what changed, and makes nothing twice."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError

from builds.forms.asking import AsksBack
from builds.forms.fields import PersonUnitsMixin
from builds.forms.sentences import Sentences
from builds.once import made_before, made_once
from builds.refusals import Refused

# Django cannot take type arguments for this where the book runs.
if TYPE_CHECKING:
    RecordForm = forms.ModelForm[Any]
else:
    RecordForm = forms.ModelForm

NOT_TOGETHER = "These values can’t stand beside one another. Look at each of them again."


class BookForm(AsksBack, Sentences, PersonUnitsMixin, RecordForm):
    """A form for one record. Lengths are typed in the `unit` of the person at the keyboard."""

    def _rules_of(self, name: str) -> Iterable[Any]:
        # A field that the form adds to the record's own has no such rules.
        return self._meta.model._meta.get_field(name).validators if name in (self._meta.fields or ()) else ()

    def _update_errors(self, errors: ValidationError) -> None:
        """Take the record's own refusals in. The database's rules have a name only: what breaks one is said already."""
        found = getattr(errors, "error_dict", {})
        if NON_FIELD_ERRORS in found:
            named = {rule.get_violation_error_message() for rule in self._meta.model._meta.constraints}
            told = [error for error in found.pop(NON_FIELD_ERRORS) if error.message not in named]
            if told or not found:
                found[NON_FIELD_ERRORS] = told or [ValidationError(NOT_TOGETHER)]
        super()._update_errors(errors)  # type: ignore[misc]

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
        """Make the record and return it, or the one that this form made before; None when it is refused."""
        model, token = self._meta.model, _as_token(self.data.get(self.add_prefix("form_token"), ""))
        made = made_before(model, token)
        if made is not None or not self.is_valid():
            return made
        try:
            return made_once(model, token, self.save)[0]
        except Refused as error:
            self.refuse(error)
        except IntegrityError:
            # Another form took the same number.
            self.add_error(
                None, "Somebody saved the same at this very moment. Look at the list, then send it again."
            )
        return None


def _as_token(text: str) -> UUID:
    """The form's own token; a fresh one where the form came without."""
    try:
        return UUID(text)
    except ValueError:
        return uuid4()
