"""How well a valve's height error is known, what most of the doubt comes from, and what a better tool would buy.

Every input of the height error gets its standard uncertainty: from its instrument, from what is usual for its kind, from
the scatter of repeats. The service works the sensitivities out of the very functions that work the height out.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from builds.models import InstrumentKind, Reading
from builds.uncertainty import Known, Toolbox
from valvetrain.budget_inputs import Setup, Source, Way, arm_and_lift, formula, setup_and_sources
from valvetrain.changes import Inputs
from valvetrain.characteristics import STAND_GAP, TOP_OF_SHAFT
from valvetrain.geometry.estimates import Estimate
from valvetrain.geometry.height import top_of_shaft
from valvetrain.geometry.uncertainty import Budget, combine, what_if_better
from valvetrain.models import HeightGauge

# Kinds of tool of which a better one lies in most drawers.
BETTER_TOOL = {
    InstrumentKind.SCALE.value: InstrumentKind.CALIPER.value,
    InstrumentKind.CALIPER.value: InstrumentKind.MICROMETER.value,
    InstrumentKind.OTHER.value: InstrumentKind.MICROMETER.value,
}
# What does not take away a tenth of the doubt is not worth saying.
WORTH_SAYING = 0.9
MOST_OFFERS = 3
# The inputs that are read anew at every valve, and a reading [in] at which their slopes are worked out.
AS_READ = ("gap_", "foot_", "reading_")
ANY_READING = 0.02


@dataclass(frozen=True)
class Line:
    """One line of a budget. `adds` and `without` are expanded, in the unit of the height error [in]."""

    key: str
    name: str
    known: Known | None
    uncertainty: float
    sensitivity: float
    adds: float
    share: float
    without: float


@dataclass(frozen=True)
class Offer:
    """Something that would make the height better known, and the U that it would leave [in]."""

    act: str
    expanded: float


@dataclass(frozen=True)
class HeightBudget:
    """The height error of a valve with its uncertainty. Lengths in inches."""

    setup: Setup
    sources: Mapping[str, Source]
    tools: Toolbox

    @cached_property
    def budget(self) -> Budget:
        """What the service makes of it."""
        inputs = {key: source.estimate for key, source in self.sources.items()}
        return _combined(self.setup, inputs, self.tools.rule.coverage)

    @property
    def standard(self) -> float:
        """Standard uncertainty u of the height error."""
        return self.budget.uncertainty

    @property
    def expanded(self) -> float:
        """U = k·u, with the shop's k."""
        return self.budget.expanded

    @cached_property
    def lines(self) -> list[Line]:
        """What each input adds, the greatest share first, and the U that would be left if it were perfectly known."""
        return [
            Line(
                part.name,
                self.sources[part.name].name,
                self.sources[part.name].known,
                part.uncertainty,
                part.sensitivity,
                self.budget.coverage * part.adds,
                part.share,
                what_if_better(self.budget, name=part.name, uncertainty=0.0).expanded,
            )
            for part in self.budget.contributions
        ]

    @property
    def most(self) -> tuple[Source, float] | None:
        """What most of the doubt comes from, and its share [%]; None where nothing is in doubt."""
        first = self.budget.contributions[0]
        return (self.sources[first.name], first.share) if first.share > 0 else None

    @cached_property
    def offers(self) -> list[Offer]:
        """What would make it better known, the most first; what takes away less than a tenth is left out."""
        found = sorted(self._offers(), key=lambda offer: offer.expanded)
        return [offer for offer in found if offer.expanded < WORTH_SAYING * self.expanded][:MOST_OFFERS]

    def _offers(self) -> Iterator[Offer]:
        if any(way.characteristic == STAND_GAP.key for way in self.setup.ways):
            yield self._by_depth_micrometer()
        if self.setup.lift_from_card:
            yield self._by_measured_lift()
        for key, source in self.sources.items():
            if key.endswith("scatter"):
                half = source.estimate.uncertainty / 2**0.5
                yield Offer(f"Read as many again ({source.name})", self._known_as(key, half))
            elif source.known is not None and source.known.kind in BETTER_TOOL:
                better = self.tools.best_known(BETTER_TOOL[source.known.kind])
                left = self._known_as(key, better.standard or 0.0)
                yield Offer(f"Read the {source.name} with {_a(better)} instead of {_a(source.known)}", left)

    def _known_as(self, key: str, standard: float) -> float:
        return what_if_better(self.budget, name=key, uncertainty=standard).expanded

    def _by_depth_micrometer(self) -> Offer:
        tool = self.tools.best_known(InstrumentKind.DEPTH_MICROMETER)
        top = self.budget.value + float(top_of_shaft(*arm_and_lift(self.setup, self._values)))
        way = Way(TOP_OF_SHAFT.key, None, 1.0)
        kept = {
            key: source for key, source in self.sources.items() if not key[-1].isdigit() and key != "scatter"
        }
        kept["reading_0"] = Source("top of shaft", tool, Estimate(top, tool.standard or 0.0))
        other = HeightBudget(replace(self.setup, ways=(way,)), kept, self.tools)
        return Offer(f"Read from the tip to the top of the shaft with {_a(tool)}", other.expanded)

    def _by_measured_lift(self) -> Offer:
        tool = self.tools.best_known(InstrumentKind.DIAL)
        lift = arm_and_lift(self.setup, self._values)[1]
        kept = {
            key: source for key, source in self.sources.items() if key not in ("lobe_lift", "ratio", "lash")
        }
        kept["net_lift"] = Source("net lift", tool, Estimate(lift, tool.standard or 0.0))
        other = HeightBudget(replace(self.setup, lift_from_card=False), kept, self.tools)
        return Offer(f"Measure the net lift with {_a(tool)}", other.expanded)

    @property
    def _values(self) -> dict[str, float]:
        return {key: source.estimate.value for key, source in self.sources.items()}


def height_budget(
    readings: Sequence[Reading], inputs: Inputs, gauges: Mapping[int, HeightGauge], tools: Toolbox
) -> HeightBudget | None:
    """The uncertainty of the height error that a set of readings gives; None while something is missing for it."""
    if not tools.complete:
        return None
    found = setup_and_sources(readings, inputs, gauges, tools)
    return HeightBudget(*found, tools) if found is not None else None


def _combined(setup: Setup, inputs: Mapping[str, Estimate], coverage: float) -> Budget:
    fixed = {key: estimate.value for key, estimate in inputs.items() if not key.startswith(AS_READ)}
    readings = tuple(key for key in inputs if key.startswith(AS_READ))
    slopes = _slopes(setup, tuple(fixed.items()), readings)
    return combine(formula(setup), inputs, coverage=coverage, sensitivities=slopes)


@lru_cache(maxsize=256)
def _slopes(
    setup: Setup, fixed: tuple[tuple[str, float], ...], readings: tuple[str, ...]
) -> dict[str, float]:
    """Sensitivity of the height error to every input, by the service.

    The height error is a straight line in what was read, so the slopes are the same whatever that was: the valves of an
    engine share them, and from save to save they need not be worked out again.
    """
    values = dict(fixed) | dict.fromkeys(readings, ANY_READING)
    exact = {key: Estimate(value, 0.0) for key, value in values.items()}
    return {part.name: part.sensitivity for part in combine(formula(setup), exact).contributions}


def _a(known: Known) -> str:
    """A tool as a sentence names it: DM-1, or a depth micrometer where none is in the drawer."""
    if known.kind and known.name[:1].isupper():
        return known.name
    return f"a {known.name}"
