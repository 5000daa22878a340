"""The valves of a head, typed in rows."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.forms.sentences import InlineRows
from builds.tracking import as_one_edit
from valvetrain.addresses import cylinders_beyond, doubled, renamed, taken_on_other_heads
from valvetrain.forms.rows import RowForm
from valvetrain.models import Head, Stand, Valve


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
