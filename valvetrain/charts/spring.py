"""Spring load against height: on the seat, open, and what is left before the coils touch."""

from dataclasses import dataclass
from functools import lru_cache

from builds.measures import in_unit, show
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import LOW, NARROW, WIDE, Plot, force_unit, length_places, told
from valvetrain.charts.style import DYE, GRAPHITE, HEAVY, HIDDEN, LETTERING, LINE, SOFT, THIN, write

ROWS = 6  # heights from the seat to open, in the table


@dataclass(frozen=True)
class SpringNumbers:
    """One spring as it stands in the head. Heights in inches, loads in pounds-force, whatever it is lettered in.

    `rate` is in lbf/in. `read` are (height, load) pairs from the tester; `margin_asked` the least coil-bind margin.
    `source` says where seat load and rate come from.
    """

    installed_height: float
    seat_load: float
    rate: float
    lift: float
    solid_height: float | None = None
    margin_asked: float | None = None
    read: tuple[tuple[float, float], ...] = ()
    source: str = ""
    kind: str = ""
    unit: str = "in"
    address: str = ""

    @property
    def open_height(self) -> float:
        """Height at full lift."""
        return self.installed_height - self.lift

    @property
    def open_load(self) -> float:
        """Load at full lift, along the straight rate."""
        return self.load_at(self.open_height)

    @property
    def margin(self) -> float | None:
        """Height left at full lift before the coils touch; None where the solid height is not known."""
        return None if self.solid_height is None else self.open_height - self.solid_height

    @property
    def margin_word(self) -> str:
        """in or out against what is asked; nothing where either is not known."""
        if self.margin is None or self.margin_asked is None:
            return ""
        return "in" if self.margin >= self.margin_asked - 1e-9 else "out"

    @property
    def place(self) -> str:
        """The address at the head of a sentence."""
        return f"{self.address}: " if self.address else ""

    def load_at(self, height: float) -> float:
        """Load at a height, along the straight rate."""
        return self.seat_load + self.rate * (self.installed_height - height)


def spring_table(numbers: SpringNumbers) -> ChartTable:
    """Height, lift and load, from the seat to open; then solid, and what was read on the tester."""
    unit, force = numbers.unit, force_unit(numbers.unit)

    def row(name: str, height: float, load: float) -> tuple[str, ...]:
        return name, show(height, unit), show(numbers.installed_height - height, unit), show(load, force)

    rows = []
    for index in range(ROWS):
        name = "on the seat" if index == 0 else "open" if index == ROWS - 1 else "between"
        height = numbers.installed_height - numbers.lift * index / (ROWS - 1)
        rows.append(row(name, height, numbers.load_at(height)))
    if numbers.solid_height is not None:
        rows.append(
            row("solid, if it went on straight", numbers.solid_height, numbers.load_at(numbers.solid_height))
        )
    rows += [row("read on the tester", height, load) for height, load in numbers.read]
    return ChartTable(
        "Spring load against height",
        ("where", f"height, {unit}", f"lift there, {unit}", f"load, {force}"),
        tuple(rows),
    )


@lru_cache(maxsize=256)
def spring_chart(numbers: SpringNumbers, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw load against height, the seat to the left: opening the valve goes to the right."""
    unit, force = numbers.unit, force_unit(numbers.unit)
    plot = Plot(width, LOW if width <= NARROW else 2.4, legend_lines=2 + bool(numbers.read))

    def at(height: float) -> float:
        return float(in_unit(height, unit, 9))

    def load(value: float) -> float:
        return float(in_unit(value, force, 9))

    lowest = min(numbers.open_height, numbers.solid_height if numbers.solid_height is not None else 9e9)
    span = numbers.installed_height - lowest
    end = lowest - 0.08 * span
    top = load(numbers.load_at(end)) * 1.22
    seat, opened = (numbers.installed_height, numbers.seat_load), (numbers.open_height, numbers.open_load)
    plot.line([at(seat[0]), at(opened[0])], [load(seat[1]), load(opened[1])])
    plot.line(
        [at(opened[0]), at(lowest)], [load(opened[1]), load(numbers.load_at(lowest))], dash=HIDDEN, width=LINE
    )
    for height, height_load, words in ((*seat, "seat"), (*opened, "open")):
        plot.line([at(height)] * 2, [0, load(height_load)], width=THIN, color=SOFT)
        plot.axes.plot(
            [at(height)], [load(height_load)], marker="o", ms=4, mfc="white", mec=GRAPHITE, mew=HEAVY
        )
        seated = words == "seat"
        plot.axes.annotate(
            f"{words} {show(height_load, force)}", (at(height), load(height_load)), (5, -4) if seated else (-4, 5),
            textcoords="offset points", fontsize=LETTERING - 0.5, ha="left" if seated else "right",
            va="top" if seated else "bottom",
        )  # fmt: skip
    for height, read_load in numbers.read:
        plot.cross(at(height), load(read_load), DYE)
    if numbers.solid_height is not None:
        plot.line([at(numbers.solid_height)] * 2, [0, top], width=2.4)
        start = numbers.installed_height + 0.08 * span
        plot.hatch((start - numbers.solid_height) / (start - end), 1.0)
        _margin(plot, at(opened[0]), at(numbers.solid_height), top)
    plot.axes.set_xlim(at(numbers.installed_height + 0.08 * span), at(end))
    plot.axes.set_ylim(0, top)
    plot.scales(f"height, {unit}", f"load, {force}", places=(length_places(unit), 0))
    plot.legend(f"spring, {told_rate(numbers)}{f', {numbers.source}' if numbers.source else ''}")
    plot.legend(margin_words(numbers), dash="-", width=2.4)
    if numbers.read:
        plot.legend("read on the tester", mark="x", color=DYE)
    return write(
        plot.figure, f"{numbers.place}spring load against height", _words(numbers), lettered=lettered
    )


def _margin(plot: Plot, opened: float, solid: float, top: float) -> None:
    """An arrow across what is left."""
    plot.axes.annotate(
        "", (solid, top * 0.12), (opened, top * 0.12), arrowprops={"arrowstyle": "<->", "lw": THIN, "color": GRAPHITE,
        "shrinkA": 0, "shrinkB": 0, "mutation_scale": 6},
    )  # fmt: skip


def told_rate(numbers: SpringNumbers) -> str:
    """The rate in the reader's units."""
    if numbers.unit == "mm":
        return f"{float(in_unit(numbers.rate, 'N', 9)) / 25.4:.1f} N/mm"
    return f"{numbers.rate:.0f} lbf/in"


def margin_words(numbers: SpringNumbers) -> str:
    """What is left before the coils touch, and what is asked."""
    if numbers.margin is None:
        return "solid height not known"
    said = f"solid; margin {show(numbers.margin, numbers.unit)}"
    if numbers.margin_asked is None:
        return said
    return f"{said}, asked {show(numbers.margin_asked, numbers.unit)}: {numbers.margin_word}"


def _words(numbers: SpringNumbers) -> str:
    unit, force = numbers.unit, force_unit(numbers.unit)
    said = (
        f"{numbers.place}{told(numbers.seat_load, force)} on the seat at {told(numbers.installed_height, unit)}, "
        f"{told(numbers.open_load, force)} open at {told(numbers.open_height, unit)}, {told_rate(numbers)}."
    )
    if numbers.margin is None:
        return f"{said} The solid height is not known, so what is left before the coils touch is not either."
    left = f"{said} Solid at {told(numbers.solid_height or 0.0, unit)}, which leaves {told(numbers.margin, unit)}"
    if numbers.margin_asked is None:
        return f"{left}."
    return f"{left}; at least {told(numbers.margin_asked, unit)} is asked, so it is {numbers.margin_word}."
