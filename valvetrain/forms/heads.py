"""Forms for heads and layouts, and for the stands, pads and valves on them."""

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from builds.forms.base import BookForm, OnceForm
from builds.forms.sentences import InlineRows
from builds.tracking import as_one_edit
from valvetrain.addresses import cylinders_beyond, doubled, renamed, taken_on_other_heads
from valvetrain.models import Head, Pad, Stand, Valve

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


class RowForm(BookForm):
    """One row of several that are held against each other as a whole: two may swap their names in one go."""

    def validate_unique(self) -> None:
        """The rows as a whole say it, in the shop's words."""

    def validate_constraints(self) -> None:
        """As above."""


class PadForm(RowForm):
    """One pad of a stand."""

    class Meta:
        model = Pad
        fields = ["letter", "along", "across"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["across"].initial = Decimal(0)  # most pads stand on the line that across is measured from


class PadRows(InlineRows):
    """The pads of one stand."""

    def clean(self) -> None:
        """Letters are single on a stand, a stand keeps at least one pad, and measured pads keep their address."""
        if any(self.errors):
            return
        rows = [form for form in self.forms if form.has_changed() or form.instance.pk]
        kept = [form for form in rows if not form.cleaned_data.get("DELETE")]
        stand: Stand = self.instance
        if not kept:
            raise ValidationError("A stand sits on at least one pad. Give it a letter and its place.")
        letters = [form.cleaned_data["letter"] for form in kept]
        if len(set(letters)) < len(letters):
            raise ValidationError("Two pads of this stand have the same letter. Give each its own: A, B.")
        if stand.pk is None:
            return
        before = {pad.pk: Pad(stand=stand, letter=pad.letter).address for pad in stand.pads.all()}
        after = {
            form.instance.pk: Pad(stand=stand, letter=form.cleaned_data["letter"]).address
            for form in kept
            if form.instance.pk
        }
        sentences = renamed(before, after, stand.head.measured_addresses())
        if sentences:
            raise ValidationError(sentences)

    @as_one_edit()
    def save(self, commit: bool = True) -> list[Pad]:
        """Write the rows; letters step aside first, so that two pads may swap theirs."""
        parked = [
            form for form in self.initial_forms if "letter" in form.changed_data or form in self.deleted_forms
        ]
        for number, form in enumerate(parked):
            Pad.objects.filter(pk=form.instance.pk).update(letter=f"!{number:x}")
        saved: list[Pad] = super().save(commit=commit)
        return saved


PadFormSet = forms.inlineformset_factory(
    Stand, Pad, form=PadForm, formset=PadRows, extra=2, max_num=12, absolute_max=14, validate_max=True
)


STAND_FIELDS = [
    "name", "label", "order", "pad_tilt", "bolt_diameter", "bolt_hole", "bolt_length", "washer_thickness",
    "thickness_at_bolt", "tapped_depth",
]  # fmt: skip


class StandRules(BookForm):
    """What both forms of a stand do: keep its name right, and carry its pads along."""

    instance: Stand
    cleaned_data: dict[str, Any]

    def __init__(self, data: Any = None, *, instance: Stand, unit: str = "in", **kwargs: Any) -> None:
        super().__init__(data, instance=instance, unit=unit, **kwargs)
        self.pads = PadFormSet(data, instance=instance, form_kwargs={"unit": unit})

    def clean_name(self) -> str:
        """Keep the name single on the head, and as it is once the log names the stand."""
        name: str = self.cleaned_data["name"]
        stand = self.instance
        if Stand.objects.filter(head=stand.head_id, name=name).exclude(pk=stand.pk).exists():
            raise ValidationError(
                f"There is a {name} on this head already. Give each stand a name of its own."
            )
        if stand.pk is not None and name != stand.name:
            new = Stand(head=stand.head, name=name).address
            sentences = renamed({stand.pk: stand.address}, {stand.pk: new}, stand.head.measured_addresses())
            if sentences:
                raise ValidationError(sentences[0])
        return name

    def is_valid(self) -> bool:
        """Whether the stand and its pads can be written."""
        return all([super().is_valid(), self.pads.is_valid()])

    @transaction.atomic
    def save(self, commit: bool = True) -> Stand:
        """Write the stand and its pads."""
        stand: Stand = super().save(commit=commit)
        self.pads.instance = stand
        self.pads.save()
        return stand


class StandForm(StandRules):
    """One stand with its bolts, the tilt of its pads, and the pads."""

    class Meta:
        model = Stand
        fields = STAND_FIELDS
        help_texts = {
            "name": "As it stands in addresses: stand2.",
            "label": "In words: intake bar, five pads.",
        }


class NewStandForm(StandRules, OnceForm):
    """A stand that is new on its head."""

    class Meta(StandForm.Meta):
        pass


def _one_of(stands: list[Stand]) -> Callable[[str], Stand]:
    """Read a chosen stand. One that is not there is a `ValueError`, which the field answers in words."""
    by_key = {str(stand.pk): stand for stand in stands}

    def read(key: str) -> Stand:
        if key not in by_key:
            raise ValueError(key)
        return by_key[key]

    return read


class ValveForm(RowForm):
    """One valve of a head."""

    class Meta:
        model = Valve
        fields = ["order", "cylinder", "kind", "nth", "stand", "along", "across", "tip_diameter"]
        labels = {"order": "Order", "nth": "Which of two"}

    def __init__(self, *args: Any, stands: list[Stand], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # One list for all rows: a query for each row's choices would grow with the head.
        self.fields["stand"] = forms.TypedChoiceField(
            label="Stand",
            choices=[("", "—"), *((stand.pk, stand.name) for stand in stands)],
            coerce=_one_of(stands),
            empty_value=None,
            error_messages={
                "required": "Stand: choose the one that carries this valve’s rocker.",
                "invalid_choice": "Stand: this one is not on this head. Choose another.",
            },
        )
        self.initial["stand"] = str(self.instance.stand_id or "")


class ValveRows(InlineRows):
    """All valves of one head."""

    def __init__(self, data: Any = None, *, instance: Head, **kwargs: Any) -> None:
        count = len(instance.valves.all())
        kwargs.setdefault("initial", [{"order": count + place} for place in (1, 2)])
        super().__init__(data, instance=instance, **kwargs)

    def clean(self) -> None:
        """Addresses are single in the engine, and measured valves keep their address and their stand."""
        if any(self.errors):
            return
        head: Head = self.instance
        rows = [form for form in self.forms if form.has_changed() or form.instance.pk]
        kept = [form for form in rows if not form.cleaned_data.get("DELETE")]
        after = {id(form): form.instance.address for form in kept}
        before = {form.instance.pk: self._as_kept(form.instance.pk) for form in rows if form.instance.pk}
        fixed = head.measured_addresses()
        sentences = doubled(after.values())
        sentences += cylinders_beyond(head, [form.instance.cylinder for form in kept])
        sentences += taken_on_other_heads(head, after.values())
        sentences += renamed(
            {pk: valve.address for pk, valve in before.items()},
            {form.instance.pk: after[id(form)] for form in kept if form.instance.pk},
            fixed,
        )
        for form in kept:
            old = before.get(form.instance.pk)
            if old is not None and old.address in fixed and old.stand_id != form.instance.stand_id:
                sentences.append(
                    f"{old.address} stands in the log of this job: it stays on {old.stand.name}."
                )
        if sentences:
            raise ValidationError(sentences)

    def _as_kept(self, pk: int) -> Valve:
        if not hasattr(self, "_kept"):
            self._kept = {
                valve.pk: valve for valve in Valve.objects.filter(head=self.instance).select_related("stand")
            }
        return self._kept[pk]

    @as_one_edit()
    def save(self, commit: bool = True) -> list[Valve]:
        """Write the rows; addresses step aside first, so that two valves may swap theirs."""
        parked = [
            form
            for form in self.initial_forms
            if {"cylinder", "kind", "nth"} & set(form.changed_data) or form in self.deleted_forms
        ]
        for number, form in enumerate(parked):
            Valve.objects.filter(pk=form.instance.pk).update(cylinder=1000 + number)
        saved: list[Valve] = super().save(commit=commit)
        for form in parked:
            if form not in self.deleted_forms:
                form.instance.save(update_fields=["cylinder"])
        return saved


ValveFormSet = forms.inlineformset_factory(
    Head,
    Valve,
    form=ValveForm,
    formset=ValveRows,
    fk_name="head",
    extra=2,
    max_num=72,
    absolute_max=80,
    validate_max=True,
)
