"""Taps on a picture worked out: the mark in inches with its uncertainty, in words and against the limits."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np

from builds.limits import LimitFor
from builds.measures import show
from builds.uncertainty import plus_minus
from builds.verdicts import DRAWN_AS, OUT, UNDECIDED, Rule
from valvetrain.gathering import LimitValue
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import MeasuredMark, measure_mark
from valvetrain.geometry.rim import Rim, fit_rim
from valvetrain.mark_steps import shape_of
from valvetrain.mark_taps import WAYS, Taps
from valvetrain.states import ValveState
from valvetrain.worksheet_words import sentence

# A camera further off square than this [deg] sees the far rim badly.
TOO_TILTED = 45.0
# What is offered when more taps would make the mark better known, and by how much of U it must.
MORE_RIM, MORE_EDGE, WORTH_IT = 12, 5, 0.85
FIGURES = ("inner", "outer", "width", "centre", "front_width", "rear_width", "taper")
# The points of the ellipse on the screen.
ROUND = 72


@dataclass(frozen=True)
class WorkedOut:
    """What taps come to: the rim once it has points enough, the mark once everything is told, else why not."""

    taps: Taps
    rim: Rim | None = None
    mark: MeasuredMark | None = None
    missing: str = ""
    problem: str = ""

    @property
    def ready(self) -> bool:
        """Whether this can be saved."""
        return self.mark is not None


def work_out(taps: Taps, *, pixel: float = 1.0) -> WorkedOut:
    """Measure the mark. `pixel` is the size [px of the upright original] of a pixel of what was tapped."""
    rim = None
    try:
        if taps.rim_found:
            rim = fit_rim(taps.rim)
        if taps.missing:
            return WorkedOut(taps, rim, missing=taps.missing)
        return WorkedOut(taps, rim, _measure(taps, taps.rim, taps.inner, taps.outer, pixel))
    except GeometryError as error:
        return WorkedOut(taps, rim, problem=sentence(error))


def _measure(taps: Taps, rim: Any, inner: Any, outer: Any, pixel: float) -> MeasuredMark:
    assert taps.rim_diameter is not None
    return measure_mark(
        rim, inner_taps=inner, outer_taps=outer, rim_diameter=float(taps.rim_diameter.base),
        toward_shaft=WAYS[taps.toward_shaft], toward_front=WAYS[taps.toward_front], pixel=pixel,
    )  # fmt: skip


# ---- drawn over the picture ---------------------------------------------------------------------------------------


def frame_of(mark: MeasuredMark) -> dict[str, Any]:
    """The tip's axes in the picture and the edges on the tip, so that the mark can be drawn over it at any time."""
    radius = mark.rim_diameter / 2
    lean = mark.taper / mark.rim_diameter
    return {
        "origin": _rounded(mark.rim.centre, 2),
        "x": _rounded(mark.across, 2),
        "y": _rounded(mark.along, 2),
        "radius": round(radius, 6),
        "edges": {
            "inner": _across_tip(mark.inner, -lean, radius),
            "outer": _across_tip(mark.outer, lean, radius),
        },
    }


def _across_tip(at: float, lean: float, radius: float) -> list[list[float]]:
    """Both ends [in] of an edge that crosses the tip: x = at + lean·y, as far as the rim."""
    # (at + lean·y)² + y² = radius²
    a, b, c = 1 + lean * lean, at * lean, at * at - radius * radius
    root = math.sqrt(max(b * b - a * c, 0.0))
    return [_rounded((at + lean * y, y), 6) for y in ((-b - root) / a, (-b + root) / a)]


def drawn(worked: WorkedOut) -> dict[str, list[Any]]:
    """The rim, the axes and the edges as lines in the picture [px], for the screen."""
    lines: dict[str, list[Any]] = {}
    if worked.rim is not None:
        lines["rim"] = np.round(worked.rim.points(ROUND), 2).tolist()
    if worked.mark is not None:
        frame = frame_of(worked.mark)
        base, centre = np.array([frame["x"], frame["y"]]), np.array(frame["origin"])
        reach = frame["radius"] * 1.12
        lines["axes"] = [
            np.round(np.array(ends) @ base + centre, 2).tolist()
            for ends in (((-reach, 0.0), (reach, 0.0)), ((0.0, -reach), (0.0, reach)))
        ]
        lines["edges"] = [
            np.round(np.array(frame["edges"][name]) @ base + centre, 2).tolist()
            for name in ("inner", "outer")
        ]
    return lines


def _rounded(numbers: Sequence[float], places: int) -> list[float]:
    return [round(float(number), places) for number in numbers]


# ---- kept with the readings ---------------------------------------------------------------------------------------


def to_keep(worked: WorkedOut, size: tuple[int, int]) -> dict[str, Any]:
    """What the readings keep of the measurement: taps, what they came to, and what draws it over the picture again."""
    mark = worked.mark
    assert mark is not None
    return {
        "taps": worked.taps.to_keep(),
        "size": list(size),
        "rim": {
            "centre": _rounded(mark.rim.centre, 2),
            "semi_major": round(mark.rim.semi_major, 2),
            "semi_minor": round(mark.rim.semi_minor, 2),
            "turned": round(mark.rim.turned, 3),
        },
        "frame": frame_of(mark),
        "results": {name: round(getattr(mark, name), 6) for name in FIGURES}
        | {f"{name}_standard": round(getattr(mark, f"{name}_standard"), 7) for name in FIGURES}
        | {
            "tilt": round(mark.tilt, 2),
            "inch_per_pixel": round(mark.inch_per_pixel, 9),
            "tap_scatter": round(mark.tap_scatter, 3),
        },
        "covariance": [list(row) for row in mark.covariance],
    }


# ---- in words -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Line:
    """One figure of the mark: what it is, its value ± U, what was to be expected, and how it is judged."""

    name: str
    value: str
    doubt: str
    beside: str = ""
    verdict: str = ""
    against: str = ""

    @property
    def drawn_as(self) -> str:
        """The class of its verdict."""
        return DRAWN_AS[self.verdict]

    @property
    def says_limit(self) -> bool:
        """Whether the limit stands beside the verdict."""
        return self.verdict in (OUT, UNDECIDED)


@dataclass(frozen=True)
class Told:
    """A measured mark in words, in the unit of who reads."""

    lines: list[Line]
    notes: list[str] = field(default_factory=list)
    flatter: str = ""


def tell(
    worked: WorkedOut, valve: ValveState, limits: Mapping[str, LimitValue], unit: str, *, pixel: float = 1.0
) -> Told:
    """Say what was measured, beside what the valve's records lead to expect and against the limits that hold."""
    mark = worked.mark
    assert mark is not None
    words = _Words(mark, valve.rule, limits, unit)
    room, further = (
        mark.rim_diameter / 2 - max(abs(mark.inner), abs(mark.outer)),
        abs(mark.inner) > abs(mark.outer),
    )
    lines = [
        words.line("Width", mark.width, mark.width_standard, "sweep", beside=_expected(valve, unit)),
        words.line("Centre", mark.centre, mark.centre_standard, "mark_centre", sign=True, beside="plus: outboard"),
        words.line(
            "Room to the rim", room, mark.inner_standard if further else mark.outer_standard, "mark_edge"
        ),
        words.line("Inner edge", mark.inner, mark.inner_standard, sign=True, beside="from the centre"),
        words.line("Outer edge", mark.outer, mark.outer_standard, sign=True, beside="from the centre"),
        words.line(
            "Taper", mark.taper, mark.taper_standard, "mark_taper", sign=True,
            beside=f"front half less rear half: {_shape(mark, limits)}",
        ),
    ]  # fmt: skip
    scale = show(mark.inch_per_pixel, unit, 5 if unit == "in" else 4, with_unit=True)
    notes = [f"The camera looked {mark.tilt:.0f}° off square; one pixel is {scale} on the tip."]
    more = _with_more_taps(worked, valve.rule, unit, pixel)
    if more:
        notes.append(more)
    if worked.rim is not None and worked.rim.degrees_of_freedom == 0:
        notes.append("Five taps fit any rim: one more shows how well they agree.")
    flatter = (
        f"The camera looked {mark.tilt:.0f}° off square: a picture taken from more above the tip would be better."
        if mark.tilt > TOO_TILTED
        else ""
    )
    return Told(lines, notes[1:] if flatter else notes, flatter)


def _shape(mark: MeasuredMark, limits: Mapping[str, LimitValue]) -> str:
    """even, heavy front or heavy rear."""
    limit = limits.get("mark_taper")
    held = None if limit is None else LimitFor(_exact(limit.low), _exact(limit.high), limit.source)
    return shape_of(mark.taper, held)


def _exact(number: float | None) -> Decimal | None:
    return None if number is None else Decimal(repr(number))


class _Words:
    """Figures of one mark in one person's unit."""

    def __init__(self, mark: MeasuredMark, rule: Rule, limits: Mapping[str, LimitValue], unit: str) -> None:
        self.mark, self.rule, self.limits, self.unit = mark, rule, limits, unit

    def line(
        self, name: str, value: float, standard: float, key: str = "", *, sign: bool = False, beside: str = ""
    ) -> Line:
        """One figure, judged by a limit where one holds."""
        limit = self.limits.get(key)
        verdict = "" if limit is None else self.rule.judge(value, limit.low, limit.high, standard)
        doubt = plus_minus(self.rule.expanded(standard) or 0.0, self.unit)
        shown = show(value, self.unit, sign=sign)
        return Line(name, shown, doubt, beside, verdict, "" if limit is None else self._limit_words(limit))

    def _limit_words(self, limit: LimitValue) -> str:
        if limit.low is None:
            return f"at most {show(limit.high, self.unit, with_unit=True)}"
        if limit.high is None:
            return f"at least {show(limit.low, self.unit, with_unit=True)}"
        return f"{show(limit.low, self.unit)} to {show(limit.high, self.unit, with_unit=True)}"


def _expected(valve: ValveState, unit: str) -> str:
    """The width that the records lead to expect: at the right height, and at the height that was read."""
    if valve.sweep_target is None:
        return ""
    right = f"expected {show(valve.sweep_target, unit)} at the right height"
    now = valve.sweep_now
    if now is None or abs(now - valve.sweep_target) < 5e-5:
        return right
    return f"{right}, {show(now, unit)} at the height that was read"


def _with_more_taps(worked: WorkedOut, rule: Rule, unit: str, pixel: float) -> str:
    """How well the width would be known with more taps that scatter as these do, where that is worth a tap."""
    mark, taps = worked.mark, worked.taps
    assert mark is not None
    counts = (max(len(taps.rim), MORE_RIM), *(max(len(each), MORE_EDGE) for each in (taps.inner, taps.outer)))
    if counts == (len(taps.rim), len(taps.inner), len(taps.outer)):
        return ""
    off = mark.tap_scatter
    outward = 1 + np.where(np.arange(counts[0]) % 2, -1, 1)[:, None] * off / mark.rim.semi_major
    rim = np.asarray(mark.rim.centre) + (mark.rim.points(counts[0]) - mark.rim.centre) * outward
    frame = frame_of(mark)
    base, centre = np.array([frame["x"], frame["y"]]), np.asarray(mark.rim.centre)
    edges = []
    for name, count in zip(("inner", "outer"), counts[1:], strict=True):
        ends = np.array(frame["edges"][name])
        along = ends[0] + np.linspace(0.2, 0.8, count)[:, None] * (ends[1] - ends[0])
        along[:, 0] += np.where(np.arange(count) % 2, -1, 1) * off * mark.inch_per_pixel
        edges.append(along @ base + centre)
    try:
        better = _measure(taps, rim, edges[0], edges[1], pixel)
    except GeometryError:
        return ""
    if better.width_standard > WORTH_IT * mark.width_standard:
        return ""
    doubt = plus_minus(rule.expanded(better.width_standard) or 0.0, unit)
    return f"{counts[0]} taps round the rim and {counts[1]} along each edge would tighten the width to about {doubt}."
