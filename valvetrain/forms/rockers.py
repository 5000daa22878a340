"""Forms for the rocker sets and the cam card of a job, and for the height gauges in the drawer."""

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.forms.base import BookForm, OnceForm
from builds.forms.shop import CHECK_AHEAD
from builds.models import Instrument, InstrumentKind
from valvetrain.models import CamCard, HeightGauge, RockerSet

ROCKER_FIELDS = [
    "name",
    "fits",
    "arm_length",
    "tip_diameter",
    "shaft_diameter",
    "ratio",
    "square_at",
    "material",
]
INSTRUMENT_FIELDS = ["mark", "name", "serial", "resolution", "last_checked_on", "due_on", "in_use"]
GAUGE_FIELDS = ["step", "reference_lift", "tip_diameter", "shaft_diameter", "square_at", "dummy_diameter"]
CARD_FIELDS = [
    "name", "intake_lobe_lift", "exhaust_lobe_lift", "intake_lash", "exhaust_lash", "timed_at", "intake_opens",
    "intake_closes", "exhaust_opens", "exhaust_closes", "intake_duration", "exhaust_duration", "intake_centreline",
    "exhaust_centreline", "lobe_separation",
]  # fmt: skip


class RockerRules:
    """What both forms of a rocker set check."""

    instance: RockerSet
    cleaned_data: dict[str, Any]
    fields: dict[str, Any]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, right in (
            ("ratio", "a number such as 1.6"),
            ("square_at", "a part from 0 to 1, such as 0.5"),
        ):
            _plain_number(self, name, right)

    def clean_fits(self) -> str:
        """One set for one kind of valve."""
        fits: str = self.cleaned_data["fits"]
        others = RockerSet.objects.filter(build=self.instance.build_id, fits=fits).exclude(
            pk=self.instance.pk
        )
        if others.exists():
            raise ValidationError("This job has a rocker set for these valves already. Change that one.")
        return fits


def _plain_number(form: Any, name: str, right: str) -> None:
    """A number without a unit: shown without trailing zeros, and refused in words."""
    field = form.fields[name]
    if isinstance(form.initial.get(name), Decimal):
        form.initial[name] = form.initial[name].normalize()
    field.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}
    field.widget.input_type = "text"  # scrolling over type=number changes the value
    label = field.label
    for code in ("invalid", "max_digits", "max_decimal_places", "max_whole_digits", "min_value", "max_value"):
        field.error_messages[code] = f"{label}: type {right}."


class RockerSetForm(RockerRules, BookForm):
    """The rocker arms of a job."""

    class Meta:
        model = RockerSet
        fields = ROCKER_FIELDS


class NewRockerSetForm(RockerRules, OnceForm):
    """Rocker arms that are new on a job."""

    class Meta:
        model = RockerSet
        fields = ROCKER_FIELDS


class CamCardForm(BookForm):
    """What the camshaft's own card says."""

    class Meta:
        model = CamCard
        fields = CARD_FIELDS


class GaugeFactsForm(BookForm):
    """What a height gauge was made for."""

    class Meta:
        model = HeightGauge
        fields = GAUGE_FIELDS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain_number(self, "square_at", "a part from 0 to 1, such as 0.5")


class GaugeRules(BookForm):
    """A height gauge is one form on screen: the instrument, and what it was made for."""

    instance: Instrument
    years_ahead = CHECK_AHEAD

    def __init__(
        self, data: Any = None, *, gauge: HeightGauge | None = None, unit: str = "in", **kwargs: Any
    ) -> None:
        instrument = gauge.instrument if gauge else Instrument(kind=InstrumentKind.HEIGHT_GAUGE)
        super().__init__(data, instance=instrument, unit=unit, **kwargs)
        self.facts = GaugeFactsForm(data, instance=gauge or HeightGauge(), unit=unit)

    def is_valid(self) -> bool:
        """Whether the instrument and its facts can be written."""
        return all([super().is_valid(), self.facts.is_valid()])

    @transaction.atomic
    def save(self, commit: bool = True) -> Instrument:
        """Write the instrument and its facts."""
        instrument: Instrument = super().save(commit=commit)
        self.facts.instance.instrument = instrument
        self.facts.save()
        return instrument


class GaugeForm(GaugeRules):
    """A height gauge of the drawer."""

    class Meta:
        model = Instrument
        fields = INSTRUMENT_FIELDS
        error_messages = {
            "mark": {"unique": "Another instrument has this mark. Give every one a mark of its own."}
        }


class NewGaugeForm(GaugeRules, OnceForm):
    """A height gauge that is new in the drawer."""

    class Meta(GaugeForm.Meta):
        pass
