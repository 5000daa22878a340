"""Contact against lift: where the roller runs on the tip, at the right height and as it stands now."""

from dataclasses import dataclass
from functools import lru_cache

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from valvetrain.charts.numbers import ChartTable, Drawing, ValveNumbers
from valvetrain.charts.style import CHAIN, DYE, GRAPHITE, HAIR, HEAVY, HIDDEN, LETTERING, SOFT, THIN, write
from valvetrain.geometry.travel import contact_offsets, sweep

POINTS = 61
SIZE = (4.7, 2.25)  # in


@dataclass(frozen=True)
class TravelRow:
    """One lift of the travel [in]: contact from the tip's centre, outboard positive."""

    lift: float
    right: float
    now: float | None


def travel_table(numbers: ValveNumbers, points: int = 11) -> list[TravelRow]:
    """The travel as figures. Raises `GeometryError` where the arm cannot reach."""
    right = _trace(numbers, 0.0, points)
    now = (
        _trace(numbers, numbers.height_error, points) if numbers.height_error is not None else [None] * points
    )
    lifts = [numbers.lift * index / (points - 1) for index in range(points)]
    return [TravelRow(*row) for row in zip(lifts, right, now, strict=True)]


def contact_table(numbers: ValveNumbers) -> ChartTable:
    """The travel as figures for a page. Raises `GeometryError` where the arm cannot reach."""
    unit = numbers.unit
    with_now = numbers.is_off
    rows = tuple(
        (
            numbers.said(row.lift),
            numbers.said(row.right, sign=True),
            *((numbers.said(row.now, sign=True),) if with_now and row.now is not None else ()),
        )
        for row in travel_table(numbers)
    )
    columns = (f"lift, {unit}", f"contact at the right height, {unit}")
    now = (f"contact now {numbers.error_words}, {unit}",) if with_now else ()
    return ChartTable("Contact from the tip’s centre; plus is outboard", (*columns, *now), rows)


def _trace(numbers: ValveNumbers, error: float, points: int) -> list[float]:
    trace = contact_offsets(
        numbers.arm, numbers.lift, height_error=error, shaft_offset=numbers.shaft_offset,
        square_at=numbers.square_at, points=points,
    )  # fmt: skip
    contacts: list[float] = trace.contact.tolist()
    return contacts


@lru_cache(maxsize=256)
def travel_chart(numbers: ValveNumbers, *, width: float = SIZE[0], lettered: bool = False) -> Drawing:
    """Draw the travel, solid at the right height and dashed as it stands now."""
    rows = travel_table(numbers, POINTS)
    # A narrow chart has its legend in two lines, one below the other.
    lines = 1 if width >= SIZE[0] else 2
    figure = Figure(figsize=(width, SIZE[1] if lines == 1 else 1.72))
    left = 0.8 / width
    axes = figure.add_axes(
        (left, 0.2 if lines == 1 else 0.25, 1 - left - 0.16 / width, 0.65 if lines == 1 else 0.5)
    )
    axes.patch.set_visible(False)
    lifts = [numbers.in_unit(row.lift) for row in rows]
    axes.axhline(0.0, color=SOFT, lw=THIN, ls=CHAIN)
    axes.plot(lifts, [numbers.in_unit(row.right) for row in rows], color=GRAPHITE, lw=HEAVY)
    shown: list[tuple[str, float, str, object]] = [("right height", numbers.sweep, GRAPHITE, "-")]
    if numbers.is_off and numbers.height_error is not None:
        moved = [numbers.in_unit(row.now) for row in rows if row.now is not None]
        axes.plot(lifts, moved, color=DYE, lw=HEAVY, ls=HIDDEN)
        now = float(sweep(numbers.arm, numbers.lift, numbers.height_error, square_at=numbers.square_at))
        shown.append((f"now {numbers.error_words}", now, DYE, HIDDEN))
    axes.set_xlim(0, lifts[-1])
    places = 3 if numbers.unit == "in" else 2
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(FuncFormatter(lambda value, _at: f"{value:.{places}f}".replace("-", "−")))
        axis.set_major_locator(MaxNLocator(5))
    axes.tick_params(labelsize=LETTERING - 0.5, left=False, bottom=False, pad=3)
    axes.grid(True, color=HAIR, lw=0.35)
    axes.set_xlabel(f"lift, {numbers.unit}", fontsize=LETTERING, labelpad=2)
    where = " from the tip’s centre" if lines == 1 else ""
    axes.set_ylabel(f"contact{where}, {numbers.unit}\noutboard up", fontsize=LETTERING - 0.5, labelpad=2)
    for index, (words, swept, color, dash) in enumerate(shown):
        x = left + (0.36 * index if lines == 1 else 0.0)
        y = 0.94 - (0.085 * index if lines > 1 else 0.0)
        figure.add_artist(Line2D([x, x + 0.28 / width], [y, y], color=color, lw=HEAVY, ls=dash))
        figure.text(x + 0.33 / width, y, f"{words}, sweep {numbers.said(swept)}", va="center", color=color)
    return write(figure, f"{numbers.place}travel of the contact", _words(numbers, shown), lettered=lettered)


def _words(numbers: ValveNumbers, shown: list[tuple[str, float, str, object]]) -> str:
    told = ", ".join(f"{numbers.told(width)} wide {words}" for words, width, _color, _dash in shown)
    told = told.replace("wide right height", "wide at the right height").replace(
        "wide now", "wide as it stands now,"
    )
    return f"{numbers.place}contact of the roller on the tip from closed to {numbers.told(numbers.lift)} lift: {told}."
