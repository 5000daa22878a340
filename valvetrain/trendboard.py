"""The page of a job's trends: what is asked, the lines of the overview with their small drawings, and the large chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256

from builds.models import Build, CheckRule, RunUnit
from builds.uncertainty import plus_minus
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.trend import Read, TrendNumbers, trend_chart, trend_table
from valvetrain.geometry.drift import Straight
from valvetrain.trends import FOLLOWED, Followed, Trend, TrendBook
from valvetrain.trendwords import (
    MARKED,
    crossing_words,
    drift_words,
    so_much,
    state_word,
    trust_words,
    unit_of,
    words,
)

SMALL_WIDE, SMALL_HIGH, SMALL_EDGE = 150.0, 44.0, 5.0


@dataclass(frozen=True)
class Small:
    """A small drawing of a trend, in drawing units: dots, the line, and the limits as far as they are near."""

    dots: tuple[tuple[float, float], ...]
    line: tuple[float, float, float, float] | None
    limits: tuple[float, ...]
    ran: float
    width: float = SMALL_WIDE
    height: float = SMALL_HIGH


@dataclass(frozen=True)
class TrendLine:
    """One valve of the overview. `interval` is the running between looks by the shop's rule; nothing without one."""

    trend: Trend
    length_unit: str
    interval: float = 0.0

    @property
    def word(self) -> str:
        """Where it stands."""
        return state_word(self.trend, self.interval)

    @property
    def drawn_as(self) -> str:
        """The class of its state."""
        return MARKED[self.word]

    @property
    def drift(self) -> str:
        """How fast and which way."""
        return drift_words(self.trend, self.length_unit)

    @property
    def leaves(self) -> str:
        """When it leaves its limit."""
        return crossing_words(self.trend)

    @property
    def trust(self) -> str:
        """How far that is to be trusted."""
        return trust_words(self.trend, self.length_unit)

    @property
    def ran(self) -> str:
        """How much the engine has run now."""
        return so_much(self.trend.ran, self.trend.run_unit)

    @property
    def read(self) -> str:
        """How often it was read, and at which running last."""
        count = len(self.trend.points)
        return f"{count} reading{'s' if count != 1 else ''}"

    @cached_property
    def small(self) -> Small:
        """Its small drawing."""
        return small_of(self.trend)


def small_of(trend: Trend) -> Small:
    """Lay a small drawing out: running across, what was read up; limits that lie far off are left away."""
    points = [(float(point.running), float(point.value)) for point in trend.points]
    across = max(float(trend.ran), max(x for x, _y in points), 1.0)
    values = [y for _x, y in points]
    if trend.limit is not None:
        values += [float(end) for end in (trend.limit.low, trend.limit.high) if end is not None]
    low, high = min(values), max(values)
    if low == high:
        low, high = low - abs(low or 1.0) * 0.01, high + abs(high or 1.0) * 0.01

    def place(x: float, y: float) -> tuple[float, float]:
        return (
            round(SMALL_EDGE + x / across * (SMALL_WIDE - 2 * SMALL_EDGE), 1),
            round(SMALL_EDGE + (high - y) / (high - low) * (SMALL_HIGH - 2 * SMALL_EDGE), 1),
        )

    ends = [] if trend.limit is None else [e for e in (trend.limit.low, trend.limit.high) if e is not None]
    line = None
    if trend.drift is not None:
        first, last = trend.drift.first, across
        on = trend.drift.line
        line = (*place(first, on.at(first)), *place(last, on.at(last)))
    limits = tuple(place(0.0, float(end))[1] for end in ends)
    return Small(tuple(place(*point) for point in points), line, limits, place(float(trend.ran), low)[0])


class TrendBoard:
    """All that the page shows of one job: `key` is what is followed, `address` the valve that is drawn large."""

    def __init__(self, job: Build, length_unit: str, *, key: str = "", run_unit: str = "") -> None:
        self.job, self.length_unit = job, length_unit
        self.book = TrendBook([job], run_unit=run_unit if run_unit in RunUnit.values else "")
        self.all = self.book.trends(job.pk)
        self.key = key if key in FOLLOWED else next((trend.followed.key for trend in self.all), "lash_cold")
        self.run_unit = self.book.run_unit(job.pk)
        self._intervals = {
            rule.step: float(rule.every) for rule in CheckRule.objects.filter(unit=self.run_unit, in_use=True)
        }

    @property
    def followed(self) -> Followed:
        """What is shown."""
        return FOLLOWED[self.key]

    @property
    def choices(self) -> list[Followed]:
        """What there is to choose from: everything that was read again."""
        there = {trend.followed.key for trend in self.all}
        return [each for key, each in FOLLOWED.items() if key in there]

    @property
    def run_units(self) -> list[str]:
        """The units that the running was counted in."""
        return list(dict.fromkeys([*self.book.records[self.job.pk].totals, self.run_unit]))

    @property
    def lines(self) -> list[TrendLine]:
        """The valves, what leaves its limit first at the head."""
        return [self.line(trend) for trend in self.all if trend.followed.key == self.key]

    @property
    def soonest(self) -> list[TrendLine]:
        """Everything that is out, past its line, or near, of whatever is followed."""
        return [line for line in map(self.line, self.all) if line.drawn_as in ("out", "look")]

    @property
    def not_again(self) -> int:
        """At how many valves it was read as built and never since."""
        return self.book.not_again(self.job.pk, self.key)

    def line(self, trend: Trend) -> TrendLine:
        """One valve with what the shop's rule says of it."""
        return TrendLine(trend, self.length_unit, self._intervals.get(trend.followed.step, 0.0))

    def at(self, address: str) -> TrendLine | None:
        """The line of one valve; the first one where none is named."""
        lines = self.lines
        if not address:
            return lines[0] if lines else None
        return next((line for line in lines if line.trend.address == address), None)


@dataclass(frozen=True)
class LargeChart:
    """The large chart of one trend, with its sentence and the figures behind it."""

    line: TrendLine

    @cached_property
    def numbers(self) -> TrendNumbers:
        """What it is drawn from."""
        return numbers_of(self.line.trend, self.line.length_unit)

    @property
    def drawing(self) -> Drawing:
        """The drawing."""
        return trend_chart(self.numbers)

    @property
    def table(self) -> ChartTable:
        """The figures behind it."""
        return trend_table(self.numbers)

    @property
    def words(self) -> str:
        """The same in a sentence."""
        return f"{self.line.trend.address}, {self.line.trend.followed.name}: {self.numbers.words}"

    @property
    def version(self) -> str:
        """Changes with the numbers, so that a browser may keep the picture until then."""
        return sha256(repr(self.numbers).encode()).hexdigest()[:12]

    @property
    def last_known(self) -> str:
        """What was read last, with its U."""
        point, unit = self.line.trend.last, unit_of(self.line.trend, self.line.length_unit)
        if point.standard is None:
            return ""
        return plus_minus(self.line.trend.rule.coverage * point.standard, unit)


def numbers_of(trend: Trend, length_unit: str) -> TrendNumbers:
    """A trend as plain numbers for its chart."""
    rule, limit, drift, crossing = trend.rule, trend.limit, trend.drift, trend.crossing

    def judged(value: float, standard: float | None) -> str:
        return "" if limit is None else rule.judge(value, limit.low, limit.high, standard)

    def plain(lines: Sequence[Straight | None]) -> tuple[tuple[float, float], ...]:
        return tuple((line.slope, line.intercept) for line in lines if line is not None)

    points = tuple(
        Read(
            float(point.running), float(point.value), rule.expanded(point.standard), point.name,
            judged(float(point.value), point.standard), point.left_out,
        )
        for point in trend.points
    )  # fmt: skip
    going_out = crossing is not None and crossing.heading in ("toward", "out")
    return TrendNumbers(
        points, trend.followed.name,
        line=plain([drift.line])[0] if drift else None,
        ends=plain([drift.slowest, drift.fastest]) if drift else (),
        confidence=drift.confidence if drift else 0.0,
        low=None if limit is None or limit.low is None else float(limit.low),
        high=None if limit is None or limit.high is None else float(limit.high),
        at=crossing.at if crossing is not None and going_out else None,
        ran=float(trend.ran), run_unit=trend.run_unit, unit=unit_of(trend, length_unit), address=trend.address,
        words=words(trend, length_unit),
    )  # fmt: skip
