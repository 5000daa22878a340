"""Forms for the rocker sets and the cam card of a job, and for the height gauges in the drawer."""

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
    "name", "intake_lobe_lift", "exhaust_lobe_lift", "intake_lash", "exhaust_lash", "lash_taken", "timed_at",
    "intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes", "intake_duration", "exhaust_duration",
    "intake_centreline", "exhaust_centreline", "lobe_separation",
]  # fmt: skip


class RockerRules:
    """What both forms of a rocker set check."""

    instance: RockerSet
    cleaned_data: dict[str, Any]

    def clean_fits(self) -> str:
        """One set for one kind of valve."""
        fits: str = self.cleaned_data["fits"]
        others = RockerSet.objects.filter(build=self.instance.build_id, fits=fits).exclude(
            pk=self.instance.pk
        )
        if others.exists():
            raise ValidationError("This job has a rocker set for these valves already. Change that one.")
        return fits


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
