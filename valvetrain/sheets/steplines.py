"""What the setup sheet says of the steps of the set-up log, as plain data.

A value stands as it was typed; where that was in another unit than the column's it is converted, with what was typed in
brackets.
"""

from dataclasses import dataclass

from valvetrain.sheets.words import marked

MOST_ACROSS, FEW_COLUMNS = 12, 4  # a table of few columns and no more addresses lies on its side


@dataclass(frozen=True)
class StepColumn:
    """One thing that was measured, or a figure that follows: its name, its unit, and how it is worked out."""

    name: str
    unit: str
    formula: str = ""

    @property
    def head(self) -> str:
        """The column's heading."""
        return f"{self.name}, {self.unit}" if self.unit and self.unit != "×" else self.name


@dataclass(frozen=True)
class StepValue:
    """One value at one address, with its verdict where it is judged."""

    text: str
    verdict: str = ""

    @property
    def told(self) -> str:
        """The value, and on a line of its own its verdict wherever that is not in; a bare verdict behind its sign."""
        if self.text == self.verdict:
            return marked(self.verdict)
        return self.text if self.verdict in ("", "in") else f"{self.text}\n{marked(self.verdict)}"


@dataclass(frozen=True)
class StepBlock:
    """One step as it stands in a table: its columns, its values row by row, and a verdict for each row."""

    name: str
    columns: list[StepColumn]
    values: list[list[StepValue]]
    verdicts: list[str]
    limits: list[str]
    readers: list[str]
    not_read: str

    @property
    def judged(self) -> bool:
        """Whether anything here is judged; where nothing is, there is no column for verdicts."""
        return any(value.verdict for row in self.values for value in row)

    @property
    def width(self) -> int:
        """Columns that it takes, its verdicts among them."""
        return len(self.columns) + self.judged

    @property
    def formulas(self) -> str:
        """How the figures that follow are worked out."""
        return "; ".join(f"{column.name} = {column.formula}" for column in self.columns if column.formula)


@dataclass(frozen=True)
class StepTable:
    """Steps that are measured at the same addresses, side by side."""

    kind: str
    addresses: list[str]
    blocks: list[StepBlock]

    @property
    def turned(self) -> bool:
        """Whether it reads better lying on its side, the addresses across."""
        columns = sum(block.width for block in self.blocks)
        return columns <= FEW_COLUMNS and 1 < len(self.addresses) <= MOST_ACROSS

    @property
    def title(self) -> str:
        """The steps that stand in it."""
        return ", ".join(block.name for block in self.blocks).capitalize()


@dataclass(frozen=True)
class LogLines:
    """The set-up log of one head: what was measured, and the steps of which nothing was."""

    tables: list[StepTable]
    not_measured: list[str]
