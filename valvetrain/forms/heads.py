"""Forms for heads and layouts, and for the stands, pads and valves on them."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.forms.base import BookForm, OnceForm
from valvetrain.addresses import cylinders_beyond, renamed, taken_on_other_heads
from valvetrain.models import Head, Stand

CODE_TAKEN = "Another head of this job has this letter. Give each head its own: L, R."
LAYOUT_TAKEN = "There is a layout with this name on the shelf. Give this one another name."


class HeadRules:
    """What every form of a head checks: its letter, and its name on the shelf."""

    instance: Head
    cleaned_data: dict[str, Any]

    def clean_code(self) -> str:
        """Keep the letter single on a job, and as it is once the log names it."""
        code: str = self.cleaned_data["code"]
        head: Head = self.instance
        others = Head.objects.filter(build=head.build_id, code=code).exclude(pk=head.pk)
        if head.build_id is not None and others.exists():
            raise ValidationError(CODE_TAKEN)
        if head.pk is not None and code != head.code:
            stands, renamed_head = list(head.stands.all()), Head(code=code)
            before = {stand.pk: stand.address for stand in stands}
            after = {stand.pk: Stand(head=renamed_head, name=stand.name).address for stand in stands}
            sentences = renamed(before, after, head.measured_addresses())
            if sentences:
                raise ValidationError(f"{sentences[0]} Keep the letter {head.code or 'empty'}.")
        return code

    def clean_layout_name(self) -> str:
        """Keep the name single on the shelf."""
        name: str = self.cleaned_data["layout_name"].strip()
        if Head.objects.filter(layout_name=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(LAYOUT_TAKEN)
        return name


class HeadForm(HeadRules, BookForm):
    """A head of a job."""

    class Meta:
        model = Head
        fields = ["name", "code", "material", "note"]


class LayoutForm(HeadRules, BookForm):
    """A layout on the shelf."""

    layout_name = forms.CharField(label="Layout name", max_length=80, help_text="V8 head, paired stands.")

    class Meta:
        model = Head
        fields = ["layout_name", "material", "note"]


class NewLayoutForm(HeadRules, OnceForm):
    """A layout that starts empty: its stands and valves are added next."""

    layout_name = forms.CharField(label="Layout name", max_length=80, help_text="V8 head, paired stands.")

    class Meta:
        model = Head
        fields = ["layout_name", "material", "note"]


class ShelfCopyForm(HeadRules, OnceForm):
    """The name of a layout that is copied from a head or from another layout."""

    layout_name = forms.CharField(label="Name of the new layout", max_length=80)

    class Meta:
        model = Head
        fields = ["layout_name"]

    def __init__(self, *args: Any, source: Head, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.source = source

    def save(self, commit: bool = True) -> Head:
        """Put the copy on the shelf, with its cylinders numbered from one."""
        places = {cylinder: place for place, cylinder in enumerate(self.source.cylinders_along(), start=1)}
        return self.source.copy_to(
            None,
            code="",
            name=self.source.name,
            layout_name=self.cleaned_data["layout_name"],
            cylinders=places,
        )


class NewHeadForm(HeadRules, OnceForm):
    """A head for a job, copied from a layout, with the cylinders it serves."""

    layout = forms.ModelChoiceField(
        label="Layout",
        queryset=Head.objects.filter(build=None).order_by("layout_name"),
        empty_label="Choose a layout",
        help_text="Its stands, pads and valves are copied, and can be changed here without touching the layout.",
        error_messages={"invalid_choice": "Layout: this one is not on the shelf any more. Choose another."},
    )
    cylinders = forms.CharField(
        label="Cylinders it serves",
        max_length=80,
        help_text="In order along the head, from its front: 1 3 5 7.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "text"}),
    )

    class Meta:
        model = Head
        fields = ["name", "code"]

    field_order = ["layout", "name", "code", "cylinders"]

    def clean_cylinders(self) -> list[int]:
        """Read the cylinders' numbers."""
        typed = self.cleaned_data["cylinders"]
        words = [word for word in re.split(r"[\s,;-]+", typed.strip()) if word]
        if not all(re.fullmatch(r"[0-9]{1,2}", word) for word in words):
            raise ValidationError(
                f"“{typed}” is not a row of cylinders. Type their numbers with spaces: 1 3 5 7."
            )
        numbers = [int(word) for word in words]
        if len(set(numbers)) < len(numbers):
            raise ValidationError(
                f"“{typed}” names a cylinder twice. Type each one once, in order along the head."
            )
        beyond = cylinders_beyond(self.instance, numbers)
        if beyond:
            raise ValidationError(beyond[0])
        return numbers

    def clean(self) -> dict[str, Any]:
        """The layout has as many cylinders as were typed, and no other head of the engine has them."""
        cleaned: dict[str, Any] = super().clean() or {}
        layout, numbers = cleaned.get("layout"), cleaned.get("cylinders")
        if layout is None or numbers is None:
            return cleaned
        places = layout.cylinders_along()
        if len(places) != len(numbers):
            self.add_error(
                "cylinders",
                f"This layout has {len(places)} cylinders, and {len(numbers)} are typed. Type one for each.",
            )
            return cleaned
        self.renumber = dict(zip(places, numbers, strict=True))
        addresses = []
        for valve in layout.valves.all():
            valve.cylinder = self.renumber[valve.cylinder]
            addresses.append(valve.address)
        taken = taken_on_other_heads(self.instance, addresses)
        if taken:
            self.add_error("cylinders", taken[0])
        return cleaned

    def save(self, commit: bool = True) -> Head:
        """Copy the chosen layout onto the job."""
        chosen = self.cleaned_data
        layout: Head = chosen["layout"]
        return layout.copy_to(
            self.instance.build, code=chosen["code"], name=chosen["name"], cylinders=self.renumber
        )
