"""In, undecided or out: the one place where that is decided, by the shop's guard-band rule.

Rule off: a value is plainly in or out, and exactly at the limit is in. Rule on: in only when it is inside the limit by
its expanded uncertainty U = k·u or more, out only when it is beyond by more than U, and undecided between the two
(ISO 14253-1; JCGM 106:2012, 8.3.2, with a guard band of U).
"""

from dataclasses import dataclass
from decimal import Decimal

IN, UNDECIDED, OUT = "in", "undecided", "out"
DRAWN_AS = {IN: "done", UNDECIDED: "look", OUT: "out", "": "todo"}
# A value of exactly the limit is in; the last figure of a division or a binary fraction must not decide it.
ROUNDING = 1e-9
COVERAGE = 2.0

Number = float | Decimal


@dataclass(frozen=True)
class Rule:
    """The shop's rule: whether the guard band is on, and the k in U = k·u."""

    guard_band: bool = False
    coverage: float = COVERAGE

    def expanded(self, standard: float | None) -> float | None:
        """U = k·u; nothing where the standard uncertainty is not known."""
        return None if standard is None else self.coverage * standard

    def judge(
        self, value: Number | None, low: Number | None, high: Number | None, standard: float | None = None
    ) -> str:
        """in, undecided or out; nothing while there is no value or no limit.

        `standard` is the value's standard uncertainty in its own unit. Where it is not known and the rule is on,
        nothing can be proved: the value is undecided unless it is out anyway.
        """
        if value is None or (low is None and high is None):
            return ""
        margin = min(
            float("inf") if low is None else float(value) - float(low),
            float("inf") if high is None else float(high) - float(value),
        )
        if not self.guard_band:
            return IN if margin >= -ROUNDING else OUT
        if standard is None:
            return UNDECIDED if margin >= -ROUNDING else OUT
        guard = self.coverage * standard
        if margin >= guard - ROUNDING:
            return IN
        return OUT if margin < -guard - ROUNDING else UNDECIDED

    def proved_within(self, limit: float, standard: float | None) -> float | None:
        """How far off right a value may be and be in, where it may be off by `limit` either way; None: nothing can be."""
        if not self.guard_band:
            return limit
        if standard is None or limit - self.coverage * standard < -ROUNDING:
            return None
        return max(limit - self.coverage * standard, 0.0)

    def too_coarse(self, low: Number | None, high: Number | None, standard: float | None) -> bool:
        """Whether the rule is on and the limits lie closer than 2·U, so that no value at all could be proved in."""
        if not self.guard_band or standard is None or low is None or high is None:
            return False
        return float(high) - float(low) < 2 * self.coverage * standard - ROUNDING

    @property
    def words(self) -> str:
        """The rule in a sentence, as the shop's page and the sheets print it."""
        k = f"{self.coverage:g}"
        if self.guard_band:
            return (
                f"A value is in only when it is inside its limit by U or more, out when it is beyond by more than U, and "
                f"undecided between. U = {k}·u."
            )
        return f"A value is in up to and including its limit, whatever its uncertainty. U = {k}·u is printed beside it."


# The rule of a book that has set none: the guard band off.
PLAIN = Rule()
