"""How long parts last: a step curve with its interval, ticks where one stopped being watched, and the numbers at risk."""

from functools import lru_cache

import numpy as np

from builds.survival import Survival
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.plot import WIDE, Plot
from valvetrain.charts.style import DYE, GRAPHITE, HEAVY, HIDDEN, LETTERING, SOFT, THIN, write

HIGH = 3.0  # in
FOOT = 0.86  # in: below the chart, for the scale and the numbers at risk
MOST_COLUMNS = 6


@lru_cache(maxsize=64)
def survival_chart(found: Survival, what: str, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw the share that lasts against running, from all of them down to none."""
    plot = Plot(width, HIGH, legend_lines=3)
    box = plot.axes.get_position()
    plot.axes.set_position((box.x0, FOOT / HIGH, box.width, box.y1 - FOOT / HIGH))
    end = found.furthest * 1.04 or 1.0
    plot.axes.set_xlim(0, end)
    plot.axes.set_ylim(0, 104)
    xs, ys = _staircase(found, [step.lasting for step in found.steps])
    plot.line(xs, ys, color=DYE, width=HEAVY)
    for side in ("low", "high"):
        _interval(plot, found, side)
    ticks = [(ran, found.lasting(ran) * 100) for ran, _count in found.censored if ran <= end]
    if ticks:
        plot.axes.plot(
            *zip(*ticks, strict=True), marker="|", ms=8, mew=1.1, color=GRAPHITE, ls="none", clip_on=False
        )
    plot.legend("lasting, of all that ran so far", color=DYE)
    plot.legend("95 % interval", dash=HIDDEN, width=THIN * 1.6, color=SOFT)
    plot.legend("still running there, or out for another reason", mark="|")
    plot.scales(found.unit, "lasting, %", places=(None, 0))
    if found.median is not None:
        plot.line([0, found.median, found.median], [50, 50, 0], width=THIN, color=SOFT)
    _at_risk(plot, found, end)
    if found.is_few:
        plot.axes.text(
            0.02, 0.06, "few: a hint, not a rate", transform=plot.axes.transAxes, ha="left", va="bottom",
            fontsize=LETTERING + 0.5, fontweight=600, bbox={"fc": "white", "ec": GRAPHITE, "lw": HEAVY, "pad": 3},
        )  # fmt: skip
    title = f"How long {what} lasts"
    return write(plot.figure, title, words_of(found, what), lettered=lettered)


def words_of(found: Survival, what: str) -> str:
    """The curve in a sentence, for those who cannot see it."""
    median = (
        "fewer than half failed" if found.median is None else f"half failed by {found.median:g} {found.unit}"
    )
    few = " Few: a hint, not a rate." if found.is_few else ""
    return f"{what}: {found.units} units, {found.failures} failed; {median}.{few}"


def _staircase(found: Survival, shares: list[float]) -> tuple[list[float], list[float]]:
    """Level to each failure, then down; level to the end of what ran."""
    xs, ys = [0.0], [100.0]
    for step, share in zip(found.steps, shares, strict=True):
        xs += [step.ran, step.ran]
        ys += [ys[-1], share * 100]
    return [*xs, found.furthest], [*ys, ys[-1]]


def _interval(plot: Plot, found: Survival, side: str) -> None:
    xs: list[float] = []
    ys: list[float] = []
    steps = [step for step in found.steps if step.low is not None]
    for at, step in enumerate(steps):
        until = steps[at + 1].ran if at + 1 < len(steps) else found.furthest
        xs += [step.ran, until]
        ys += [getattr(step, side) * 100] * 2
    if xs:
        plot.line(xs, ys, dash=HIDDEN, width=THIN * 1.6, color=SOFT)


def _at_risk(plot: Plot, found: Survival, end: float) -> None:
    """How many units ran so far, below the scale's own figures."""
    places = [at for at in plot.axes.xaxis.get_major_locator().tick_values(0, end) if 0 <= at <= end]
    shown = places[:: max(1, -(-len(places) // MOST_COLUMNS))]
    box = plot.axes.get_position()
    y = 0.16 / HIGH
    for at in np.asarray(shown):
        plot.figure.text(
            box.x0 + box.width * at / end, y, str(found.at_risk(float(at))), ha="center", va="center",
            fontsize=LETTERING - 0.5,
        )  # fmt: skip
    plot.figure.text(
        0.06 / plot.width, y, "ran so far", ha="left", va="center", fontsize=LETTERING - 0.5, color=SOFT
    )
