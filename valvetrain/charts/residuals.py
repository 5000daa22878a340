"""Each valve's height error along the head, against the limit."""

from dataclasses import dataclass
from functools import lru_cache

from matplotlib.ticker import FixedFormatter, FixedLocator

from builds.measures import in_unit, show
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import LOW, NARROW, WIDE, Plot, told
from valvetrain.charts.style import GRAPHITE, HEAVY, HIDDEN, LETTERING, LINE, SOFT, write


@dataclass(frozen=True)
class Residual:
    """One valve [in]: how high the shaft stands (negative: low), None where it is not read; and its U."""

    address: str
    error: float | None
    verdict: str = ""
    uncertainty: float | None = None


@dataclass(frozen=True)
class ResidualNumbers:
    """The valves of a head in their order along it, with the limit that judges them [in]."""

    valves: tuple[Residual, ...]
    low: float | None = None
    high: float | None = None
    unit: str = "in"
    head: str = ""

    @property
    def read(self) -> list[Residual]:
        """Those with a height."""
        return [valve for valve in self.valves if valve.error is not None]


def residual_words(error: float | None, unit: str) -> str:
    """How far a height is off and which way."""
    if error is None:
        return "not read"
    shown = show(abs(error), unit)
    return "right" if not shown.strip("0.") else f"{shown} {'high' if error > 0 else 'low'}"


def residual_table(numbers: ResidualNumbers) -> ChartTable:
    """Every valve with its error, its verdict, and its uncertainty where there is one."""
    unit = numbers.unit
    with_u = any(valve.uncertainty is not None for valve in numbers.valves)
    rows = [
        (
            valve.address, residual_words(valve.error, unit), valve.verdict or "not read",
            *([f"± {show(valve.uncertainty, unit)}" if valve.uncertainty is not None else "–"] if with_u else []),
        )
        for valve in numbers.valves
    ]  # fmt: skip
    columns = ("valve", f"shaft, {unit}", "verdict", *([f"U, {unit}"] if with_u else []))
    return ChartTable("Height error along the head", columns, tuple(rows))


@lru_cache(maxsize=128)
def residual_chart(numbers: ResidualNumbers, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw each valve's error as a mark on its line: filled in, open undecided, a cross out; with the limits."""
    unit = numbers.unit
    plot = Plot(width, LOW if width <= NARROW else 2.25, legend_lines=2)
    axes = plot.axes
    count = len(numbers.valves)
    axes.axhline(0.0, color=GRAPHITE, lw=LINE)
    for limit in (numbers.low, numbers.high):
        if limit is not None:
            axes.axhline(_in(limit, unit), color=GRAPHITE, lw=HEAVY, ls=HIDDEN)
    for place, valve in enumerate(numbers.valves):
        if valve.error is None:
            axes.text(place, 0.0, "–", ha="center", va="bottom", fontsize=LETTERING, color=SOFT)
            continue
        error = _in(valve.error, unit)
        axes.plot([place, place], [0.0, error], color=GRAPHITE, lw=LINE)
        if valve.uncertainty is not None:
            reach = _in(valve.uncertainty, unit)
            axes.errorbar([place], [error], yerr=[reach], color=SOFT, lw=LINE, capsize=2.5, capthick=LINE)
        _mark(plot, place, error, valve.verdict)
    axes.set_xlim(-0.6, max(count, 1) - 0.4)
    reach = max(
        [abs(_in(limit, unit)) for limit in (numbers.low, numbers.high) if limit is not None]
        + [_in(abs(valve.error or 0.0) + (valve.uncertainty or 0.0), unit) for valve in numbers.valves]
        + [_in(0.002, unit)]
    )
    axes.set_ylim(-1.18 * reach, 1.18 * reach)
    plot.scales("valve, in order along the head", f"off its height, {unit}\nhigh up", places=(None, None))
    axes.xaxis.set_major_locator(FixedLocator(range(count)))
    axes.xaxis.set_major_formatter(FixedFormatter([valve.address for valve in numbers.valves]))
    axes.grid(False, axis="x")
    plot.legend(_limit_words(numbers), dash=HIDDEN)
    plot.legend(_marks_words(numbers), mark="o")
    title = f"Height error along the {numbers.head or 'head'}"
    return write(plot.figure, title, _words(numbers), lettered=lettered)


def _in(inches: float, unit: str) -> float:
    return float(in_unit(inches, unit, 9))


def _mark(plot: Plot, place: int, error: float, verdict: str) -> None:
    if verdict == "out":
        plot.axes.plot([place], [error], marker="x", ms=7, mew=2.0, color=GRAPHITE, ls="none", zorder=4)
    else:
        filled = GRAPHITE if verdict == "in" else "white"
        plot.axes.plot(
            [place], [error], marker="o", ms=4.5, mfc=filled, mec=GRAPHITE, mew=LINE, ls="none", zorder=4
        )


def _limit_words(numbers: ResidualNumbers) -> str:
    if numbers.low is None and numbers.high is None:
        return "no limit is set"
    if numbers.low is not None and numbers.high is not None and numbers.low == -numbers.high:
        return f"limit ±{told(numbers.high, numbers.unit)}"
    ends = [show(end, numbers.unit, sign=True) for end in (numbers.low, numbers.high) if end is not None]
    return f"limit {' to '.join(ends)} {numbers.unit}"


def _marks_words(numbers: ResidualNumbers) -> str:
    """What the marks on this chart mean, those that are on it."""
    known = [("in", "filled: in"), ("undecided", "open: undecided"), ("out", "cross: out")]
    used = {valve.verdict for valve in numbers.read}
    marks = [words for verdict, words in known if verdict in used]
    bars = ["bar: ± U"] if any(valve.uncertainty is not None for valve in numbers.read) else []
    unread = ["–: not read"] if len(numbers.read) < len(numbers.valves) else []
    return ", ".join(marks + bars + unread) or "no valve"


def _words(numbers: ResidualNumbers) -> str:
    if not numbers.read:
        return "No height is read on this head yet."
    worst = max(numbers.read, key=lambda valve: abs(valve.error or 0.0))
    outs = [valve.address for valve in numbers.read if valve.verdict == "out"]
    unread = [valve.address for valve in numbers.valves if valve.error is None]
    off = residual_words(worst.error, numbers.unit).replace(" ", f" {numbers.unit} ")
    said = f"Furthest off is {worst.address}: {off}; {_limit_words(numbers)}."
    said += f" Out: {', '.join(outs)}." if outs else " None is out."
    return f"{said} Not read: {', '.join(unread)}." if unread else said
