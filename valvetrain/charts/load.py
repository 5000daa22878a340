"""Load at the tip through the lift, by engine speed. A worksheet: it certifies nothing."""

from dataclasses import dataclass
from functools import lru_cache

from builds.measures import in_unit, show
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import DASHES, NARROW, WIDE, Plot, force_unit, told
from valvetrain.charts.style import GRAPHITE, HEAVY, LINE, write

ROWS = 13
CERTIFIES_NOTHING = "A worksheet: it certifies nothing."


@dataclass(frozen=True)
class LoadNumbers:
    """One valve's loads while it is open: crank degrees from the nose, inches, pounds-force, whatever it is lettered in.

    `by_speed` are the loads at the tip at each engine speed [rpm], `ends` the speed at which the spring's margin ends,
    with the crank angle where it goes first; both empty while nothing that moves is weighed. `assumed` is what was
    taken for granted.
    """

    angles: tuple[float, ...]
    lifts: tuple[float, ...]
    spring: tuple[float, ...]
    by_speed: tuple[tuple[float, tuple[float, ...]], ...] = ()
    ends: tuple[float, float] | None = None
    assumed: str = ""
    unit: str = "in"
    address: str = ""

    @property
    def place(self) -> str:
        """The address at the head of a sentence."""
        return f"{self.address}: " if self.address else ""


def load_table(numbers: LoadNumbers) -> ChartTable:
    """The loads as figures, evenly through the lift."""
    unit, force = numbers.unit, force_unit(numbers.unit)
    last = len(numbers.angles) - 1
    picked = sorted({round(last * row / (ROWS - 1)) for row in range(ROWS)})
    rows = tuple(
        (
            show(numbers.angles[index], "°", 0, sign=True, with_unit=True),
            show(numbers.lifts[index], unit),
            show(numbers.spring[index], force, 0),
            *(show(loads[index], force, 0) for _rpm, loads in numbers.by_speed),
        )
        for index in picked
    )
    speeds = tuple(f"at {rpm:.0f} rpm, {force}" for rpm, _loads in numbers.by_speed)
    columns = ("crank, from the nose", f"valve lift, {unit}", f"spring, {force}", *speeds)
    return ChartTable("Load at the tip through the lift", columns, rows)


@lru_cache(maxsize=128)
def load_chart(numbers: LoadNumbers, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw the load against crank angle, one line for each speed."""
    force = force_unit(numbers.unit)
    factor = float(in_unit(1000, force, 9)) / 1000
    plot = Plot(width, 2.15 if width <= NARROW else 2.7, legend_lines=1 + len(numbers.by_speed))
    plot.axes.axhline(0.0, color=GRAPHITE, lw=LINE)
    plot.line(numbers.angles, [load * factor for load in numbers.spring], width=2.2)
    plot.legend("spring alone, the engine turned by hand", width=2.2)
    for index, (rpm, loads) in enumerate(numbers.by_speed):
        dash = DASHES[(index + 1) % len(DASHES)]
        plot.line(numbers.angles, [load * factor for load in loads], dash=dash)
        least = min(loads)
        parted = ", below nothing: the parts would part" if least < 0 else ""
        plot.legend(f"{rpm:.0f} rpm, least {show(least, force, 0)} {force}{parted}", dash=dash, width=HEAVY)
    plot.axes.set_xlim(numbers.angles[0], numbers.angles[-1])
    plot.scales("crank degrees from the nose of the lobe", f"load at the tip, {force}", places=(0, 0))
    return write(
        plot.figure, f"{numbers.place}load at the tip through the lift", _words(numbers), lettered=lettered
    )


def _words(numbers: LoadNumbers) -> str:
    force = force_unit(numbers.unit)
    said = (
        f"{numbers.place}the spring’s load runs from {told(numbers.spring[0], force)} on the seat to "
        f"{told(max(numbers.spring), force)} at {told(max(numbers.lifts), numbers.unit)} lift."
    )
    for rpm, loads in numbers.by_speed:
        said += f" At {rpm:.0f} rpm the least load is {show(min(loads), force, 0)} {force}."
    if numbers.ends is None:
        said += " The load by speed is not drawn: nothing that moves is weighed."
    else:
        rpm, angle = numbers.ends
        side = "before" if angle < 0 else "after"
        said += f" The spring’s margin ends at {round(rpm, -1):.0f} rpm, {abs(angle):.0f} crank degrees {side} the nose."
    return " ".join(filter(None, [said, numbers.assumed, CERTIFIES_NOTHING]))
