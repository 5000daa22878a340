"""What a form says when it refuses: the field by its own name, what was wrong, and what would be right.

The one place where the sentences of all forms are made. A form that knows better says so in its `error_messages`, and
is left alone.
"""

from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import (
    BaseValidator,
    DecimalValidator,
    MaxLengthValidator,
    MaxValueValidator,
    MinValueValidator,
    RegexValidator,
)
from django.forms.models import InlineForeignKeyField
from django.utils import timezone

from builds.dates import YEARS_AHEAD, why_not
from builds.forms.fields import MeasureFormField, NumberFormField
from builds.measures import for_field
from builds.refusals import Refused

# Django cannot take type arguments for these where the book runs.
if TYPE_CHECKING:
    _InlineRows = forms.BaseInlineFormSet[Any, Any, Any]
else:
    _InlineRows = forms.BaseInlineFormSet

LONGEST_NOTE = 4000
# The largest number that a column holds is not worth saying.
DATABASE_LIMIT = 30_000
# Below this [base unit] a smallest value only says that nothing is not enough.
NEXT_TO_NOTHING = Decimal("0.0001")
# What Django calls a character that no database keeps.
UNKEPT = "null_characters_not_allowed"

Validators = Iterable[Any]


class Sentences:
    """A form whose fields say, by their own name, what was wrong and what would be right."""

    fields: dict[str, forms.Field]
    # Which field shows what is refused under another name.
    shown_as: ClassVar[dict[str, str]] = {}
    # How many years ahead a date may lie, where that is more than the one of all others.
    years_ahead: dict[str, int] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        for name in self.fields:
            self.teach(name)

    def teach(self, name: str) -> None:
        """Give one field its sentences; to be called again for a field that is put in later."""
        field = self.fields[name]
        label = str(field.label or name.replace("_", " ")).capitalize()
        rules = [*field.validators, *self._rules_of(name)]
        _tell(field, "required", f"{label}: nothing is filled in. It is needed here.")
        _tell(field, "unique", f"{label}: this one is in the book already. Give another one.")
        _tell(
            field,
            UNKEPT,
            f"{label}: there is a sign in it that cannot be kept. Type it again, by letters, digits and signs.",
        )
        for kind, lesson in LESSONS:
            if isinstance(field, kind):
                lesson(field, label, rules)
        if isinstance(field, forms.DateField):
            field.validators.append(_meant_date(label, self.years_ahead.get(name, YEARS_AHEAD)))

    def add_error(self, field: str | None, error: Any) -> None:
        """Note a refusal. A list of records says by itself, and not by its field, that a sign cannot be kept."""
        if field is not None and getattr(error, "code", "") == UNKEPT:
            error = self.fields[field].error_messages[UNKEPT]
        super().add_error(field, error)  # type: ignore[misc]

    def refuse(self, error: Refused) -> None:
        """Say why the book did not write it: beside the field that it is about, above the form where nobody sees that."""
        name = self.shown_as.get(error.field_name, error.field_name)
        field = self.fields.get(name)
        seen = field is not None and not isinstance(field.widget, forms.HiddenInput)
        self.add_error(name if seen else None, error.asking)

    def _rules_of(self, name: str) -> Validators:
        """The rules of the record behind a field; a plain form has no record."""
        return ()


def _tell(field: forms.Field, code: str, sentence: str) -> None:
    """Say this instead of what Django would say; what a form has told otherwise stays."""
    stock: dict[str, Any] = {}
    for each in reversed(type(field).__mro__):
        stock.update(getattr(each, "default_error_messages", {}))
    if field.error_messages.get(code) in (None, stock.get(code)):
        field.error_messages[code] = sentence


def _meant_date(label: str, years_ahead: int) -> Callable[[date], None]:
    """The rule that a typed date is one that a shop can have meant."""

    def check(day: date) -> None:
        sentence = why_not(day, timezone.localdate(), years_ahead)
        if sentence:
            raise ValidationError(f"{label}: {sentence}")

    return check


def _ends(rules: Validators) -> tuple[Any, Any]:
    """The smallest and the largest value that the rules leave; None where there is no end."""
    lows = [_limit(rule) for rule in rules if isinstance(rule, MinValueValidator)]
    highs = [_limit(rule) for rule in rules if isinstance(rule, MaxValueValidator)]
    return max(lows, default=None), min(highs, default=None)


def _limit(rule: BaseValidator) -> Any:
    """The end that a rule sets, which Django also takes as something to call."""
    return rule.limit_value() if callable(rule.limit_value) else rule.limit_value


def _teach_date(field: forms.DateField, label: str, rules: Validators) -> None:
    field.widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date", **field.widget.attrs})
    _tell(field, "invalid", f"{label}: that is not a date. Pick one, or type it like 2026-11-25.")


def _teach_whole_number(field: forms.IntegerField, label: str, rules: Validators) -> None:
    # A text field with a number pad: scrolling over type=number changes the value.
    field.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    low, high = _ends(rules)
    low = max(low or 0, 0)
    ends = f"from {low} to {high}" if high is not None and high < DATABASE_LIMIT else f", {low} or more"
    right = f"a whole number{ends}" if ends.startswith(",") else f"a whole number {ends}"
    for code in ("invalid", "min_value", "max_value"):
        _tell(field, code, f"{label}: type {right}.")


def _teach_number(field: NumberFormField, label: str, rules: Validators) -> None:
    low, high = _ends(rules)
    ends = f" from {low} to {high}" if low is not None and high is not None else ""
    kept = next((rule for rule in rules if isinstance(rule, DecimalValidator)), None)
    places = kept and kept.decimal_places
    if low is not None and low > 0 and high is None:
        whole = (kept.max_digits or 0) - (kept.decimal_places or 0) if kept else 0
        ends = f" from {low} to {10**whole - 1}" if whole > 0 else f", {low} or more"
    fine = f", with at most {places} figures behind the point" if places else ""
    for code in ("invalid", "min_value", "max_value"):
        _tell(field, code, f"{label}: type a number{ends}.")
    for code in ("max_digits", "max_decimal_places", "max_whole_digits"):
        _tell(field, code, f"{label}: type a number{ends}{fine}.")


def _teach_measure(field: MeasureFormField, label: str, rules: Validators) -> None:
    low, high = _ends(rules)

    def shown(end: Any) -> str:
        return f"{for_field(Decimal(end), field.unit)} {field.unit}".replace(" °", "°")

    if low is not None and high is not None:
        right = f"a value from {shown(low)} to {shown(high)}"
    elif high is not None:
        right = f"{shown(high)} or less"
    elif low is not None and low <= 0:
        right = "0 or more"
    elif low is not None:
        right = "a value above 0" if low <= NEXT_TO_NOTHING else f"{shown(low)} or more"
    else:
        return
    _tell(field, "min_value", f"{label}: that is too small. Type {right}.")
    _tell(field, "max_value", f"{label}: that is too large. Type {right}.")


def _teach_choice(field: forms.Field, label: str, rules: Validators) -> None:
    _tell(field, "invalid_choice", f"{label}: this is none of the choices. Choose one from the list.")


def _teach_email(field: forms.EmailField, label: str, rules: Validators) -> None:
    _tell(field, "invalid", f"{label}: that is not an address. Type it like name@example.com.")


def _teach_text(field: forms.CharField, label: str, rules: Validators) -> None:
    if isinstance(field.widget, forms.Textarea):
        field.widget.attrs["rows"] = 3
        if field.max_length is None:
            field.validators.append(MaxLengthValidator(LONGEST_NOTE))
    _tell(
        field,
        "max_length",
        f"{label}: this has %(show_value)d characters, and there is room for %(limit_value)d. Say it shorter.",
    )
    for rule in rules:
        if isinstance(rule, RegexValidator) and not isinstance(field, forms.EmailField):
            _tell(field, "invalid", f"{label}: {rule.message}")


Lesson = Callable[[Any, str, Validators], None]
# In this order: an e-mail field is a text field as well.
LESSONS: list[tuple[type[forms.Field], Lesson]] = [
    (forms.DateField, _teach_date),
    (NumberFormField, _teach_number),
    (forms.IntegerField, _teach_whole_number),
    (MeasureFormField, _teach_measure),
    (forms.ChoiceField, _teach_choice),
    (InlineForeignKeyField, _teach_choice),
    (forms.EmailField, _teach_email),
    (forms.CharField, _teach_text),
]


class InlineRows(_InlineRows):
    """Several rows of one record in one form, which answers in sentences as well."""

    default_error_messages = {
        "missing_management_form": "This page came without its rows, and nothing was saved. Load it again.",
        "too_many_forms": "There are more than %(num)d rows. Take some away, and save again.",
        "too_few_forms": "There are fewer than %(num)d rows. Add what is missing, and save again.",
    }

    def add_fields(self, form: Any, index: int | None) -> None:
        """Teach the fields that a set of rows gives each row, as well."""
        own = set(form.fields)
        super().add_fields(form, index)
        for name in set(form.fields) - own:
            form.teach(name)

    def full_clean(self) -> None:
        """Besides Django's own rules: a row that is not there any more is said above the rows."""
        super().full_clean()
        if any("id" in row for row in self._errors or ()):  # type: ignore[attr-defined]
            self._non_form_errors.append(  # type: ignore[attr-defined]
                "One of these rows is not there any more: somebody else removed it. Load the page again."
            )
