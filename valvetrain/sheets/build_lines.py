"""What a build sheet says, as plain data: the whole engine as the customer gets it.

Lengths are inches, whatever unit they are printed in; times are the book's local time. The page is rendered from this
alone.
"""

from dataclasses import dataclass, field

from valvetrain.charts.packmap import PackMapNumbers
from valvetrain.planshapes import StandPlace, ValvePlace
from valvetrain.sheets.snapshot import (
    CamLine,
    CorrectionLine,
    Fact,
    GaugeLine,
    LimitLine,
    OutLine,
    StandLine,
    StepOutLine,
)
from valvetrain.sheets.steplines import LogLines
from valvetrain.sheets.words import marked


@dataclass(frozen=True)
class PartLine:
    """One part, or several of one lot."""

    role: str
    where: str
    count: int
    maker: str
    maker_number: str
    lot: str
    serial: str
    fitted: str
    note: str


@dataclass(frozen=True)
class BuildValve:
    """One valve as it leaves the shop. The mark's width is empty where it was not read, or no longer counts."""

    address: str
    kind: str
    stand: str
    lift: float | None
    lift_source: str
    left: str
    uncertainty_words: str
    verdict: str
    sweep: float | None
    sweep_verdict: str
    mark: str
    mark_verdict: str
    problem: str

    @property
    def verdict_marked(self) -> str:
        """in, undecided or out behind its sign, or that it is not read."""
        return marked(self.verdict or "not read")

    @property
    def sweep_marked(self) -> str:
        """The same of the sweep; nothing where it is in."""
        return marked(self.sweep_verdict) if self.sweep_verdict in ("out", "undecided") else ""

    @property
    def mark_marked(self) -> str:
        """The same of the mark's width."""
        return marked(self.mark_verdict)


@dataclass(frozen=True)
class BuildHead:
    """One head: its stands and packs, its valves, the steps of its log."""

    name: str
    stands: list[StandLine]
    valves: list[BuildValve]
    plan_stands: tuple[StandPlace, ...]
    plan_valves: tuple[ValvePlace, ...]
    plan_states: dict[str, str]
    log: LogLines


@dataclass(frozen=True)
class BuildSheet:
    """The build sheet of one job. `standing` says in words how many values are in, and what is not."""

    shop: list[str]
    job: str
    engine: str
    title: list[Fact]
    standing: list[str]
    parts: list[PartLine]
    rockers: list[list[Fact]]
    cam: list[Fact]
    cam_lines: list[CamLine]
    block: LogLines
    heads: list[BuildHead]
    packs: PackMapNumbers | None
    limits: list[LimitLine]
    rule: str
    gauges: list[GaugeLine]
    ever_out: list[OutLine]
    steps_out: list[StepOutLine]
    corrections: list[CorrectionLine]
    missing: list[str]
    cautions: list[str]
    advice: list[str]
    unit: str
    printed: str
    printed_by: str
    time_zone: str
    geometry_version: str
    draft: bool = field(default=True)

    @property
    def unit_name(self) -> str:
        """The unit of every length, as a word."""
        return "millimetres" if self.unit == "mm" else "inches"
