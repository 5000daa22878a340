"""Forms of the worksheet: what to look at, the three sides of an engine that it reckons with, and pairs of lifts."""

from collections.abc import Iterable
from typing import Any, ClassVar
from uuid import UUID, uuid4

from django import forms

from builds.forms.base import BookForm, OnceForm
from builds.forms.sentences import Sentences
from builds.models import Instrument
from valvetrain.models import MovingMasses, PistonSide, PushrodSide

SLOWEST, FASTEST, USUAL = 100, 20_000, 6000


class LookForm(Sentences, forms.Form):
    """Which valve, and how fast the engine turns."""

    valve = forms.ChoiceField(
        label="Valve",
        error_messages={"invalid_choice": "Valve: there is no such valve on this job. Choose one."},
    )
    rpm = forms.IntegerField(label="Engine speed, rpm", min_value=SLOWEST, max_value=FASTEST)

    def __init__(self, data: Any, *, addresses: Iterable[str], **kwargs: Any) -> None:
        self.addresses = list(addresses)
        asked = {"valve": self.addresses[0] if self.addresses else "", "rpm": str(USUAL)}
        asked |= {name: data[name] for name in ("valve", "rpm") if data.get(name, "").strip()}
        super().__init__(asked, auto_id="look_%s", **kwargs)
        valve = self.fields["valve"]
        assert isinstance(valve, forms.ChoiceField)
        valve.choices = [(address, address) for address in self.addresses]

    @property
    def address(self) -> str:
        """The valve that is asked about; the first where that is none of this job's."""
        self.is_valid()
        first = self.addresses[0] if self.addresses else ""
        return self.cleaned_data.get("valve") or first

    @property
    def speed(self) -> float:
        """The speed that is asked about [rpm]; a usual one where what was typed is none."""
        self.is_valid()
        return float(self.cleaned_data.get("rpm") or USUAL)


class PushrodSideForm(BookForm):
    """Where cup, pushrod and lifter stand."""

    class Meta:
        model = PushrodSide
        fields = [
            "fits", "cup_radius", "cup_angle", "cup_offset", "shaft_offset", "checked_length", "checked_top", "lean",
            "lean_along", "lifter_lean", "lifter_lean_along", "rocker_ball", "rocker_cup_depth", "lifter_ball",
            "length_in_use", "roller_width",
        ]  # fmt: skip


class NewPushrodSideForm(OnceForm):
    """The same, new on a job."""

    class Meta(PushrodSideForm.Meta):
        pass


class MassesForm(BookForm):
    """What moves with a valve, weighed."""

    class Meta:
        model = MovingMasses
        fields = ["fits", "valve", "retainer", "locks", "spring", "rocker", "pushrod", "lifter"]


class NewMassesForm(OnceForm):
    """The same, new on a job."""

    class Meta(MassesForm.Meta):
        pass


class PistonSideForm(BookForm):
    """What the valve meets in the cylinder."""

    class Meta:
        model = PistonSide
        fields = [
            "fits", "rod_length", "deck_clearance", "gasket_thickness", "valve_recess", "pocket_depth", "valve_angle",
            "head_diameter", "cylinder_pressure", "boost",
        ]  # fmt: skip


class NewPistonSideForm(OnceForm):
    """The same, new on a job."""

    class Meta(PistonSideForm.Meta):
        pass


class PairForm(Sentences, forms.Form):
    """A lobe lift and the valve lift read with it, as typed: the log reads and judges them."""

    template_fields: ClassVar = ("lobe_lift", "valve_lift", "instrument")
    shown_as: ClassVar = {"value": "valve_lift"}
    client_id = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    sure = forms.BooleanField(label="It is meant as typed", required=False)
    lobe_lift = forms.CharField(label="Lobe lift", max_length=40, required=False)
    valve_lift = forms.CharField(label="Valve lift there", max_length=40, required=False)
    instrument = forms.ModelChoiceField(
        label="Read with", queryset=Instrument.objects.filter(in_use=True), required=False, empty_label="not said",
        error_messages={"invalid_choice": "This instrument is not in the drawer any more. Choose another one."},
    )  # fmt: skip

    def __init__(self, *args: Any, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(*args, **{"auto_id": "pair_%s", **kwargs})
        for name in ("lobe_lift", "valve_lift"):
            self.fields[name].widget.attrs |= {
                "inputmode": "decimal",
                "autocomplete": "off",
                "class": "measure",
            }
            self.fields[name].label = f"{self.fields[name].label}, {unit}"
        self.questioned = False
        self.fields["client_id"].error_messages["invalid"] = STALE
        self.fields["client_id"].error_messages["required"] = STALE

    def question(self, sentence: str) -> None:
        """Ask whether a value is meant: the tick appears that answers."""
        self.add_error("valve_lift", sentence)
        self.questioned = True

    @property
    def shown(self) -> list[Any]:
        """The fields that a person sees."""
        names = (*self.template_fields, "sure") if self.questioned else self.template_fields
        return [self[name] for name in names]


STALE = "This page is too old to save from. Copy the values down, load it again, and type them there."


class StrikeForm(Sentences, forms.Form):
    """Why a pair is taken back."""

    client_id = forms.CharField(widget=forms.HiddenInput, initial=uuid4, max_length=40)
    reason = forms.CharField(label="Why it is taken back", max_length=200)

    @property
    def made_as(self) -> UUID:
        """The striking-out's own number."""
        try:
            return UUID(self.data.get("client_id", ""))
        except ValueError:
            return uuid4()
