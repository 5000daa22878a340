"""Inputs that the book adds to Django's."""

from collections.abc import Sequence
from typing import Any

from django import forms


class SuggestInput(forms.TextInput):
    """A text input that offers common words while typing, and takes any other."""

    template_name = "builds/fields/suggest.html"

    def __init__(self, words: Sequence[str], attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs)
        self.words = words

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Name the list of words, and hand it over."""
        list_id = f"{(attrs or {}).get('id', name)}_words"
        context = super().get_context(name, value, {**(attrs or {}), "list": list_id})
        context["widget"] |= {"words": self.words, "list_id": list_id}
        return context
