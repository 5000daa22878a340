"""Forms for a lobe: rows from its card, or a table that a cam checker wrote."""

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction

from builds.forms.base import BookForm
from builds.forms.fields import MeasureFormField, PersonUnitsMixin
from builds.forms.sentences import Sentences
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.lobe import RAMP, card_lobe
from valvetrain.lift_table import LARGEST_FILE, TableRefused, decode, read_table
from valvetrain.models import CamCard, LobePoint, LobeTable
from valvetrain.worksheet import lobe_curve_of_table
from valvetrain.worksheet_words import sentence

MOST_ROWS, SPARE_ROWS = 20, 3


class RowForm(Sentences, PersonUnitsMixin, forms.Form):
    """One lift with the duration at it; a row left empty is no row."""

    lift = MeasureFormField(label="Lobe lift", required=False)
    duration = MeasureFormField(label="Duration there", unit_kind="angle", required=False)

    def clean(self) -> dict[str, Any]:
        """Both or neither, and numbers that a lobe can have."""
        cleaned: dict[str, Any] = super().clean() or {}
        lift, duration = cleaned.get("lift"), cleaned.get("duration")
        if self.errors or (lift is None and duration is None):
            return cleaned
        if lift is None or duration is None:
            lacking = "lift" if lift is None else "duration"
            self.add_error(
                lacking, "A row is a lift and the duration at it. Fill in both, or leave both empty."
            )
        elif lift <= 0:
            self.add_error("lift", "This must be more than nothing: a card’s lowest is 0.004 in or so.")
        elif not 1 <= duration <= 700:
            self.add_error("duration", "Crank degrees, from 1 to 700.")
        return cleaned


class RowSet(forms.BaseFormSet):  # type: ignore[type-arg]
    """The rows of one lobe, written as a whole."""

    default_error_messages: ClassVar = {
        "missing_management_form": "This page came without its rows, and nothing was saved. Load it again.",
        "too_many_forms": "There are more than %(num)d rows. Take some away, and save again.",
    }
    card: CamCard | None = None
    kind = ""
    ramp: float | None = None

    @property
    def points(self) -> list[tuple[Any, Any]]:
        """The rows that are filled in."""
        cleaned = [form.cleaned_data for form in self.forms]
        return [(row["lift"], row["duration"]) for row in cleaned if row.get("lift") is not None]

    def clean(self) -> None:
        """One lobe has all these rows."""
        if any(self.errors):
            return
        lifts = [lift for lift, _duration in self.points]
        if len(set(lifts)) < len(lifts):
            raise ValidationError("A lift stands in two rows. Give each lift once.")
        if not lifts or self.card is None:
            return
        try:
            card_lobe(
                [(float(lift), float(duration)) for lift, duration in self.points],
                max_lift=float(self.card.lobe_lift(self.kind)),
                nose_at=0.0,
                ramp=self.ramp or RAMP,
            )
        except GeometryError as error:
            raise ValidationError(sentence(error)) from None


Rows = forms.formset_factory(
    RowForm,
    formset=RowSet,
    extra=SPARE_ROWS,
    max_num=MOST_ROWS,
    absolute_max=MOST_ROWS + 4,
    validate_max=True,
)


class RampForm(BookForm):
    """A lobe's ramp, and the rows with it."""

    class Meta:
        model = LobeTable
        fields = ["ramp"]

    def __init__(
        self, data: Any = None, *, instance: LobeTable, card: CamCard | None, unit: str = "in"
    ) -> None:
        super().__init__(data, instance=instance, unit=unit)
        # What is sent counts alone: a row that is the same as before is not left out as unchanged.
        points = list(instance.points.all()) if instance.pk and data is None else []
        initial = [{"lift": point.lift, "duration": point.duration} for point in points]
        rows: Any = Rows(data, initial=initial, prefix="rows", form_kwargs={"unit": unit})
        rows.card, rows.kind = card, instance.kind
        self.rows = rows

    def is_valid(self) -> bool:
        """Whether the ramp and the rows can be written."""
        mine = super().is_valid()
        self.rows.ramp = float(self.cleaned_data["ramp"]) if self.cleaned_data.get("ramp") else None
        return bool(self.rows.is_valid()) and mine

    @transaction.atomic
    def save(self, commit: bool = True) -> LobeTable:
        """Write the ramp, and of the rows those that are not as before; sent twice it writes the same."""
        table, _made = LobeTable.objects.get_or_create(build=self.instance.build, kind=self.instance.kind)
        table.ramp = self.cleaned_data["ramp"]
        table.save(update_fields=["ramp"])
        wanted = dict(self.rows.points)
        for point in table.points.all():
            duration = wanted.pop(point.lift, None)
            if duration is None:
                point.delete()
            elif duration != point.duration:
                point.duration = duration
                point.save(update_fields=["duration"])
        table.points.bulk_create(
            LobePoint(table=table, lift=lift, duration=duration) for lift, duration in wanted.items()
        )
        return table


class LiftTableForm(BookForm):
    """A table of lift by angle: a file or pasted text, and what its columns are."""

    upload = forms.FileField(
        label="File", required=False,
        help_text="Two plain columns, angle and lift; CSV or text, parted by comma, semicolon or tab. At most 200 kB.",
    )  # fmt: skip
    paste = forms.CharField(
        label="Or paste the rows here",
        required=False,
        max_length=LARGEST_FILE,
        widget=forms.Textarea,
        strip=False,
    )
    take_out = forms.BooleanField(label="Take the table out; the card’s rows are used again", required=False)
    field_order = ["upload", "paste"]

    class Meta:
        model = LobeTable
        fields = ["lift_unit", "angles_of", "placed_by", "smoothing"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["paste"].widget.attrs["rows"] = 8
        if not self.instance.text:
            del self.fields["take_out"]
        self.fields["upload"].error_messages |= {
            "empty": "File: there is nothing in this file. Choose the one with the table."
        }

    def clean(self) -> dict[str, Any]:
        """Read the table once, as it will be read each time."""
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("take_out"):
            self.instance.text = self.instance.file_name = ""
            return cleaned
        where, text = self._given(cleaned)
        if not where or self.errors:
            return cleaned
        if not text.strip():
            self.add_error(where, "Choose a file, or paste the rows.")
            return cleaned
        try:
            read_table(text, cleaned.get("lift_unit", "in"))
        except TableRefused as error:
            self.add_error(where, str(error))
            return cleaned
        self.instance.text = text
        return cleaned

    def _given(self, cleaned: dict[str, Any]) -> tuple[str, str]:
        """The field that brought a table, and its text; what is kept already when neither did."""
        upload, pasted = cleaned.get("upload"), cleaned.get("paste", "")
        if upload and pasted.strip():
            self.add_error("paste", "There is a file and pasted text. Give one of them.")
            return "", ""
        if upload:
            self.instance.file_name = upload.name[:120]
            try:
                return "upload", decode(upload.read(LARGEST_FILE + 1))
            except TableRefused as error:
                self.add_error("upload", str(error))
                return "", ""
        if pasted.strip():
            self.instance.file_name = ""
            return "paste", pasted
        return ("upload", self.instance.text)

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        if self.errors or not self.instance.text:
            return
        try:
            lobe_curve_of_table(self.instance, 0.0)
        except GeometryError as error:
            self.add_error("paste" if self.cleaned_data.get("paste") else "upload", sentence(error))

    @transaction.atomic
    def save(self, commit: bool = True) -> LobeTable:
        """Write the table in place of the one before; sent twice it writes the same."""
        mine = self.instance
        table, _made = LobeTable.objects.get_or_create(build=mine.build, kind=mine.kind)
        for name in (*self.Meta.fields, "text", "file_name"):
            setattr(table, name, getattr(mine, name))
        table.save(update_fields=[*self.Meta.fields, "text", "file_name"])
        return table
