"""A figure told from the track: the form that a guest fills in, and what the shop does with it."""

from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from builds.checks import open_checks_of
from builds.forms.sent_once import SentOnce, WritingForm
from builds.measures import UNITS
from builds.models import Build, GuestLink, Person, Reading, ToldAnswer, ToldReading
from builds.recording import EntryQuestioned, EntryRefused
from builds.told import Told, leave, places_to_tell, take_over, tell, tellable

LENGTH_UNITS = [(unit.symbol, unit.symbol) for unit in UNITS if unit.kind == "length"]
A_NEW_CHECK = "new"
MOST_CHECKS = 30


class FigureField(forms.CharField):
    """A figure as it is typed. One that can hardly be meant is asked about: `asks` is what was typed, `meant` a tick."""

    asks = ""
    meant = False


class ToldForm(SentOnce):
    """What a crew read at one valve."""

    shown_as: ClassVar = {"value": "text"}

    read_on = forms.DateField(label="Read on")
    characteristic = forms.ChoiceField(label="What")
    position = forms.ChoiceField(label="At valve")
    text = FigureField(
        label="Reading",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={"required": "Reading: type what the feeler said, such as 0.018."},
    )
    unit = forms.ChoiceField(label="In", choices=LENGTH_UNITS)
    told_by = forms.CharField(label="Who read it", max_length=80)
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, job: Build, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job = job
        self.fields["characteristic"].choices = [(each.key, each.name) for each in tellable()]
        self.places = places_to_tell(job)
        self.fields["position"].choices = [(place, place) for place in self.places]

    def write(self, via: GuestLink) -> ToldReading | None:
        """Write the figure down; None when it is refused or asked about."""
        if not self.is_valid():
            return None
        told = {name: value for name, value in self.cleaned_data.items() if name != "client_id"}
        sure = self.data.get(f"{self.add_prefix('text')}-meant", "").strip() == told["text"]
        try:
            return tell(self.job, Told(self.made_as, **told, sure=sure), via=via)[0]
        except EntryRefused as error:
            if isinstance(error, EntryQuestioned):
                self.fields["text"].asks = told["text"]
            self.refuse(error)
            return None

    def first(self, last: ToldReading | None) -> dict[str, Any]:
        """What it is filled in with: as the last one that was told, at the valve after it."""
        if last is None:
            return {"read_on": timezone.localdate()}
        place = self.places.index(last.position) + 1 if last.position in self.places else 0
        return {
            "read_on": last.read_on, "characteristic": last.characteristic, "unit": last.unit, "told_by": last.told_by,
            "position": self.places[place] if place < len(self.places) else self.places[0],
        }  # fmt: skip


class TakeOverForm(WritingForm):
    """Into which check a told figure goes."""

    check = forms.ChoiceField(label="Goes into")

    def __init__(self, *args: Any, told: ToldReading, **kwargs: Any) -> None:
        self.told = told
        self.checks = {str(each.pk): each for each in open_checks_of(told.build)[:MOST_CHECKS]}
        same = next((pk for pk, each in self.checks.items() if each.opened_on == told.read_on), A_NEW_CHECK)
        super().__init__(*args, initial={"check": same, **kwargs.pop("initial", {})}, **kwargs)
        self.fields["check"].choices = [
            (A_NEW_CHECK, f"a new check, read on {told.read_on:%d %b %Y}"),
            *((pk, f"{each}, read on {each.opened_on:%d %b %Y}") for pk, each in self.checks.items()),
        ]

    def write(self, person: Person) -> Reading | None:
        """Make it a reading of that check; None when it is refused."""
        return self.written(lambda: take_over(self.told, person, self.checks.get(self.cleaned_data["check"])))


class LeaveForm(WritingForm):
    """Why a told figure does not become a reading."""

    reason = forms.CharField(
        label="Why it is turned down", max_length=200, help_text="Read warm, another valve, misheard …"
    )

    def write(self, told: ToldReading, person: Person) -> ToldAnswer | None:
        """Turn it down, with the reason; None when that is refused."""
        return self.written(lambda: leave(told, person, self.cleaned_data["reason"]))
