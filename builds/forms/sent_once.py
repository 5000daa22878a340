"""Plain forms that write one record however often they are sent: each carries the id that its record is made under."""

from collections.abc import Callable
from typing import Any, TypeVar
from uuid import UUID, uuid4

from django import forms
from django.db import IntegrityError

from builds.forms.entries import STALE_PAGE
from builds.forms.sentences import Sentences
from builds.refusals import Refused

AT_ONCE = "Somebody wrote the same at this very moment. Load the page again."

_Made = TypeVar("_Made")


class TellsOfHidden:
    """What is wrong with a field that nobody sees is said above the form."""

    fields: dict[str, Any]
    errors: Any
    add_error: Callable[..., None]

    def full_clean(self) -> None:
        """Clean as every form does, then move what was said of hidden fields."""
        super().full_clean()  # type: ignore[misc]
        for name in [each for each in self.errors if self._is_hidden(each)]:
            self.add_error(None, list(self.errors.pop(name)))

    def _is_hidden(self, name: str) -> bool:
        return name in self.fields and isinstance(self.fields[name].widget, forms.HiddenInput)


class WritingForm(TellsOfHidden, Sentences, forms.Form):
    """A form that the book writes from, or refuses with a sentence."""

    def written(self, write: Callable[[], _Made]) -> _Made | None:
        """What `write` makes of a form that is well filled in; None where it is refused, with the reason in the form."""
        if not self.is_valid():
            return None
        try:
            return write()
        except Refused as error:
            self.refuse(error)
        except IntegrityError:  # another tablet was a moment earlier
            self.add_error(None, AT_ONCE)
        return None


class SentOnce(WritingForm):
    """A form that carries the id of the one record that it writes."""

    client_id = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid4,
        error_messages={"required": STALE_PAGE, "invalid": STALE_PAGE},
    )

    @property
    def made_as(self) -> UUID:
        """The id that this form was given."""
        made_as: UUID = self.cleaned_data["client_id"]
        return made_as
