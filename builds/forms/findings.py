"""What a person says of a finding, of evidence, and why a finding is taken back."""

from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.db.models import Model, Q

from builds.findings import (
    Backing,
    Told,
    add_evidence,
    add_finding,
    change_finding,
    jobs_to_lean_on,
    take_back,
)
from builds.forms.base import BookForm
from builds.forms.entries import STALE_PAGE
from builds.forms.seen import SeenMixin
from builds.forms.sent_once import TellsOfHidden
from builds.models import (
    Build,
    Condition,
    Confidence,
    Evidence,
    Finding,
    PartFitted,
    Person,
    Photo,
    Reading,
    Symptom,
)
from builds.models.returns import Side
from builds.places import PLACE_LENGTH
from builds.positions import positions_of
from builds.recording import EntryRefused

FIELDS = ["what", "position", "condition", "detail", "cause", "confidence", "action", "symptom"]


class SentForm(TellsOfHidden, BookForm):
    """A form whose record is made by a service, which has the rules and their sentences; sent twice, made once."""

    form_token = forms.UUIDField(
        widget=forms.HiddenInput,
        initial=uuid4,
        error_messages={"required": STALE_PAGE, "invalid": STALE_PAGE},
    )

    @property
    def token(self) -> UUID:
        """What this form is known by when it is sent again."""
        token: UUID = self.cleaned_data["form_token"]
        return token

    def _post_clean(self) -> None:
        """The record is made by the service."""


class FindingForm(SeenMixin, SentForm):
    """A finding: what, where, in which condition; perhaps a probable cause and how sure; what to do."""

    place_words = forms.CharField(
        label="or a place in words",
        required=False,
        max_length=PLACE_LENGTH,
        help_text="For what has no address: oil pan, left valve cover.",
    )

    class Meta:
        model = Finding
        fields = FIELDS
        help_texts = {
            "what": "In a few words: pushrod bent, roller gone, tip worn hollow.",
            "position": "Tap it on a drawing, or type it: 5E, L.stand2, cyl5, engine.",
            "cause": "Only if somebody here thinks so. It is an opinion, and is shown as one.",
            "symptom": "What others look at when they see this: prompts from common practice, never a diagnosis.",
        }

    def __init__(self, *args: Any, job: Build, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job = job
        self.known = positions_of(job)
        place = self.initial.get("position") or ""
        if place and place not in self.known and self.instance.pk is not None:
            self.initial = {**self.initial, "position": "", "place_words": place}
        symptom: Any = self.fields["symptom"]
        symptom.queryset = Symptom.objects.filter(Q(in_use=True) | Q(pk=self.instance.symptom_id))
        symptom.empty_label = "none"
        for name in ("position", "place_words"):
            self.fields[name].widget.attrs["autocomplete"] = "off"
        self.fields["position"].widget.attrs |= {"autocapitalize": "none", "spellcheck": "false"}
        condition: Any = self.fields["condition"]
        condition.choices = [("", "choose one"), *Condition.choices]
        choices = [(value, label) for value, label in Confidence.choices if value]
        sure: Any = self.fields["confidence"]
        sure.choices = [("", Confidence.NONE.label), *choices]

    @property
    def told(self) -> Told:
        """What the person said."""
        return Told(**{name: self.cleaned_data[name] for name in [*FIELDS, "place_words"]})

    def typed(self, name: str) -> Any:
        """What was typed; a place in words is a place too."""
        value = super().typed(name)
        return value or self.cleaned_data.get("place_words") if name == "position" else value

    def keep(self, name: str, value: Any) -> None:
        """Let stand what the other wrote; a place that is no address stands in words."""
        if name == "position" and value not in self.known:
            self.cleaned_data |= {"position": "", "place_words": value}
        else:
            super().keep(name, value)

    def add_once(self, person: Person) -> Finding | None:
        """Write the finding down, once however often it is sent; None when it is refused."""
        if not self.is_valid():
            return None
        try:
            return add_finding(self.job, person, self.told, token=self.token)[0]
        except EntryRefused as error:
            self.refuse(error)
            return None

    def change(self) -> Finding | None:
        """Write what was changed; None when it is refused."""
        if not self.is_valid():
            return None
        try:
            return change_finding(self.instance, self.told)
        except EntryRefused as error:
            self.refuse(error)
            return None


class TakeBackForm(SentForm):
    """Why a finding is taken back."""

    reason = forms.CharField(
        label="why it is taken back",
        max_length=200,
        help_text="It stays on the list, crossed out, with these words.",
    )

    class Meta:
        model = Finding
        fields: list[str] = []

    def take_back(self) -> bool:
        """Take it back; False when it is refused."""
        if not self.is_valid():
            return False
        try:
            take_back(self.instance, self.cleaned_data["reason"])
        except EntryRefused as error:
            self.refuse(error)
            return False
        return True


class EvidenceForm(SentForm):
    """Evidence: which side it speaks for, what it says, and what was chosen for it to lean on."""

    side = forms.ChoiceField(label="side", choices=Side.choices, widget=forms.RadioSelect)

    class Meta:
        model = Evidence
        fields = ["side", "text", "reading", "photo", "part"]
        help_texts = {
            "text": "What it shows, so that another sees it too: seat load 18 % below what it left with."
        }
        widgets = dict.fromkeys(("reading", "photo", "part"), forms.HiddenInput)

    def __init__(self, *args: Any, finding: Finding, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.finding = finding
        jobs = jobs_to_lean_on(finding.build)
        sets = {
            "reading": Reading.objects.select_related("corrected_by").filter(build__in=jobs),
            "photo": Photo.objects.for_list().filter(build__in=jobs),
            "part": PartFitted.objects.filter(build__in=jobs),
        }
        for name, rows in sets.items():
            field: Any = self.fields[name]
            field.queryset = rows
            field.error_messages["invalid_choice"] = (
                f"The {name} that was chosen is neither of this job nor of the one before. Choose one again."
            )
        self.teach("side")

    def leans_on(self, name: str) -> Model | None:
        """The record that was chosen, also before the form is sent; None for what is not there."""
        field: Any = self.fields[name]
        try:
            found: Model | None = field.clean(self[name].value())
        except forms.ValidationError:
            return None
        return found

    def add_once(self, person: Person) -> Evidence | None:
        """Note it, once however often it is sent; None when it is refused."""
        if not self.is_valid():
            return None
        told = self.cleaned_data
        backing = Backing(told["reading"], told["photo"], told["part"])
        try:
            made, _new = add_evidence(
                self.finding, person, side=told["side"], text=told["text"], backing=backing, token=self.token
            )
        except EntryRefused as error:
            self.refuse(error)
            return None
        return made
