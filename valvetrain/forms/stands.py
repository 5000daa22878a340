"""Stands with their pads, typed."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from builds.forms.base import BookForm, OnceForm
from builds.forms.sentences import InlineRows
from builds.tracking import as_one_edit
from valvetrain.addresses import renamed
from valvetrain.forms.rows import RowForm
from valvetrain.models import Pad, Stand


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
