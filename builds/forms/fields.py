"""The form field that reads a dimension, and its widget."""

from decimal import Decimal
from typing import Any

from django import forms

from builds.measures import BASE_UNIT, MeasureError, for_field, parse, unit_for


class MeasureInput(forms.TextInput):
    """A text input with a decimal keypad. Never type=number: scrolling over that changes the value."""

    template_name = "builds/fields/measure.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", "class": "measure", **(attrs or {})})
        self.unit, self.signed, self.drawing = "in", False, ""

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the unit, the ± key and the drawing."""
        context = super().get_context(name, value, attrs)
        context["widget"] |= {"unit": self.unit, "signed": self.signed, "drawing": self.drawing}
        return context

    def format_value(self, value: Any) -> str | None:
        """A kept value in the person's unit; typed text as it was typed."""
        return for_field(value, self.unit) if isinstance(value, Decimal) else value


class MeasureFormField(forms.Field):
    """Reads `0.025`, `1/32`, `0.6 mm` into a decimal in the base unit. `unit` is what is meant when none is typed.

    `plausible` is the usual range [base unit]. A value outside it is asked about: then `asks` holds what was typed, for
    the tick beside the field, and `meant` whether that is ticked already.
    """

    widget = MeasureInput
    asks = ""
    meant = False

    def __init__(
        self,
        *,
        unit_kind: str = "length",
        signed: bool = False,
        drawing: str = "",
        plausible: tuple[Decimal, Decimal] | None = None,
        **kwargs: Any,
    ) -> None:
        self.unit_kind, self.signed, self.plausible = unit_kind, signed, plausible
        super().__init__(**kwargs)
        self.widget.signed, self.widget.drawing = signed, drawing
        self.use_unit(BASE_UNIT[unit_kind])

    def __deepcopy__(self, memo: dict[int, Any]) -> "MeasureFormField":
        copy: MeasureFormField = super().__deepcopy__(memo)
        copy.widget.unit = copy.unit
        return copy

    def use_unit(self, unit: str) -> None:
        """Take and show values in this unit."""
        self.unit = unit
        self.widget.unit = unit

    def to_python(self, value: Any) -> Decimal | None:
        """Read the typed text; a sentence when it cannot be read."""
        if value in self.empty_values or not str(value).strip():
            return None
        try:
            return parse(str(value), kind=self.unit_kind, unit=self.unit, signed=self.signed).base.quantize(
                Decimal("1e-10")
            )
        except MeasureError as error:
            offer = f" Did you mean {' or '.join(error.offers)}?" if error.offers else ""
            where = f"{self.label}: " if self.label else ""
            raise forms.ValidationError(f"{where}{error.sentence}{offer}", code="invalid") from None

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare as values, so that 0.50 and 0.5 are the same."""
        try:
            return bool(self.to_python(data) != initial)
        except forms.ValidationError:
            return True


class NumberFormField(forms.Field):
    """Reads a plain number as dimensions are read: `1.55`, `1,55`, `1/2`. Its form says what would be right."""

    default_error_messages = {"invalid": "That is not a number. Type one such as 1.55."}

    def __init__(self, **kwargs: Any) -> None:
        # A text field with a decimal keypad: scrolling over type=number changes the value.
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Decimal | None:
        """Read the typed text, or refuse it in the field's own sentence."""
        if value in self.empty_values or not str(value).strip():
            return None
        try:
            return parse(str(value), kind="ratio", signed=True).base.normalize()
        except MeasureError:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None

    def prepare_value(self, value: Any) -> Any:
        """A kept number without the zeros behind it; typed text as it was typed."""
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare as values, so that 1.60 and 1,6 are the same."""
        try:
            return bool(self.to_python(data) != initial)
        except forms.ValidationError:
            return True


class PersonUnitsMixin:
    """A form whose values are typed in the units of the person at the keyboard: inch and pounds, or mm and newtons."""

    fields: dict[str, forms.Field]

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MeasureFormField):
                field.use_unit(unit_for(field.unit_kind, unit))
