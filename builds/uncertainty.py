"""How well a reading is known: what it brings along itself, else its instrument's step and stated uncertainty, or what is
usual for its kind.

Standard uncertainties u throughout, in the base unit of what was read (JCGM 100): a step counts as a rectangular
distribution of half a step, step/√12; what is stated with a coverage factor k counts as U/k; repeats add s/√n. What the
instrument adds does not shrink with repeats.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from builds.measures import show, unit_for
from builds.models import Instrument, Reading, Shop, UsualUncertainty
from builds.verdicts import PLAIN, Rule

# Whose usual figure stands in when no instrument is named, unless a likely tool is worse.
TAKEN_FOR = {
    "length": "other", "force": "spring-tester", "torque": "torque-wrench", "angle": "degree-wheel",
    "volume": "burette", "ratio": "ratio",
}  # fmt: skip


@dataclass(frozen=True)
class Known:
    """How well one tool, or one figure from a paper, is known. Lengths in inches, others in their base unit.

    `usual` says that nothing is stated for it and the shop's usual figure for its kind stands in.
    """

    name: str
    kind: str
    unit_kind: str = "length"
    resolution: float | None = None
    stated: float | None = None
    coverage: float = 2.0
    usual: bool = False

    @property
    def standard(self) -> float | None:
        """Standard uncertainty of one reading; None where nothing at all is known."""
        if self.resolution is None and self.stated is None:
            return None
        return math.hypot((self.resolution or 0.0) / math.sqrt(12), (self.stated or 0.0) / self.coverage)

    def words(self, length_unit: str = "in") -> str:
        """Where its uncertainty comes from: HG-1: ± 0.0005 in (k 2), usual for its kind; reads to 0.001 in."""
        unit = unit_for(self.unit_kind, length_unit)
        told = []
        if self.stated is not None:
            source = "usual for its kind" if self.usual else "stated"
            told.append(f"{plus_minus(self.stated, unit)} (k {self.coverage:g}), {source}")
        if self.resolution is not None:
            told.append(f"reads to {show(self.resolution, unit, with_unit=True)}")
        return f"{self.name}: {'; '.join(told) or 'nothing is known of it'}"


def plus_minus(expanded: float, unit: str) -> str:
    """An uncertainty as it is written beside a value: ± 0.0012 in. Rounded up, never down."""
    places = 4 if unit == "in" else 3 if unit in ("mm", "×") else 2
    step = 10.0**-places
    in_unit = float(show(expanded, unit, places + 6).replace("−", "-"))
    rounded = math.ceil(in_unit / step - 1e-6) * step
    behind = {"°": "°", "×": ""}.get(unit, f" {unit}")
    return f"± {rounded:.{places}f}{behind}"


# What is mostly read with what, by the key of the characteristic; other floors add theirs. Where nobody said which tool
# it was, no tool of this kind comes out worse.
mostly_read_with: dict[str, str] = {
    "bore": "micrometer", "piston_diameter": "micrometer", "main_clearance": "micrometer", "rod_clearance": "micrometer",
    "gasket_thickness": "micrometer", "gasket_bore": "caliper", "ring_gap_top": "feeler", "ring_gap_second": "feeler",
    "deck_clearance": "dial", "endplay": "dial",
}  # fmt: skip


class Toolbox:
    """Every instrument of the drawer, the usual uncertainties, and the shop's rule."""

    def __init__(
        self,
        instruments: Iterable[Instrument] = (),
        usual: Iterable[UsualUncertainty] = (),
        rule: Rule | None = None,
        *,
        complete: bool = False,
    ) -> None:
        self.complete = complete  # without its tools read, no uncertainty can be told
        self.instruments = {tool.pk: tool for tool in instruments}
        self._usual = {row.key: row for row in usual}
        self.rule = rule or PLAIN

    @classmethod
    def read(cls, *, complete: bool = True) -> "Toolbox":
        """As it stands in the book now, in three queries.

        Where nothing is shown but verdicts (`complete=False`) the tools are read only if the rule needs them: one query
        with the guard band off.
        """
        rule = (Shop.objects.first() or Shop()).rule
        if complete or rule.guard_band:
            return cls(Instrument.objects.all(), UsualUncertainty.objects.all(), rule, complete=True)
        return cls(rule=rule)

    def usual(self, key: str) -> Known:
        """What is usual for a kind of tool, or for a figure from a paper."""
        row = self._usual.get(key)
        if row is None:
            return Known(key.replace("-", " "), key)
        return Known(row.name, key, row.unit_kind, stated=float(row.uncertainty), usual=True)

    def of(self, instrument_id: int | None, *, unit_kind: str = "length", taken_for: str = "") -> Known:
        """How well an instrument is known. One that is not named could be any: see `unnamed`."""
        tool = self.instruments.get(instrument_id or 0)
        if tool is None or tool.unit_kind != unit_kind:
            return self.unnamed(unit_kind, taken_for)
        return self.known(tool)

    def unnamed(self, unit_kind: str = "length", taken_for: str = "") -> Known:
        """How well a reading is known whose tool nobody named: never better than with a tool that was.

        The shop's figure for none named, or what is usual for the kind that it is mostly read with, or the least well
        known tool of that kind in the drawer, step and all: whichever is worst.
        """
        any_tool = TAKEN_FOR.get(unit_kind, "")
        mostly = self.usual(taken_for or any_tool)
        could_be = (self.usual(any_tool), mostly, *self._in_use(mostly.kind))
        worst = max(could_be, key=lambda known: known.standard or 0.0)
        name = mostly.name if mostly.kind == any_tool else f"{mostly.name}, not named"
        return replace(worst, name=name, kind=mostly.kind, unit_kind=unit_kind)

    def known(self, tool: Instrument) -> Known:
        """How well this instrument is known: what is stated for it, else what is usual for its kind."""
        resolution = None if tool.resolution is None else float(tool.resolution)
        if tool.uncertainty is None:
            return replace(
                self.usual(tool.kind), name=tool.mark, unit_kind=tool.unit_kind, resolution=resolution
            )
        stated, coverage = float(tool.uncertainty), float(tool.coverage)
        return Known(tool.mark, tool.kind, tool.unit_kind, resolution, stated, coverage)

    def least_known(self, kind: str) -> Known:
        """The least well known tool of a kind that is in use: for a blade that is not named; else the usual one."""
        return max(self._in_use(kind), key=lambda known: known.standard or 0.0, default=self.usual(kind))

    def best_known(self, kind: str) -> Known:
        """The best known tool of a kind that is in use; else the usual one."""
        return min(self._in_use(kind), key=lambda known: known.standard or 0.0, default=self.usual(kind))

    def _in_use(self, kind: str) -> list[Known]:
        return [self.known(tool) for tool in self.instruments.values() if tool.kind == kind and tool.in_use]


def scatter(values: Sequence[float]) -> float | None:
    """Standard uncertainty of a mean from the scatter of its readings alone, s/√n; None for fewer than two."""
    count = len(values)
    if count < 2:
        return None
    mean = math.fsum(values) / count
    off = [value - mean for value in values]
    squares = math.fsum(each * each for each in off) - math.fsum(off) ** 2 / count
    return math.sqrt(max(squares, 0.0) / (count - 1) / count)


def own_standard(reading: Reading) -> float | None:
    """The standard uncertainty [base unit] that a reading brings along; None where its tool's holds."""
    kept = reading.context.get("standard")
    return None if kept in (None, "") else float(kept)


def standard_from_tools(
    readings: Sequence[Reading], tools: Toolbox, *, unit_kind: str = "length", taken_for: str = ""
) -> float | None:
    """What the tools alone add to the mean of a set's readings; None where nothing is known of one of them.

    Readings with the same tool share its uncertainty; those with another have their own, each by its part of the mean. A
    reading that brings its own uncertainty along, as one measured on a picture does, has that and no tool's.
    """
    parts: dict[int | None, int] = {}
    shares = []
    for reading in readings:
        own = own_standard(reading)
        if own is None:
            parts[reading.instrument_id] = parts.get(reading.instrument_id, 0) + 1
        else:
            shares.append(own / len(readings))
    for instrument_id, count in parts.items():
        known = tools.of(instrument_id, unit_kind=unit_kind, taken_for=taken_for).standard
        if known is None:
            return None
        shares.append(known * count / len(readings))
    return math.hypot(*shares)


def standard_of(
    readings: Sequence[Reading], tools: Toolbox, *, unit_kind: str = "length", taken_for: str = ""
) -> float | None:
    """Standard uncertainty of the mean of a set's readings, tools and scatter together; None where it is not known."""
    known = standard_from_tools(readings, tools, unit_kind=unit_kind, taken_for=taken_for)
    if not readings or known is None:
        return None
    return math.hypot(known, scatter([float(reading.value or 0) for reading in readings]) or 0.0)


def standard_of_figure(
    work: Callable[[Mapping[str, Decimal]], Decimal | None],
    values: Mapping[str, Decimal],
    standards: Mapping[str, float | None],
) -> float | None:
    """Standard uncertainty of a figure worked out from values, each moved by its own u both ways (JCGM 100, 5.1.3).

    Values without an uncertainty of their own count as exact; None when one that was read is not known.
    """
    parts = []
    for key, standard in standards.items():
        if key not in values:
            continue
        if standard is None:
            return None
        step = Decimal(repr(standard))
        ends = [work({**values, key: values[key] + way * step}) for way in (1, -1)]
        if ends[0] is None or ends[1] is None:
            return None
        parts.append(float(ends[0] - ends[1]) / 2)
    return math.hypot(*parts)
