"""One valve's drift against running: what was read, the robust line with its interval, the limits, and when it is out."""

from dataclasses import dataclass
from functools import lru_cache

from builds.measures import in_unit, show
from builds.uncertainty import plus_minus
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import DOTTED, LOW, NARROW, WIDE, Plot
from valvetrain.charts.style import GRAPHITE, HEAVY, HIDDEN, LETTERING, LINE, SOFT, THIN, write

AHEAD = 2.5  # a crossing further off than so many times what it has run is not on the chart


# A point beside the line is drawn to scale up to so many times the height of all else.
NEAR_BY = 1.0


@dataclass(frozen=True)
class Read:
    """One point: running, what was read [base unit], U, when, its verdict, and why the line does not go through it."""

    running: float
    value: float
    uncertainty: float | None = None
    name: str = ""
    verdict: str = ""
    left_out: str = ""


@dataclass(frozen=True)
class TrendNumbers:
    """A trend in plain numbers. Lines are (slope, intercept) [base unit]; running is counted in `run_unit`."""

    points: tuple[Read, ...]
    what: str
    line: tuple[float, float] | None = None
    ends: tuple[tuple[float, float], ...] = ()
    confidence: float = 0.0
    low: float | None = None
    high: float | None = None
    at: float | None = None
    ran: float = 0.0
    run_unit: str = "passes"
    unit: str = "in"
    address: str = ""
    words: str = ""

    @property
    def last(self) -> float:
        """Running at the last reading."""
        return max(point.running for point in self.points)

    @property
    def across(self) -> float:
        """How much running the chart shows."""
        shown = max(self.ran, self.last, 1.0)
        if self.at is not None and 0 < self.at <= AHEAD * shown:
            shown = max(shown, self.at)
        return 1.12 * shown


def trend_table(numbers: TrendNumbers) -> ChartTable:
    """What was read when, and what the line says there."""
    unit = numbers.unit
    rows = []
    for point in numbers.points:
        on_line = None if numbers.line is None else _on(numbers.line, point.running)
        rows.append(
            (
                point.name, f"{point.running:.10g}", show(point.value, unit),
                "–" if point.uncertainty is None else plus_minus(point.uncertainty, unit),
                point.verdict or "not judged",
                point.left_out or show(on_line, unit),
            )
        )  # fmt: skip
    columns = (
        "when", f"after, {numbers.run_unit}", f"read, {unit}", "U", "verdict", f"on the line, {unit}",
    )  # fmt: skip
    return ChartTable(f"{numbers.address}: {numbers.what} against running", columns, tuple(rows))


@lru_cache(maxsize=128)
def trend_chart(numbers: TrendNumbers, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw the readings as marks with their U, the line through them, dashed where nothing is read yet."""
    legend = [*_limit_words(numbers)]
    plot = Plot(width, LOW if width <= NARROW else 2.7, legend_lines=2 + bool(numbers.ends) + bool(legend))
    axes, unit = plot.axes, numbers.unit
    axes.set_xlim(-0.03 * numbers.across, numbers.across)
    axes.set_ylim(*_up(numbers))
    for limit in (numbers.low, numbers.high):
        if limit is not None:
            axes.axhline(_in(limit, unit), color=GRAPHITE, lw=HEAVY, ls=HIDDEN)
    if numbers.line is not None:
        _lines(plot, numbers)
    for point in numbers.points:
        _mark(plot, point, unit)
    if numbers.ran > 0:
        axes.axvline(numbers.ran, color=SOFT, lw=THIN)
        axes.text(
            numbers.ran, axes.get_ylim()[0], f" has run {numbers.ran:.10g}",
            ha="right" if numbers.ran > 0.7 * numbers.across else "left",
            va="bottom", fontsize=LETTERING - 0.5, color=SOFT, rotation=0,
        )  # fmt: skip
    plot.scales(f"running since it left, {numbers.run_unit}", f"{numbers.what}, {unit}")
    plot.legend(_marks_words(numbers), mark="o")
    if numbers.line is None:
        plot.legend("no line: read at one running only", dash=DOTTED, width=THIN)
    else:
        plot.legend("robust line through them; thin where nothing is read yet", width=HEAVY)
    if numbers.ends:
        share = f"{100 * numbers.confidence:.0f} %"
        plot.legend(f"ends of its interval ({share})", dash=DOTTED, width=LINE)
    if legend:
        plot.legend(", ".join(legend), dash=HIDDEN)
    title = f"{numbers.address}: {numbers.what} against running"
    return write(plot.figure, title, numbers.words or title, lettered=lettered)


def _lines(plot: Plot, numbers: TrendNumbers) -> None:
    assert numbers.line is not None
    unit, axes = numbers.unit, plot.axes
    first = min(point.running for point in numbers.points if not point.left_out)
    for slope, height in numbers.ends:
        xs = (first, numbers.across)
        plot.line(xs, [_in(_on((slope, height), x), unit) for x in xs], dash=DOTTED, width=LINE, color=SOFT)
    for xs, width in (((first, numbers.last), HEAVY), ((numbers.last, numbers.across), THIN)):
        plot.line(xs, [_in(_on(numbers.line, x), unit) for x in xs], width=width)
    if numbers.at is not None and 0 < numbers.at <= numbers.across:
        height = _in(_on(numbers.line, numbers.at), unit)
        axes.plot(
            [numbers.at], [height], marker="D", ms=6, mfc="white", mec=GRAPHITE, mew=1.2, ls="none", zorder=5
        )
        axes.annotate(
            f"about {numbers.at:.0f}", (numbers.at, height), xytext=(0, 7), textcoords="offset points", ha="center",
            va="bottom", fontsize=LETTERING, color=GRAPHITE,
        )  # fmt: skip


def _mark(plot: Plot, point: Read, unit: str) -> None:
    value = _in(point.value, unit)
    low, high = plot.axes.get_ylim()
    if not low <= value <= high:
        _off_the_scale(plot, point, unit)
        return
    if point.uncertainty is not None:
        plot.axes.errorbar(
            [point.running], [value], yerr=[_in(point.uncertainty, unit)], color=SOFT, lw=LINE, capsize=2.5,
            capthick=LINE,
        )  # fmt: skip
    if point.verdict == "out":
        how = {"marker": "x", "ms": 7, "mew": 2.0, "color": GRAPHITE}
    else:
        filled = not point.left_out and point.verdict != "undecided"
        how = {"marker": "o", "ms": 4.5, "mfc": GRAPHITE if filled else "white", "mec": GRAPHITE, "mew": LINE}
    plot.axes.plot([point.running], [value], ls="none", zorder=4, **how)  # type: ignore[arg-type]


def _off_the_scale(plot: Plot, point: Read, unit: str) -> None:
    """What was found far away, at the edge that it lies beyond: its height would press the drift flat."""
    low, high = plot.axes.get_ylim()
    above = _in(point.value, unit) > high
    edge = high if above else low
    plot.axes.plot(
        [point.running],
        [edge],
        marker="^" if above else "v",
        ms=8,
        color=GRAPHITE,
        ls="none",
        zorder=5,
        clip_on=False,
    )
    plot.axes.annotate(
        f"{point.name} {show(point.value, unit)}", (point.running, edge), xytext=(-8, 2 if above else -2),
        textcoords="offset points", ha="right", va="bottom" if above else "top", fontsize=LETTERING, color=GRAPHITE,
    )  # fmt: skip


def _up(numbers: TrendNumbers) -> tuple[float, float]:
    """How high the chart reaches: what the line goes through, with its U, and the limits; more where it lies near."""
    limits = [limit for limit in (numbers.low, numbers.high) if limit is not None]
    ends = limits + [end for point in numbers.points if not point.left_out for end in _ends(point)]
    reach = NEAR_BY * (max(ends) - min(ends))
    ends += [
        end
        for point in numbers.points
        if point.left_out and min(ends) - reach <= point.value <= max(ends) + reach
        for end in _ends(point)
    ]
    low, high = min(ends), max(ends)
    room = 0.16 * ((high - low) or abs(high) or 1.0)
    # The words above a crossing of the upper limit stay inside the frame.
    rises = numbers.line is not None and numbers.line[0] > 0 and numbers.at is not None
    return _in(low - room, numbers.unit), _in(high + (1.8 if rises else 1.0) * room, numbers.unit)


def _ends(point: Read) -> tuple[float, float]:
    return point.value - (point.uncertainty or 0.0), point.value + (point.uncertainty or 0.0)


def _on(line: tuple[float, float], running: float) -> float:
    return line[1] + line[0] * running


def _in(value: float, unit: str) -> float:
    return float(in_unit(value, unit, 9))


def _limit_words(numbers: TrendNumbers) -> list[str]:
    unit = numbers.unit
    told = []
    if numbers.low is not None:
        told.append(f"not below {show(numbers.low, unit)}")
    if numbers.high is not None:
        told.append(f"not above {show(numbers.high, unit)}")
    return [*told[:-1], f"{told[-1]} {unit}"] if told else []


def _marks_words(numbers: TrendNumbers) -> str:
    """What the marks mean, those that are on it."""
    told = ["dot: read"]
    told += [f"open: {why}" for why in dict.fromkeys(each.left_out for each in numbers.points) if why]
    if any(point.verdict == "undecided" for point in numbers.points):
        told.append("open: undecided")
    if any(point.verdict == "out" for point in numbers.points):
        told.append("cross: out")
    if any(point.uncertainty is not None for point in numbers.points):
        told.append("bar: ± U")
    return ", ".join(told)
