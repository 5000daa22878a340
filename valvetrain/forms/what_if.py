"""What may be changed on the What if screen: fields that each answer for themselves, so that the rest keeps computing."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.functional import cached_property

from builds.forms.base import OnceForm
from builds.forms.fields import MeasureFormField
from builds.measures import has_unit, show, unit_for
from valvetrain.models import HeightGauge, Trial
from valvetrain.what_if_fields import SPECS, Spec
from valvetrain.what_if_setup import Changes


class RangedField(MeasureFormField):
    """A measure that must be one an engine can have."""

    def __init__(self, spec: Spec, length_unit: str) -> None:
        super().__init__(
            unit_kind=spec.kind, signed=spec.signed, required=False, label=spec.label, help_text=spec.how
        )
        self.spec = spec
        self.use_unit(unit_for(spec.kind, length_unit))
        self.shown_unit = spec.shown_unit or self.unit
        setattr(self.widget, "unit", self.shown_unit)  # noqa: B010  the widget is one by now

    def validate(self, value: Any) -> None:
        """Refuse what no engine has, and offer thousandths where those were meant."""
        super().validate(value)
        low, high = Decimal(self.spec.low), Decimal(self.spec.high)
        if value is None or low <= value <= high:
            return
        offer = ""
        if self.unit == "in" and low <= value / 1000 <= high:
            offer = f" Did you mean {show(value / 1000, 'in')}?"
        raise forms.ValidationError(
            f"{self.label}: {show(value, self.unit)} {self.shown_unit} is outside what an engine has, "
            f"{show(low, self.unit)} to {show(high, self.unit)}.{offer}"
        )


class WhatIfForm(forms.Form):
    """Everything that a trial may change. An empty field is as it is today."""

    def __init__(
        self,
        data: Mapping[str, Any],
        *,
        unit: str,
        addresses: Iterable[str] = (),
        gauges: Mapping[int, HeightGauge] | None = None,
    ) -> None:
        super().__init__(data, label_suffix="", auto_id="w-%s")
        self.gauges = gauges or {}
        self.fields["at"] = _choice(
            "For",
            [("", "all valves"), ("I", "intakes"), ("E", "exhausts"), *((each, each) for each in addresses)],
            "There is no valve “%(value)s” on this job. Choose one from the list.",
        )
        self.fields["groove"] = _choice(
            "The extra length is",
            [
                ("", "below the groove: retainer rises"),
                ("stays", "above it: retainer stays"),
            ],
            "Choose where the extra length is.",
        )
        self.fields["gauge"] = _choice(
            "Read with",
            [("", "the bench’s gauge"), *((str(pk), str(gauge)) for pk, gauge in self.gauges.items())],
            "This gauge is not in the drawer any more. Choose another one.",
        )
        for spec in SPECS.values():
            self.fields[spec.name] = RangedField(spec, unit)
        self.unit = unit

    @property
    def at(self) -> str:
        """Which valves: nothing for all, I or E for a kind, or one address."""
        self.errors  # noqa: B018  cleaning happens on the first look
        return str(self.cleaned_data.get("at", ""))

    @cached_property
    def changes(self) -> Changes:
        """What is typed and can be read, as the arithmetic takes it."""
        self.errors  # noqa: B018
        typed = {name: float(value) for name in SPECS if (value := self.cleaned_data.get(name)) is not None}
        plain = {name: typed[name] for name in Changes.__dataclass_fields__ if name in typed}
        for name, radius in (("tip_diameter", "tip_radius"), ("shaft_diameter", "shaft_radius")):
            if name in typed:
                plain[radius] = typed[name] / 2
        gauge = self.gauges.get(int(self.cleaned_data.get("gauge") or 0))
        if gauge is not None and "gauge_step" not in typed:
            plain["gauge_step"] = gauge.step_value()
            if gauge.dummy_diameter:
                plain["dummy_radius"] = float(gauge.dummy_diameter) / 2
        return Changes(**plain, groove_stays=self.cleaned_data.get("groove") == "stays")

    @property
    def differs(self) -> bool:
        """Whether anything is changed."""
        return self.changes != Changes()

    @property
    def typed(self) -> dict[str, str]:
        """What is filled in, as it was typed."""
        return {name: text for name in self.fields if (text := str(self.data.get(name, "")).strip())}

    @property
    def query(self) -> str:
        """The same as the end of an address."""
        sent = QueryDict(mutable=True)
        sent.update(self.typed)
        return sent.urlencode()

    def to_keep(self) -> dict[str, Any]:
        """What a kept trial holds: text as typed with its unit, and the exact value [base unit] beside it."""
        self.errors  # noqa: B018
        kept: dict[str, dict[str, str]] = {}
        for name, text in self.typed.items():
            field, value = self.fields[name], self.cleaned_data.get(name)
            kept[name] = {"text": text, "label": str(field.label).lower()}
            if isinstance(field, RangedField) and isinstance(value, Decimal):
                told = text if has_unit(text) else f"{text} {field.shown_unit}"
                kept[name] |= {"unit": field.unit, "value": str(value), "told": told}
            elif isinstance(field, forms.ChoiceField):
                kept[name]["told"] = str(dict(field.widget.choices).get(text, text))
        return kept


def _choice(label: str, choices: list[tuple[str, str]], wrong: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=choices, required=False, error_messages={"invalid_choice": wrong}
    )


class TrialForm(OnceForm):
    """The name and the note under which a trial is kept."""

    class Meta:
        model = Trial
        fields = ["name", "note"]

    def __init__(self, *args: Any, tried: WhatIfForm, **kwargs: Any) -> None:
        super().__init__(*args, auto_id="keep-%s", **kwargs)
        self.tried = tried

    def clean(self) -> dict[str, Any]:
        """Only what can be read is kept, and only what differs from today."""
        cleaned: dict[str, Any] = super().clean() or {}
        if self.tried.errors:
            raise forms.ValidationError(
                "Nothing is kept yet: mend the field that says what is wrong, or empty it."
            )
        if not self.tried.differs:
            raise forms.ValidationError(
                "Nothing differs from today, so there is no trial to keep. Change a field first."
            )
        return cleaned

    def clean_name(self) -> str:
        """One trial of a name on a job."""
        name: str = self.cleaned_data["name"]
        if Trial.objects.filter(build=self.instance.build_id, name__iexact=name).exists():
            raise forms.ValidationError(
                f"This job has a trial called “{name}” already. Give this one another name."
            )
        return name
