"""What the page of one height's uncertainty shows, in words and in the reader's unit."""

from dataclasses import dataclass

from builds.measures import show
from builds.uncertainty import plus_minus
from valvetrain.acts import high_or_low
from valvetrain.budgets import Line
from valvetrain.budgetwords import most_of_it, offer_words
from valvetrain.models import Head
from valvetrain.valvestate import ValveState


@dataclass(frozen=True)
class BudgetRow:
    """One line of the table."""

    name: str
    known: str
    adds: str
    share: str
    without: str


@dataclass(frozen=True)
class BudgetBoard:
    """The height error of one valve, its U, and where that comes from."""

    head: Head
    valve: ValveState
    unit: str

    @property
    def height(self) -> str:
        """The height error with its U: 0.024 in low, ± 0.0012 in."""
        error, expanded = self.valve.height_error, self.valve.expanded
        if error is None or expanded is None:
            return ""
        return f"{high_or_low(error, self.unit)}, {plus_minus(expanded, self.unit)}"

    @property
    def rule(self) -> str:
        """The rule by which it is judged."""
        return self.valve.rule.words

    @property
    def most(self) -> str:
        """Where most of it comes from, as a sentence."""
        told = most_of_it(self.valve)
        return f"{told[0].upper()}{told[1:]}." if told else ""

    @property
    def rows(self) -> list[BudgetRow]:
        """Every input, the greatest share first."""
        budget = self.valve.budget
        return [self._row(line) for line in budget.lines] if budget is not None else []

    def _row(self, line: Line) -> BudgetRow:
        return BudgetRow(
            line.name,
            line.known.words(self.unit) if line.known is not None else "from the readings themselves",
            plus_minus(line.adds, self.unit),
            f"{line.share:.0f} %",
            plus_minus(line.without, self.unit),
        )

    @property
    def offers(self) -> list[str]:
        """What would make it better known."""
        budget = self.valve.budget
        return [offer_words(offer, self.unit) for offer in budget.offers] if budget is not None else []

    @property
    def standard(self) -> str:
        """How U is made: U = 2 × 0.00058 in."""
        budget = self.valve.budget
        if budget is None:
            return ""
        places = 5 if self.unit == "in" else 4
        u = show(budget.standard, self.unit, places, with_unit=True)
        return f"U = {budget.budget.coverage:g} × {u}"
