"""Parts fitted to a job, and those that come out of its engine."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.forms.base import BookForm, OnceForm
from builds.forms.widgets import SuggestInput
from builds.models import COMMON_ROLES, Build, PartFitted, PartTakenOut, Person, WhyOut
from builds.part_numbers import kept_as, refused
from builds.parts_out import parts_in, take_out
from builds.refusals import Refused

PART_FIELDS = ["role", "maker", "maker_number", "lot", "serial", "position", "quantity", "fitted_on", "note"]
# More of one line than any engine has.
MOST_OF_A_PART = 999
WORDS_OF_A_PART = ["role", "maker", "maker_number", "lot", "serial", "position"]


class _Findable:
    """A form whose numbers can be found again: no sign in them that nobody sees; and no more parts than an engine has."""

    instance: PartFitted
    fields: dict[str, forms.Field]
    cleaned_data: dict[str, Any]

    def clean(self) -> dict[str, Any]:
        """Refuse such signs by the name of the field; an Ü is one letter however it was typed."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data  # type: ignore[misc]
        if (count := cleaned.get("quantity") or 0) > MOST_OF_A_PART:
            self.add_error(  # type: ignore[attr-defined]
                "quantity",
                f"How many: {count} is more than an engine has of one part. Type {MOST_OF_A_PART} or fewer.",
            )
        for name in WORDS_OF_A_PART:
            text = cleaned.get(name)
            if not text:
                continue
            label = str(self.fields[name].label).capitalize()
            if sentence := refused(label, text):
                self.add_error(name, sentence)  # type: ignore[attr-defined]
            else:
                cleaned[name] = kept_as(text)
        return cleaned


class PartForm(_Findable, BookForm):
    """A part fitted to a job."""

    class Meta:
        model = PartFitted
        fields = PART_FIELDS
        widgets = {"role": SuggestInput(COMMON_ROLES)}

    def clean(self) -> dict[str, Any]:
        """What came out again was fitted before that, and at least so many were."""
        cleaned = super().clean()
        outs = list(self.instance.taken_out.order_by("out_on", "pk"))
        count, day = cleaned.get("quantity"), cleaned.get("fitted_on")
        came_out = sum(out.quantity for out in outs)
        if count is not None and count < came_out:
            self.add_error(
                "quantity", f"How many: {came_out} of them came out again, so it was {came_out} or more."
            )
        if outs and day is not None and day > outs[0].out_on:
            self.add_error(
                "fitted_on",
                f"Fitted: it came out again on {outs[0].out_on:%d %b %Y}, so it was fitted then or before.",
            )
        return cleaned


class _InEngine(forms.ModelChoiceField):  # type: ignore[type-arg]
    """Chooses one of the parts that are in the engine."""

    def label_from_instance(self, part: Any) -> str:
        """What it is and where, by which number, and since which job."""
        number = part.lot or part.serial or part.maker_number
        return f"{part}{f', {number}' if number else ''}, {part.left} in, job {part.build}"


class NewPartForm(_Findable, OnceForm):
    """A part that goes into a job, perhaps in the place of one that is in the engine."""

    class Meta(PartForm.Meta):
        pass

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        there = parts_in(self.instance.build.engine)
        if there:
            rows = (
                PartFitted.objects.with_out()
                .select_related("build")
                .filter(pk__in=[part.pk for part in there])
            )
            self.fields["instead_of"] = _InEngine(
                rows, required=False, label="Takes the place of", empty_label="nothing that is in the engine",
                help_text="Takes that one out, as replaced, on the day that this one is fitted. One that failed or was "
                "worn is taken out first, with that as the reason.",
            )  # fmt: skip
            self.teach("instead_of")

    def clean(self) -> dict[str, Any]:
        """A part takes the place of one of its own kind."""
        cleaned = super().clean()
        old, role = cleaned.get("instead_of"), cleaned.get("role")
        if old is not None and role and old.role.casefold() != role.casefold():
            self.add_error(
                "instead_of",
                f"A {role} does not take the place of a {old.role}. Choose one of the same kind, or change what it is.",
            )
        return cleaned

    def refuse(self, error: Refused) -> None:
        """What cannot come out is said beside the choice of it, or beside the day that is typed here."""
        self.add_error("fitted_on" if error.field_name == "out_on" else "instead_of", error.sentence)

    def save(self, commit: bool = True) -> PartFitted:
        """Write the part, and take out the one whose place it takes."""
        part: PartFitted = super().save(commit=commit)
        old = self.cleaned_data.get("instead_of")
        if old is not None:
            take_out(
                old, self.person, quantity=part.quantity, out_on=part.fitted_on, why=WhyOut.REPLACED,
                in_job=part.build,
            )  # fmt: skip
        return part


class PartOutForm(OnceForm):
    """So many of a part that came out of its engine."""

    class Meta:
        model = PartTakenOut
        fields = ["quantity", "position", "out_on", "why", "in_job", "note"]
        help_texts = {
            "position": "An address such as 3E, where only one of several came out.",
            "why": "Only “failed” counts as a failure where it is worked out how long parts last.",
            "in_job": "The job in which it was taken out, where there was one.",
        }

    def __init__(self, *args: Any, part: PartFitted, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.part, self.person = part, person
        jobs = self.fields["in_job"]
        assert isinstance(jobs, forms.ModelChoiceField)
        jobs.queryset = Build.objects.filter(engine=part.build.engine_id)
        jobs.empty_label = "no job of ours"
        jobs.error_messages["invalid_choice"] = (
            "In job: that job is not of this engine. Choose one from the list."
        )

    def clean_position(self) -> str:
        """As the address of a part is kept."""
        text: str = self.cleaned_data["position"]
        if sentence := refused("Where in the engine", text):
            raise ValidationError(sentence)
        return kept_as(text)

    def save(self, commit: bool = True) -> PartTakenOut:
        """Take it out by the one way in."""
        made = take_out(
            self.part, self.person, **{name: self.cleaned_data[name] for name in self._meta.fields or ()}
        )
        self.instance = made
        return made
