"""Rocker ratio through the lift: nominal, as the linkage has it, and as it was measured."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from builds.measures import in_unit, show
from valvetrain.charts.numbers import ChartTable, Drawing
from valvetrain.charts.plot import NARROW, WIDE, Plot, length_places, told
from valvetrain.charts.style import DYE, GRAPHITE, HIDDEN, LINE, write
from valvetrain.geometry.linkage import PushrodLinkage

POINTS, ROWS = 61, 9


@dataclass(frozen=True)
class RatioNumbers:
    """One rocker from its pushrod to its valve. Lengths in inches whatever it is lettered in.

    `linkage` is None while the pushrod's side is not entered; `measured` are (lobe lift, mean ratio up to it) pairs from
    the bench, the lash put back.
    """

    lobe_lift: float
    nominal: float
    linkage: PushrodLinkage | None = None
    measured: tuple[tuple[float, float], ...] = ()
    unit: str = "in"
    address: str = ""

    @property
    def place(self) -> str:
        """The address at the head of a sentence."""
        return f"{self.address}: " if self.address else ""


@dataclass(frozen=True)
class RatioRow:
    """One lift of the lobe: valve lift [in], ratio there, mean ratio up to it, and the pushrod's angle [deg]."""

    lobe_lift: float
    valve_lift: float
    ratio: float
    mean: float
    pushrod_angle: float


def ratio_rows(numbers: RatioNumbers, points: int = ROWS) -> list[RatioRow]:
    """The ratio through the lift; none while the pushrod's side is not known. Raises `GeometryError`."""
    linkage = numbers.linkage
    if linkage is None:
        return []
    lifts = np.linspace(0.0, numbers.lobe_lift, points)
    ratios = np.asarray(linkage.ratio(lifts))
    # Nothing has moved on the base circle: there the mean is the ratio itself.
    means = np.concatenate([ratios[:1], np.atleast_1d(linkage.ratio_mean(lifts[1:]))])
    travel, angles = np.asarray(linkage.valve_lift(lifts)), np.asarray(linkage.pushrod_angle(lifts))
    return [
        RatioRow(float(lift), float(valve), float(there), float(mean), float(angle))
        for lift, valve, there, mean, angle in zip(lifts, travel, ratios, means, angles, strict=True)
    ]


def ratio_table(numbers: RatioNumbers) -> ChartTable:
    """The ratio as figures: by the linkage, then as measured."""
    unit = numbers.unit
    rows = [
        ("linkage", show(row.lobe_lift, unit), show(row.valve_lift, unit), f"{row.ratio:.3f}", f"{row.mean:.3f}",
         show(row.pushrod_angle, "°", with_unit=True))
        for row in ratio_rows(numbers)
    ]  # fmt: skip
    rows += [
        ("measured", show(lift, unit), "–", "–", f"{ratio:.3f}", "–") for lift, ratio in numbers.measured
    ]
    rows.append(("nominal", "–", "–", f"{numbers.nominal:.3f}", f"{numbers.nominal:.3f}", "–"))
    return ChartTable(
        "Rocker ratio through the lift",
        (
            "from",
            f"lobe lift, {unit}",
            f"valve lift, {unit}",
            "ratio there",
            "mean ratio up to it",
            "pushrod’s angle",
        ),
        tuple(rows),
    )


@lru_cache(maxsize=128)
def ratio_chart(numbers: RatioNumbers, *, width: float = WIDE, lettered: bool = False) -> Drawing:
    """Draw the ratio against the lobe's lift. Raises `GeometryError` where the linkage cannot be."""
    unit = numbers.unit
    rows = ratio_rows(numbers, POINTS)
    plot = Plot(
        width, 2.0 if width <= NARROW else 2.4, legend_lines=1 + 2 * bool(rows) + bool(numbers.measured)
    )

    def at(lift: float) -> float:
        return float(in_unit(lift, unit, 9))

    plot.legend(f"nominal {numbers.nominal:g}", dash=HIDDEN, width=LINE)
    plot.axes.axhline(numbers.nominal, color=GRAPHITE, lw=LINE, ls=HIDDEN)
    values = [numbers.nominal, *(ratio for _lift, ratio in numbers.measured)]
    if rows:
        lifts = [at(row.lobe_lift) for row in rows]
        plot.line(lifts, [row.ratio for row in rows])
        plot.line(lifts, [row.mean for row in rows], dash=(0, (1.2, 1.8)))
        plot.legend(f"at each lift, by the linkage: {rows[0].ratio:.3f} to {rows[-1].ratio:.3f}")
        plot.legend(f"mean up to each lift: {rows[-1].mean:.3f} at full lift", dash=(0, (1.2, 1.8)))
        values += [each for row in rows for each in (row.ratio, row.mean)]
    for lift, ratio in numbers.measured:
        plot.cross(at(lift), ratio, DYE)
    if numbers.measured:
        plot.legend("mean up to a lift, as measured", mark="x", color=DYE)
    plot.axes.set_xlim(0, at(numbers.lobe_lift) * 1.03)
    room = max(0.02, (max(values) - min(values)) * 0.15)
    plot.axes.set_ylim(min(values) - room, max(values) + room)
    plot.scales(f"lobe lift, {unit}", "ratio", places=(length_places(unit), 2))
    return write(
        plot.figure, f"{numbers.place}ratio through the lift", _words(numbers, rows), lettered=lettered
    )


def _words(numbers: RatioNumbers, rows: list[RatioRow]) -> str:
    said = f"{numbers.place}nominal ratio {numbers.nominal:g}."
    if rows:
        said += (
            f" By the linkage it runs from {rows[0].ratio:.3f} on the base circle to {rows[-1].ratio:.3f} at "
            f"{told(numbers.lobe_lift, numbers.unit)} of lobe lift, mean {rows[-1].mean:.3f}."
        )
    else:
        said += " The ratio at each lift is not drawn: it needs the pushrod’s side of the rocker."
    if numbers.measured:
        lift, ratio = numbers.measured[-1]
        said += f" Measured: mean {ratio:.3f} at {told(lift, numbers.unit)} of lobe lift."
    return said
