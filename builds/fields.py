"""Model fields for dimensions and plain numbers: exact decimals, in the base unit where they have one."""

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import models

# Django cannot take type arguments for fields where the book runs.
if TYPE_CHECKING:
    _DecimalField = models.DecimalField[Any, Any]  # a field that may be empty gives None as well
else:
    _DecimalField = models.DecimalField


class BaseUnitField(_DecimalField):
    """A dimension in its base unit (inch, degree, pound-force), kept to 1e-10, far below any gauge.

    `measured` is the sentence that tells how this dimension is taken; forms print it under the field, with
    the drawing named by `drawing` beside it. `plausible` is the usual range in the base unit, its ends written as text:
    outside it a form asks whether the value is meant. None of these is the database's concern.
    """

    def __init__(
        self,
        *args: Any,
        unit_kind: str = "length",
        measured: str = "",
        drawing: str = "",
        signed: bool = False,
        plausible: tuple[str, str] | None = None,
        **kwargs: Any,
    ) -> None:
        self.plausible = None if plausible is None else (Decimal(plausible[0]), Decimal(plausible[1]))
        kwargs.setdefault("max_digits", 18)
        kwargs.setdefault("decimal_places", 10)
        self.unit_kind, self.measured, self.drawing, self.signed = unit_kind, measured, drawing, signed
        super().__init__(*args, **kwargs)

    def formfield(self, **kwargs: Any) -> Any:
        """Use the form field that reads `0.025`, `1/32`, `0.6 mm` and answers in sentences."""
        from builds.forms.fields import MeasureFormField  # forms import models: this is the one way back

        return MeasureFormField(
            unit_kind=self.unit_kind,
            signed=self.signed,
            required=not self.blank,
            label=kwargs.get("label", str(self.verbose_name).capitalize()),
            help_text=self.measured or self.help_text,
            drawing=self.drawing,
            plausible=self.plausible,
        )


class PlainNumberField(_DecimalField):
    """A number without a unit, such as a ratio: typed as freely as a dimension. To the database a decimal like any."""

    def deconstruct(self) -> Any:
        """Stand in migrations as Django's own field: only the form differs."""
        name, _path, args, kwargs = super().deconstruct()
        return name, "django.db.models.DecimalField", args, kwargs

    def formfield(self, **kwargs: Any) -> Any:
        """Use the form field that reads `1.55`, `1,55` and `1/2`."""
        from builds.forms.fields import NumberFormField  # forms import models: this is the one way back

        return NumberFormField(
            required=not self.blank,
            label=kwargs.get("label", str(self.verbose_name).capitalize()),
            help_text=kwargs.get("help_text", self.help_text),
        )
