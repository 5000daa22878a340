"""What to draw on the page of charts: which valve, and at which engine speeds."""

import re
from collections.abc import Iterable
from typing import Any

from django import forms

SLOWEST, FASTEST, MOST = 100, 20_000, 4
USUAL = (5000.0, 6500.0, 8000.0)


class SpeedsField(forms.CharField):
    """Engine speeds with spaces or commas between them."""

    def to_python(self, value: Any) -> Any:
        """Read the typed text into speeds [rpm]; the usual ones where nothing is typed."""
        text = super().to_python(value)
        words = [word for word in re.split(r"[\s,;]+", text or "") if word]
        if not words:
            return USUAL
        if not all(re.fullmatch(r"[0-9]{1,6}", word) for word in words):
            raise forms.ValidationError(f"“{text}” is not engine speeds. Type whole numbers: 5000 6500 8000.")
        speeds = tuple(dict.fromkeys(float(word) for word in words))
        if len(speeds) > MOST:
            raise forms.ValidationError(
                f"{len(speeds)} speeds are too many for one chart. Type up to {MOST}."
            )
        off = next((speed for speed in speeds if not SLOWEST <= speed <= FASTEST), None)
        if off is not None:
            raise forms.ValidationError(
                f"{off:.0f} rpm is no engine’s speed here. Type {SLOWEST} to {FASTEST}."
            )
        return speeds


class DrawForm(forms.Form):
    """Asked by address, so that a page of charts can be kept as a bookmark."""

    valve = forms.ChoiceField(
        label="Valve", error_messages={"invalid_choice": "There is no such valve on this head. Choose one."}
    )
    rpm = SpeedsField(
        label="Engine speeds, rpm", required=False, max_length=40, help_text="Up to four, with spaces between them.",
        widget=forms.TextInput({"inputmode": "numeric", "autocomplete": "off"}),
    )  # fmt: skip

    def __init__(self, data: Any, *, addresses: Iterable[str], first: str) -> None:
        self.first = first
        asked = {"valve": data.get("valve", "").strip() or first, "rpm": data.get("rpm", "")}
        super().__init__(asked, auto_id="draw_%s")
        valve = self.fields["valve"]
        assert isinstance(valve, forms.ChoiceField)
        valve.choices = [(address, address) for address in addresses]

    @property
    def address(self) -> str:
        """The valve that is asked about; the first where that is none of this head's."""
        self.is_valid()
        return self.cleaned_data.get("valve") or self.first

    @property
    def speeds(self) -> tuple[float, ...]:
        """The speeds that are asked about; the usual ones where what was typed is none."""
        self.is_valid()
        return self.cleaned_data.get("rpm") or USUAL
