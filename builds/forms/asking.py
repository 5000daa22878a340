"""Forms that ask back: a dimension outside its usual range is written once the person says that it is meant."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.forms.fields import MeasureFormField
from builds.measures import parse
from builds.plausible import question


class AsksBack:
    """A form that asks about what a person can hardly have meant: millimetres typed as inches, a bolt of no size."""

    fields: dict[str, forms.Field]
    cleaned_data: dict[str, Any]
    data: Mapping[str, str]

    def _clean_fields(self) -> None:
        super()._clean_fields()  # type: ignore[misc]
        for name, field in self.fields.items():
            if isinstance(field, MeasureFormField) and field.plausible and name in self.cleaned_data:
                self._ask(name, field)

    def _ask(self, name: str, field: MeasureFormField) -> None:
        """Ask about one value. The tick holds what it was given for: another value is asked about anew."""
        form: Any = self
        value, (low, high) = self.cleaned_data[name], field.plausible or (None, None)
        if value is None or low is None or high is None or low <= value <= high:
            return
        if name not in form.changed_data or self._is_refused(name, value):
            return
        key = form.add_prefix(name)
        typed = self.data.get(key, "").strip()
        field.asks, field.meant = typed, self.data.get(f"{key}-meant") == typed
        if not field.meant:
            measure = parse(typed, kind=field.unit_kind, unit=field.unit, signed=field.signed)
            sentence = question(str(field.label), measure, low, high, kind=field.unit_kind, unit=field.unit)
            form.add_error(name, ValidationError(sentence, code="unusual"))

    def _is_refused(self, name: str, value: Any) -> bool:
        """Whether the record's own rules refuse a value for good; then there is nothing to ask."""
        form: Any = self
        for rule in form._rules_of(name):
            try:
                rule(value)
            except ValidationError:
                return True
        return False
