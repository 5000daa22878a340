"""One line of as found beside as built: a thing at an address, how it stood when the engine left and how it stands now.

The uncertainty of a change is the root sum of squares of those of its two ends, U = k·√(u₁² + u₂²) (JCGM 100, 5.1.2), and
the change in units of U is the E_n number of ISO 13528 and ISO/IEC 17043, d/√(U₁² + U₂²), with both U of the same k. That
takes the two sides as independent. What both share, the same tool's error, an arm's size, a lift that stands in, cancels
in the change and is counted all the same: U is on the safe side. A tool that wore or was knocked in between is not in it.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

from builds.limits import LimitFor
from builds.measures import show
from builds.uncertainty import plus_minus
from builds.verdicts import DRAWN_AS, IN, OUT

MANY_U = 9.95  # from here on a tenth of U says nothing


@dataclass(frozen=True)
class Stood:
    """How a thing stood on one side: its value, the mean of `count` readings or a figure, and how it is judged.

    Values and `standard` are in the base unit; `standard` is None where nothing is known of a tool. `there`: whether the
    engine had the address at all.
    """

    value: Decimal | None = None
    count: int = 0
    standard: float | None = None
    limit: LimitFor | None = None
    verdict: str = ""
    there: bool = True

    @property
    def drawn_as(self) -> str:
        """The class of its verdict; what is read and not judged is done."""
        return "done" if self.value is not None and not self.verdict else DRAWN_AS[self.verdict]


@dataclass(frozen=True)
class Compared:
    """One thing at one address, then and now. `unit` is the reader's; `note` says what makes the two not quite alike."""

    position: str
    key: str
    name: str
    step: str
    step_name: str
    order: int
    unit: str
    length_unit: str
    coverage: float
    then: Stood
    now: Stood
    places: int | None = None
    url: str = ""
    note: str = ""

    @property
    def change(self) -> Decimal | None:
        """Now less then [base unit]; None where it was read on one side only."""
        if self.then.value is None or self.now.value is None:
            return None
        return self.now.value - self.then.value

    @property
    def expanded(self) -> float | None:
        """U of the change [base unit], with the shop's k; None where the uncertainty of an end is not known."""
        if self.change is None or self.then.standard is None or self.now.standard is None:
            return None
        return self.coverage * math.hypot(self.then.standard, self.now.standard)

    @property
    def moved(self) -> float | None:
        """The change in units of its U; None where there is no change to tell, or no U."""
        return float(self.change) / self.expanded if self.change is not None and self.expanded else None

    @property
    def told_apart(self) -> bool:
        """Whether the change is more than its uncertainty."""
        return self.moved is not None and abs(self.moved) > 1

    @property
    def out_now(self) -> bool:
        """Whether it is out of its limit as found."""
        return self.now.verdict == OUT

    @property
    def lacks(self) -> str:
        """Why there is nothing to compare; empty where both sides were read."""
        if not self.then.there:
            return "was not there when it left"
        if not self.now.there:
            return "is not on it as found"
        if self.then.value is None:
            return "was not read when it left"
        return "not read as found" if self.now.value is None else ""

    @property
    def same_limit(self) -> bool:
        """Whether it is judged by the same limit on both sides, so that the limit is said once."""
        return _ends(self.then.limit) == _ends(self.now.limit)

    def _shown(self, value: Decimal | None) -> str:
        return show(value, self.unit, self.places)

    @property
    def then_words(self) -> str:
        """The built value in the reader's unit, without the unit."""
        return self._shown(self.then.value)

    @property
    def now_words(self) -> str:
        """The found value in the reader's unit, without the unit."""
        return self._shown(self.now.value)

    @property
    def change_words(self) -> str:
        """The change with its sign, in the reader's unit, without the unit."""
        return show(self.change, self.unit, self.places, sign=True)

    @property
    def expanded_words(self) -> str:
        """U of the change: ± 0.0013 in; or that it is not known."""
        if self.change is None:
            return ""
        return "U not known" if self.expanded is None else plus_minus(self.expanded, self.unit)

    @property
    def moved_words(self) -> str:
        """The change in units of U: 18 U, 1.4 U; or that it is not known."""
        if self.change is None:
            return ""
        if self.moved is None:
            return "U not known"
        size = abs(self.moved)
        return f"{size:.0f} U" if size >= MANY_U else f"{size:.1f} U"

    @property
    def then_limit_words(self) -> str:
        """The limit that held when it left."""
        return "" if self.then.limit is None else self.then.limit.words(self.length_unit)

    @property
    def now_limit_words(self) -> str:
        """The limit that holds now."""
        return "" if self.now.limit is None else self.now.limit.words(self.length_unit)

    @property
    def shows_then(self) -> bool:
        """Whether the verdict then has to be said: where it was not plainly in by the limit of now."""
        return bool(self.then.verdict) and not (
            self.same_limit and self.then.verdict in (IN, self.now.verdict)
        )

    @property
    def verdict_words(self) -> str:
        """The verdict now with its limit; that of then before it where it was not plainly in by the same limit."""
        now = f"{self.now.verdict} now" if self.now.verdict else ""
        if now and self.now.limit is not None:
            now += f" ({self.now_limit_words})"
        if not self.shows_then:
            return now
        then = f"{self.then.verdict} then"
        if self.then.limit is not None and not (now and self.same_limit):
            then += f" ({self.then_limit_words})"
        return f"{then}, {now}" if now else then

    @property
    def sentence(self) -> str:
        """All of it: 5E lash, cold: 0.0180 → 0.0410 in, +0.0230 (18 U), out now (0.0160 to 0.0200 in)."""
        gap = "" if self.unit == "°" else " "
        if self.lacks:
            value = self.now.value if self.then.value is None else self.then.value
            told = "" if value is None else f"{self._shown(value)}{gap}{self.unit}, "
            return f"{self.position} {self.name}: {told}{self.lacks}"
        told = (
            f"{self.then_words} → {self.now_words}{gap}{self.unit}, {self.change_words} ({self.moved_words})"
        )
        verdict = f", {self.verdict_words}" if self.verdict_words else ""
        return f"{self.position} {self.name}: {told}{verdict}"


def _ends(limit: LimitFor | None) -> tuple[Decimal | None, Decimal | None] | None:
    return None if limit is None else (limit.low, limit.high)
