"""The shop's letterhead, its limits, and the tools in its drawer."""

from typing import Any

from builds.forms.base import BookForm, OnceForm
from builds.forms.fields import MeasureFormField
from builds.measures import BASE_UNIT
from builds.models import Instrument, Limit, Shop

INSTRUMENT_FIELDS = ["mark", "kind", "name", "serial", "resolution", "last_checked_on", "due_on", "in_use"]
MARK_TAKEN = {"mark": {"unique": "Another instrument has this mark. Give every one a mark of its own."}}


class ShopForm(BookForm):
    """The letterhead, and the paper in the printer."""

    class Meta:
        model = Shop
        fields = ["name", "address", "phone", "email", "paper"]


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
            field.use_unit(unit if kind == "length" else BASE_UNIT[kind])
            self.fields[name] = field


class NewInstrumentForm(OnceForm):
    """An instrument that is new in the drawer."""

    class Meta:
        model = Instrument
        fields = INSTRUMENT_FIELDS
        error_messages = MARK_TAKEN


class InstrumentForm(BookForm):
    """An instrument, with when it was last checked."""

    class Meta:
        model = Instrument
        fields = INSTRUMENT_FIELDS
        error_messages = MARK_TAKEN
