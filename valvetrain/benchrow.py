"""One valve's line on the bench: what is read there, what to read next, and what is said of it."""

import zlib
from dataclasses import dataclass
from typing import Any

from builds.characteristics import Characteristic
from builds.measures import for_field, show
from builds.models import Reading
from builds.uncertainty import plus_minus
from valvetrain.acts import high_or_low
from valvetrain.budgetwords import most_of_it
from valvetrain.packwords import amount
from valvetrain.status import DRAWN_AS, STATUS_WORDS, Status
from valvetrain.valvestate import ValveState

WAY_WORDS = {
    "net_lift": "net lift, by dial",
    "stand_gap": "height, by gauge and feeler",
    "top_of_shaft": "height, tip to top of shaft",
    "underside_of_shaft": "height, tip to underside of shaft",
}


@dataclass(frozen=True)
class Row:
    """One valve on the bench: its field, what it should read, and what it comes to."""

    valve: ValveState
    unit: str
    characteristic: Characteristic
    expected: str
    kept: Reading | None
    fitted: bool

    @property
    def address(self) -> str:
        """The valve's printed address."""
        return self.valve.address

    @property
    def status(self) -> Status:
        """How the valve stands."""
        return self.valve.status(fitted=self.fitted)

    @property
    def status_word(self) -> str:
        """The word for it."""
        return STATUS_WORDS[self.status]

    @property
    def drawn_as(self) -> str:
        """The class for it."""
        return DRAWN_AS[self.status]

    @property
    def lift_words(self) -> str:
        """The net lift and where it comes from."""
        inputs = self.valve.inputs
        if inputs.lift is None:
            return "no net lift yet"
        told = f"net lift {show(inputs.lift, self.unit, with_unit=True)}, {inputs.lift_source}"
        if inputs.lift_count > 1:
            told += f", mean of {inputs.lift_count}, range {amount(inputs.lift_spread or 0, self.unit)}"
        return told

    @property
    def comes_to(self) -> str:
        """What the height comes to: 0.024 in low."""
        error = self.valve.height_error
        return "" if error is None else high_or_low(error, self.unit)

    @property
    def doubt_words(self) -> str:
        """How well the height is known: ± 0.0012 in."""
        expanded = self.valve.expanded
        return "" if expanded is None else plus_minus(expanded, self.unit)

    @property
    def most_words(self) -> str:
        """What most of the doubt comes from."""
        return most_of_it(self.valve)

    @property
    def mean_words(self) -> str:
        """Mean, range and number of repeats, where there are any."""
        if self.valve.spread is None or self.valve.top_now is None:
            return ""
        count = len(self.valve.reads)
        return f"mean of {count}, range {amount(self.valve.spread, self.unit)}"

    @property
    def sweep_words(self) -> str:
        """How wide the mark will be at this height."""
        width = self.valve.sweep_now
        if width is None:
            return ""
        limit = self.valve.sweep_limit
        passed = limit.high if limit is not None and self.valve.sweep_verdict == "out" else None
        told = f"mark {show(width, self.unit, 3 if self.unit == 'in' else 2, with_unit=True)} wide"
        return told if passed is None else f"{told}, over the {amount(passed, self.unit)} limit"

    @property
    def drawing_version(self) -> str:
        """Changes whenever the drawings of this valve do, so that a browser may keep them until then."""
        valve = self.valve
        told = (valve.inputs.arm, valve.inputs.lift, valve.inputs.square_at, valve.height_error, self.unit)
        return f"{zlib.crc32(repr(told).encode()):08x}"

    @property
    def kept_text(self) -> str:
        """What was typed for the newest reading, in the unit of the person who looks."""
        if self.kept is None:
            return ""
        same_unit = self.kept.unit == self.unit
        return self.kept.text if same_unit else for_field(self.kept.value, self.unit)

    @property
    def kept_feeler(self) -> str:
        """The blade that was under the foot for the newest reading."""
        feeler: dict[str, Any] = (self.kept.context.get("foot_feeler") or {}) if self.kept else {}
        return str(feeler.get("text", ""))
