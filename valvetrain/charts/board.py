"""The page of charts of one head: what each chart is, its words and its table; or what it waits for."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import sha256
from typing import Protocol

from builds.worklog import WorkLog
from valvetrain.charts.gathered import (
    pack_numbers,
    residuals,
    spring_of,
    spring_sheets,
    valve_numbers,
)
from valvetrain.charts.load import load_chart, load_table
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.packmap import pack_map, pack_table
from valvetrain.charts.ratio import ratio_chart, ratio_table
from valvetrain.charts.residuals import residual_chart, residual_table
from valvetrain.charts.spring import spring_chart, spring_table
from valvetrain.charts.travel import contact_table, travel_chart
from valvetrain.charts.worked import load_of, ratio_of
from valvetrain.gathering import gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.lift_table import TableRefused
from valvetrain.models import Head
from valvetrain.states import HeadState
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState
from valvetrain.worksheet import Case, case_of
from valvetrain.worksheet_pairs import pairs_at
from valvetrain.worksheet_words import Gap


class Asked(Protocol):
    """What a person asks to see."""

    @property
    def address(self) -> str:
        """The valve."""

    @property
    def speeds(self) -> tuple[float, ...]:
        """Engine speeds [rpm]."""


@dataclass(frozen=True)
class Chart:
    """One chart on the page; without a drawing where something is missing, and then `gaps` say what."""

    key: str
    heading: str
    drawing: Drawing | None = None
    table: ChartTable | None = None
    gaps: list[Gap] = field(default_factory=list)

    @property
    def version(self) -> str:
        """Changes with the drawing, so that a browser may keep it until then."""
        return sha256(self.drawing.svg.encode()).hexdigest()[:12] if self.drawing else ""


HEADINGS = {
    "residuals": "Height along the head",
    "packs": "Packs of the engine",
    "contact": "Contact through the lift",
    "ratio": "Ratio through the lift",
    "spring": "Spring load against height",
    "load": "Load through the lift, by speed",
}
OF_A_VALVE = ("contact", "ratio", "spring", "load")


class ChartBoard:
    """Everything that the page shows; each chart is worked out when it is asked for."""

    def __init__(self, head: Head, unit: str, ask: Callable[[HeadState], Asked]) -> None:
        self.head, self.unit, self.build = head, unit, head.job
        self._heads = gather(
            Head.objects.filter(build=self.build).select_related("build__engine__customer"), with_tools=True
        )
        self.states = [head_state(records) for records in self._heads]
        self.state = next(state for state in self.states if state.head.pk == head.pk)
        self.look = ask(self.state)
        self._makers: Mapping[str, Callable[[str], Chart]] = {
            "residuals": self._residuals, "packs": self._packs, "contact": self._contact, "ratio": self._ratio,
            "spring": self._spring, "load": self._load,
        }  # fmt: skip

    @property
    def whole(self) -> list[Chart]:
        """The charts of the whole head and engine."""
        return [self.chart(key) for key in HEADINGS if key not in OF_A_VALVE]

    @property
    def of_valve(self) -> list[Chart]:
        """The charts of the asked valve; none on a head without valves."""
        return [self.chart(key) for key in OF_A_VALVE] if self.state.valves else []

    def chart(self, key: str) -> Chart:
        """One chart. `KeyError` where there is no such chart."""
        try:
            return self._makers[key](key)
        except (GeometryError, TableRefused) as error:
            told = str(error).rstrip(".")
            return _waits(key, f"{self.look.address}: {told}.")

    @cached_property
    def valve(self) -> ValveState:
        """The asked valve."""
        return next(valve for valve in self.state.valves if valve.address == self.look.address)

    @cached_property
    def case(self) -> Case:
        """Everything that the worksheet knows of the asked valve."""
        return case_of(self._heads, self.build, self.valve.valve)

    def _residuals(self, key: str) -> Chart:
        if all(valve.height_error is None for valve in self.state.valves):
            return _waits(
                key,
                "No height is read on this head yet: read the stands at the bench.",
                "bench",
                self.head.pk,
            )
        numbers = residuals(self.state, self.unit)
        return _drawn(key, residual_chart(numbers), residual_table(numbers))

    def _packs(self, key: str) -> Chart:
        if not any(state.stands for state in self.states):
            return _waits(key, "This engine’s heads have no stands yet.", "head-detail", self.head.pk)
        numbers = pack_numbers(self.states, self.unit)
        return _drawn(key, pack_map(numbers), pack_table(numbers))

    def _contact(self, key: str) -> Chart:
        numbers = valve_numbers(self.valve, self.unit)
        if numbers is None:
            return _waits(key, self.valve.problem)
        return _drawn(key, travel_chart(numbers), contact_table(numbers))

    def _ratio(self, key: str) -> Chart:
        pairs = [(pair.lobe_lift, pair.valve_lift) for pair in pairs_at(self.build, self.valve.address)]
        numbers = ratio_of(self.case, pairs, self.unit)
        if isinstance(numbers, str):
            return _waits(key, numbers)
        gaps = []
        if numbers.linkage is None:
            words = "The ratio at each lift needs the pushrod’s side: where cup, pushrod and lifter stand."
            gaps = [Gap(words, "worksheet-new", (self.build.pk, "pushrod"), "Enter the pushrod’s side")]
        return _drawn(key, ratio_chart(numbers), ratio_table(numbers), gaps)

    def _spring(self, key: str) -> Chart:
        numbers = spring_of(self.valve, WorkLog(self.build, self.unit), spring_sheets(self.build), self.unit)
        if isinstance(numbers, str):
            gap = Gap(numbers, "log-step", (self.build.pk, "springs"), "To the springs’ step")
            return Chart(key, HEADINGS[key], gaps=[gap])
        return _drawn(key, spring_chart(numbers), spring_table(numbers))

    def _load(self, key: str) -> Chart:
        numbers = load_of(self.case, self.look.speeds, self.unit)
        if isinstance(numbers, list):
            return Chart(key, HEADINGS[key], gaps=numbers)
        gaps = []
        if not numbers.by_speed:
            words = "The load by speed needs the weights of what moves."
            gaps = [Gap(words, "worksheet-new", (self.build.pk, "masses"), "Enter the weights")]
        return _drawn(key, load_chart(numbers), load_table(numbers), gaps)


def _drawn(key: str, drawing: Drawing, table: ChartTable, gaps: list[Gap] | None = None) -> Chart:
    return Chart(key, HEADINGS[key], drawing, table, gaps or [])


def _waits(key: str, words: str, url_name: str = "", *args: object) -> Chart:
    links = {"bench": "To the bench", "head-detail": "To the hardware"}
    return Chart(key, HEADINGS[key], gaps=[Gap(words, url_name, args, links.get(url_name, ""))])
