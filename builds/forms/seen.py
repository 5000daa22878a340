"""Two people at one form: what the other wrote since the page was opened stays, and is never written over unseen."""

from typing import TYPE_CHECKING, Any

from django import forms

from builds.tracking import history_of

# What it is mixed into is a form for one record.
if TYPE_CHECKING:
    _Form = forms.ModelForm[Any]
else:
    _Form = object

# Who, what, and what to do about it.
WRITTEN_SINCE = (
    "{who} wrote {theirs} here after you had opened this page. Yours is still in the field: save once more to put it in "
    "its place, or type what holds."
)
LONGEST_TOLD = 80


class SeenMixin(_Form):
    """Knows which state of its record was seen when the page was opened.

    A field that only the other changed keeps what the other wrote; one that both changed is refused once, with what
    stands there now.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["seen"] = forms.IntegerField(widget=forms.HiddenInput, required=False)
        rows = self._rows() if self.instance.pk is not None else None
        last = None if rows is None else rows.order_by("-history_id").first()
        self._last: Any = last
        if last is not None:
            self.initial.setdefault("seen", last.history_id)

    def clean(self) -> Any:
        """Hold what was typed against what was written since."""
        cleaned = super().clean()
        seen = self.cleaned_data.get("seen")
        if seen is None or self._last is None or seen == self._last.history_id:
            return cleaned
        then = self._rows().filter(history_id=seen).first()
        if then is None:
            return cleaned
        refused = False
        for name in self._meta.fields or ():
            key = self._meta.model._meta.get_field(name).attname
            was, stands = getattr(then, key), getattr(self._last, key)
            if name in self.errors or was == stands or _same(self.typed(name), stands):
                continue
            if _same(self.typed(name), was):
                self.keep(name, stands)
            else:
                refused = True
                self.add_error(name, WRITTEN_SINCE.format(who=self._who(), theirs=self._told(name)))
        if refused:
            data: Any = self.data.copy()  # type: ignore[attr-defined]
            data[self.add_prefix("seen")] = str(self._last.history_id)
            self.data = data
        return cleaned

    def typed(self, name: str) -> Any:
        """What was typed into a field, as the record would keep it."""
        value = self.cleaned_data.get(name)
        return getattr(value, "pk", value)

    def keep(self, name: str, value: Any) -> None:
        """Let stand what the other wrote."""
        field = self._meta.model._meta.get_field(name)
        if field.is_relation:
            choices: Any = self.fields[name]
            value = None if value is None else choices.queryset.filter(pk=value).first()
        self.cleaned_data[name] = value

    def _rows(self) -> Any:
        return history_of(self._meta.model).model.objects.filter(id=self.instance.pk)

    def _who(self) -> str:
        return str(self._last.history_user or "Somebody")

    def _told(self, name: str) -> str:
        field = self._meta.model._meta.get_field(name)
        value = getattr(self._last, field.attname)
        if value is None or value == "":
            return "nothing"
        if field.is_relation:
            value = field.related_model._base_manager.filter(pk=value).first()
        elif field.flatchoices:
            value = dict(field.flatchoices).get(value, value)
        text = f"{value:%-d %b %Y}" if hasattr(value, "strftime") else str(value)
        return f"“{text[:LONGEST_TOLD]}{'…' if len(text) > LONGEST_TOLD else ''}”"


def _same(one: Any, other: Any) -> bool:
    """Whether two come to the same: an address in small letters is the address."""
    if isinstance(one, str) and isinstance(other, str):
        return one.strip().casefold() == other.strip().casefold()
    return bool(one == other)
