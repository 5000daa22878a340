"""What a setup sheet says, as plain data: text, numbers and lists, so that it can be kept as JSON.

Lengths are inches, whatever unit they are printed in; times are the book's local time. The page is rendered from this
alone.
"""

from dataclasses import asdict, dataclass, field
from typing import Any

from valvetrain.charts.load import LoadNumbers
from valvetrain.charts.packmap import PackMapNumbers
from valvetrain.charts.ratio import RatioNumbers
from valvetrain.charts.spring import SpringNumbers
from valvetrain.planshapes import StandPlace, ValvePlace
from valvetrain.sheets.steplines import LogLines
from valvetrain.sheets.words import marked


@dataclass(frozen=True)
class Fact:
    """A name and what stands beside it."""

    name: str
    text: str


@dataclass(frozen=True)
class CamLine:
    """One line of the cam card, for both valves."""

    name: str
    intake: str
    exhaust: str


@dataclass(frozen=True)
class LimitLine:
    """One limit that the sheet judges by, and where it comes from."""

    name: str
    text: str
    source: str


@dataclass(frozen=True)
class ReadingLine:
    """One height reading: as typed, and the top of the shaft that it comes to."""

    typed: str
    way: str
    feeler: str
    top: float
    instrument: str
    by: str
    at: str

    @property
    def words(self) -> str:
        """As the builder says it: what was read, and what the gauge stood on."""
        read = self.typed if self.way == "gap" else f"{self.way} {self.typed}"
        return f"{read}, foot on {self.feeler}" if self.feeler else read


@dataclass(frozen=True)
class ArmLine:
    """The rocker at a valve, as the drawings need it."""

    length: float
    tip_radius: float
    shaft_radius: float
    square_at: float


@dataclass(frozen=True)
class TipLine:
    """The witness mark as it was read on a tip: edges from the centre line, and its taper."""

    inner: float
    outer: float
    taper: float | None


@dataclass(frozen=True)
class ValveLine:
    """One row of the table: what a valve should be, what it was found at, and what it is with its pack.

    `uncertainty` is that of what is left over, expanded.
    """

    address: str
    kind: str
    stand: str
    tip_diameter: float
    arm: ArmLine | None
    lift: float | None
    lift_source: str
    target_top: float | None
    found_error: float | None
    found: str
    pack: str
    pack_total: float
    readings: list[ReadingLine]
    top_now: float | None
    left_over: float | None
    left: str
    uncertainty: float | None
    uncertainty_words: str
    low: float | None
    high: float | None
    verdict: str
    sweep_right: float | None
    sweep_now: float | None
    sweep_verdict: str
    problem: str
    changed: list[str]
    mark: TipLine | None = None

    @property
    def instruments(self) -> str:
        """Marks of what the proving set was read with."""
        return _each_once(reading.instrument for reading in self.readings)

    @property
    def by(self) -> str:
        """Who read the proving set."""
        return _each_once(reading.by for reading in self.readings)

    @property
    def at(self) -> str:
        """When the last of the proving set was read."""
        return self.readings[-1].at if self.readings else ""

    @property
    def read_words(self) -> str:
        """The proving set as it was typed; that there are several where there are."""
        if not self.readings:
            return self.problem or "not read"
        told = "; ".join(reading.words for reading in self.readings)
        return f"{told}; mean of {len(self.readings)}" if len(self.readings) > 1 else told

    @property
    def verdict_marked(self) -> str:
        """in, undecided or out behind its sign, or that it is not read."""
        return marked(self.verdict or "not read")


@dataclass(frozen=True)
class StandLine:
    """One stand: its pack, its thread, and how it stands."""

    address: str
    label: str
    pads: int
    pack: str
    pack_total: float
    fitted_by: str
    fitted_at: str
    engagement: float | None
    asked: float | None
    enough: bool | None
    past_thread: float
    status: str

    @property
    def thread_word(self) -> str:
        """Whether the thread is enough, as words."""
        if self.enough is None:
            return "sizes do not fit"
        if self.past_thread > 5e-5:
            return "bolt may bottom"
        return "enough" if self.enough else "short"


@dataclass(frozen=True)
class OutLine:
    """A height that was out of its limit at some time: as found, and what was done."""

    address: str
    when: str
    pack: str
    error: float
    came_to: str
    readings: str
    verdict: str
    then: str

    @property
    def near(self) -> str:
        """That it lies beyond its limit and is not called out, where the shop's rule says so."""
        return (
            "" if self.verdict in ("", "in", "out") else f", beyond its limit by less than U: {self.verdict}"
        )


@dataclass(frozen=True)
class StepOutLine:
    """A value of a step that was out of its limit at some time: as found, and what was read after the work."""

    address: str
    step: str
    what: str
    when: str
    found: str
    limit: str
    verdict: str
    then: str

    @property
    def near(self) -> str:
        """That it lies beyond its limit and is not called out, where the shop's rule says so."""
        return "" if self.verdict in ("", "in", "out") else f", beyond it by less than U: {self.verdict}"


@dataclass(frozen=True)
class CorrectionLine:
    """A reading that was corrected or struck out: it stays on the sheet, with the reason."""

    address: str
    what: str
    old: str
    old_by: str
    came_to: str
    new: str
    reason: str
    by: str
    at: str


@dataclass(frozen=True)
class GaugeLine:
    """An instrument that read something on this sheet."""

    mark: str
    kind: str
    reads_to: float | None
    step: float | None
    dummy: float | None
    checked: str
    due: str
    overdue: bool


@dataclass(frozen=True)
class SetupSheet:
    """The setup sheet of one head."""

    shop: list[str]
    job: str
    title: list[Fact]
    head: str
    valves: list[ValveLine]
    stands: list[StandLine]
    ever_out: list[OutLine]
    steps_out: list[StepOutLine]
    corrections: list[CorrectionLine]
    gauges: list[GaugeLine]
    rockers: list[list[Fact]]
    cam: list[Fact]
    cam_lines: list[CamLine]
    limits: list[LimitLine]
    rule: str
    missing: list[str]
    cautions: list[str]
    plan_stands: tuple[StandPlace, ...]
    plan_valves: tuple[ValvePlace, ...]
    plan_states: dict[str, str]
    log: LogLines
    springs: list[SpringNumbers]
    unit: str
    printed: str
    printed_by: str
    time_zone: str
    geometry_version: str
    draft: bool = True
    ratios: list[RatioNumbers] = field(default_factory=list)
    loads: list[LoadNumbers] = field(default_factory=list)
    packs: PackMapNumbers | None = None

    @property
    def unit_name(self) -> str:
        """The unit of every length, as a word."""
        return "millimetres" if self.unit == "mm" else "inches"

    def to_plain(self) -> dict[str, Any]:
        """The sheet as JSON takes it."""
        return asdict(self)


def _each_once(words: Any) -> str:
    return ", ".join(dict.fromkeys(word for word in words if word))
