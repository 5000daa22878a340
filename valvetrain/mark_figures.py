"""A mark measured on a picture, in words: each figure with its uncertainty, what was to be expected, and the limits."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from builds.limits import LimitFor
from builds.measures import show
from builds.uncertainty import plus_minus
from builds.verdicts import DRAWN_AS, OUT, UNDECIDED, Rule
from valvetrain.charts.measured_tip import MeasuredTip, measured_tip
from valvetrain.charts.numbers import Drawing
from valvetrain.gathering import LimitValue
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.mark import MeasuredMark
from valvetrain.geometry.mark_in_picture import to_picture
from valvetrain.mark_result import WorkedOut, frame_of, measure_taps
from valvetrain.mark_side import side_words
from valvetrain.mark_steps import shape_of
from valvetrain.valvestate import ValveState

# A camera further off square than this [deg] sees the far rim badly.
TOO_TILTED = 45.0
# What is offered when more taps would make the mark better known, and by how much of U it must.
MORE_RIM, MORE_EDGE, WORTH_IT = 12, 5, 0.85


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
    notes: list[str]
    flatter: str
    side: str
    drawing: Drawing


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
    return Told(
        lines, notes[1:] if flatter else notes, flatter, side_words(worked, valve.rule, unit, pixel=pixel),
        _drawing(mark, valve, unit),
    )  # fmt: skip


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


def _drawing(mark: MeasuredMark, valve: ValveState, unit: str) -> Drawing:
    """The tip to scale with the mark as tapped beside the mark to expect."""
    figures = {name: round(getattr(mark, name), 4) for name in ("inner", "outer", "taper")}
    return measured_tip(
        MeasuredTip(
            mark.rim_diameter, **figures, expected=valve.sweep_target, unit=unit, address=valve.address
        )
    )


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
    edges = []
    for name, count in zip(("inner", "outer"), counts[1:], strict=True):
        ends = np.array(frame["edges"][name])
        along = ends[0] + np.linspace(0.2, 0.8, count)[:, None] * (ends[1] - ends[0])
        along[:, 0] += np.where(np.arange(count) % 2, -1, 1) * off * mark.inch_per_pixel
        edges.append(to_picture(mark, along))
    try:
        better = measure_taps(taps, rim, edges[0], edges[1], pixel)
    except GeometryError:
        return ""
    if better.width_standard > WORTH_IT * mark.width_standard:
        return ""
    doubt = plus_minus(rule.expanded(better.width_standard) or 0.0, unit)
    return f"{counts[0]} taps round the rim and {counts[1]} along each edge would tighten the width to about {doubt}."
