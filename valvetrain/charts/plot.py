"""The frame that all charts share: axes, scales in the reader's unit, and lines that are told apart without colour."""

from collections.abc import Iterable, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.ticker import FuncFormatter, MaxNLocator

from builds.measures import show, unit_for
from valvetrain.charts.style import CHAIN, GRAPHITE, HAIR, HEAVY, HIDDEN, LETTERING, PHANTOM, SOFT, THIN

WIDE = 4.7  # in: a chart of its own on a page
HATCH = 0.075  # in, between the strokes of a hatching
NARROW = 3.5  # three beside one another on a sheet
LOW = 1.72  # so high are those
DOTTED = (0, (1.2, 1.8))
DASHES: tuple[object, ...] = ("-", HIDDEN, CHAIN, DOTTED, PHANTOM)


class Plot:
    """A chart with one pair of axes. Sizes in inches, lettering in points whatever the size."""

    def __init__(self, width: float = WIDE, height: float = 2.25, *, legend_lines: int = 1) -> None:
        """Make an empty chart with room for so many lines of legend above it."""
        self.width, self.height = width, height
        self.figure = Figure(figsize=(width, height))
        left, bottom, right = 0.76 / width, 0.42 / height, 0.14 / width
        top = (0.1 + 0.165 * legend_lines) / height
        self.axes: Axes = self.figure.add_axes((left, bottom, 1 - left - right, 1 - bottom - top))
        self.axes.patch.set_visible(False)
        self.axes.tick_params(labelsize=LETTERING - 0.5, left=False, bottom=False, pad=3)
        self.axes.grid(True, color=HAIR, lw=0.35)
        self._legend_lines, self._told = legend_lines, 0

    def scales(self, across: str, up: str, *, places: tuple[int | None, int | None] = (None, None)) -> None:
        """Letter both axes; `places` behind the point, as many as a figure needs when None."""
        for axis, digits in zip((self.axes.xaxis, self.axes.yaxis), places, strict=True):
            axis.set_major_locator(MaxNLocator(5))
            axis.set_major_formatter(FuncFormatter(lambda value, _at, digits=digits: _figure(value, digits)))
        self.axes.set_xlabel(across, fontsize=LETTERING, labelpad=2)
        self.axes.set_ylabel(up, fontsize=LETTERING - 0.5, labelpad=2)

    def line(
        self, xs: Sequence[float], ys: Sequence[float], *, dash: object = "-", width: float = HEAVY, color: str = GRAPHITE
    ) -> None:  # fmt: skip
        """Draw a line."""
        self.axes.plot(xs, ys, lw=width, ls=dash, color=color, dash_capstyle="butt")

    def cross(self, x: float, y: float, color: str = GRAPHITE) -> None:
        """Mark a value that was read."""
        self.axes.plot([x], [y], marker="x", ms=5, mew=1.1, color=color, ls="none", clip_on=False)

    def hatch(self, start: float, end: float, *, color: str = SOFT) -> None:
        """Hatch the chart from one part of its width to another, as a cut face on a drawing."""
        box = self.axes.get_position()
        wide, high = box.width * self.width, box.height * self.height
        x0, x1 = start * wide, end * wide
        points, codes = [], []
        for number in range(int(-x1 / HATCH), int((high - x0) / HATCH) + 1):
            # The line y = x + c, kept within the part.
            c = number * HATCH
            first, last = max(x0, -c), min(x1, high - c)
            if last > first:
                points += [(first / wide, (first + c) / high), (last / wide, (last + c) / high)]
                codes += [Path.MOVETO, Path.LINETO]
        if points:
            strokes = Path(points, [int(code) for code in codes])
            self.axes.add_patch(
                PathPatch(strokes, transform=self.axes.transAxes, fc="none", ec=color, lw=THIN, clip_on=False)
            )

    def legend(
        self, words: str, *, dash: object = "-", width: float = HEAVY, color: str = GRAPHITE, mark: str = ""
    ) -> None:
        """Say what a line or a mark is, one below the other above the chart."""
        y = 1 - (0.1 + 0.165 * self._told) / self.height
        x = 0.76 / self.width
        long = 0.3 / self.width
        if mark:
            self.figure.add_artist(
                Line2D([x + long / 2], [y], marker=mark, ms=5, mew=1.1, color=color, ls="none")
            )
        else:
            self.figure.add_artist(Line2D([x, x + long], [y, y], color=color, lw=width, ls=dash))
        self.figure.text(
            x + long + 0.06 / self.width, y, words, va="center", fontsize=LETTERING - 0.5, color=color
        )
        self._told += 1


def _figure(value: float, places: int | None) -> str:
    text = f"{value:.{places}f}" if places is not None else f"{value:g}"
    return text.replace("-", "−")


def legend_room(lines: Iterable[object]) -> int:
    """Lines of legend that a chart needs."""
    return max(1, len(list(lines)))


def force_unit(unit: str) -> str:
    """The unit of force that goes with a unit of length."""
    return unit_for("force", unit)


def length_places(unit: str) -> int:
    """Decimals on a scale of lengths."""
    return 3 if unit == "in" else 1


def told(value: float, unit: str) -> str:
    """A value with its unit, for a sentence."""
    return show(value, unit, with_unit=True)
