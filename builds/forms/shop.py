"""The shop's letterhead, its limits, and the tools in its drawer."""

from decimal import Decimal
from typing import Any

from builds.forms.base import BookForm, OnceForm
from builds.forms.fields import MeasureFormField
from builds.measures import unit_for
from builds.models import Instrument, Limit, Shop, UsualUncertainty
from builds.models.readings import KIND_OF_UNIT

INSTRUMENT_FIELDS = [
    "mark", "kind", "name", "serial", "resolution", "uncertainty", "coverage", "last_checked_on", "due_on", "in_use",
]  # fmt: skip
MARK_TAKEN = {"mark": {"unique": "Another instrument has this mark. Give every one a mark of its own."}}


class ShopForm(BookForm):
    """The letterhead, the paper in the printer, and the shop's own words on its sheets."""

    class Meta:
        model = Shop
        fields = ["name", "address", "phone", "email", "paper", "running_in_advice"]


class GuardBandForm(BookForm):
    """The rule by which a value is in, undecided or out."""

    class Meta:
        model = Shop
        fields = ["guard_band", "guard_coverage"]


class UsualUncertaintyForm(BookForm):
    """What a kind of tool is good to when nothing is stated for it, in its own kind of unit."""

    class Meta:
        model = UsualUncertainty
        fields = ["uncertainty", "source"]
        help_texts = {"source": "Common practice, a maker’s sheet, the shop’s own trial with its date."}

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, unit=unit, **kwargs)
        _read_as(self, ["uncertainty"], self.instance.unit_kind, unit)


def _read_as(form: BookForm, names: list[str], kind: str, unit: str) -> None:
    """Let some fields of a form read another kind of quantity than a length."""
    for name in names:
        old = form.fields[name]
        field = MeasureFormField(
            unit_kind=kind, required=old.required, label=old.label, help_text=old.help_text
        )
        field.use_unit(unit_for(kind, unit))
        form.fields[name] = field
        form.teach(name)


class LimitForm(BookForm):
    """One limit: its ends, in the limit's own kind of unit, and where it comes from."""

    class Meta:
        model = Limit
        fields = ["low", "high", "source"]
        help_texts = {"source": "The shop's own setting, the cam card, a maker's sheet with its date."}

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, unit=unit, **kwargs)
        kind = self.instance.unit_kind
        for name in ("low", "high"):
            field = MeasureFormField(
                unit_kind=kind,
                signed=kind in ("length", "angle"),
                required=False,
                label=self.fields[name].label,
            )
            field.use_unit(unit_for(kind, unit))
            self.fields[name] = field


# A gauge block set may be good for many years.
CHECK_AHEAD = {"due_on": 10}


class ToolForm(BookForm):
    """An instrument's form reads its step and its uncertainty in the unit of its kind: a spring tester's in lbf."""

    years_ahead = CHECK_AHEAD

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, unit=unit, **kwargs)
        kind = self.data.get("kind") if self.is_bound else self.instance.kind
        if kind in KIND_OF_UNIT:
            _read_as(self, ["resolution", "uncertainty"], KIND_OF_UNIT[kind], unit)
        self.fields["coverage"].required = False

    def clean_coverage(self) -> Decimal:
        """Nothing typed is the common k = 2."""
        return self.cleaned_data["coverage"] or Decimal(2)


class NewInstrumentForm(ToolForm, OnceForm):
    """An instrument that is new in the drawer."""

    class Meta:
        model = Instrument
        fields = INSTRUMENT_FIELDS
        error_messages = MARK_TAKEN


class InstrumentForm(ToolForm):
    """An instrument, with when it was last checked."""

    class Meta:
        model = Instrument
        fields = INSTRUMENT_FIELDS
        error_messages = MARK_TAKEN
