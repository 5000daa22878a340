"""What a sheet shows of the worksheet: ratio and load through the lift, for one valve of each kind."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from builds.models import Build
from builds.worklog import WorkLog
from valvetrain.changes import inputs_of
from valvetrain.charts.load import LoadNumbers
from valvetrain.charts.ratio import RatioNumbers
from valvetrain.charts.spring import SpringNumbers
from valvetrain.charts.worked import load_of, ratio_of
from valvetrain.forms.charts import USUAL
from valvetrain.gathering import HeadRecords
from valvetrain.geometry.errors import GeometryError
from valvetrain.lift_table import TableRefused
from valvetrain.models import LobeTable, MovingMasses, PushrodSide, SpringSheet
from valvetrain.models.worksheet import for_kind
from valvetrain.papers import sheet_for
from valvetrain.valvestate import ValveState
from valvetrain.worksheet import Case
from valvetrain.worksheet_pairs import pairs_at

EVERY = 4  # of the angles that the worksheet reckons at, one in so many is drawn on paper


@dataclass
class ThroughLift:
    """Ratios and loads, a valve for each kind; none where the worksheet does not know enough."""

    ratios: list[RatioNumbers] = field(default_factory=list)
    loads: list[LoadNumbers] = field(default_factory=list)


def through_lift(
    valves: Iterable[ValveState],
    records: HeadRecords,
    log: WorkLog,
    sheets: Mapping[str, SpringSheet],
    springs: Iterable[SpringNumbers],
    unit: str,
) -> ThroughLift:
    """What there is to draw; a ratio needs the pushrod's side, a load by speed the weights.

    In a constant number of queries. The valve is the one whose spring is drawn, else the first of its kind.
    """
    found = ThroughLift()
    for case in _cases(valves, records, log, sheets, {spring.address for spring in springs}):
        try:
            if case.pushrod_side is not None:
                pairs = [
                    (pair.lobe_lift, pair.valve_lift) for pair in pairs_at(case.build, case.valve.address)
                ]
                ratio = ratio_of(case, pairs, unit)
                found.ratios += [ratio] if isinstance(ratio, RatioNumbers) and ratio.linkage else []
            if case.masses is not None:
                load = load_of(case, USUAL, unit)
                found.loads += [thinned(load)] if isinstance(load, LoadNumbers) and load.by_speed else []
        except (GeometryError, TableRefused):  # parts that cannot be put together: the worksheet says which
            continue
    return found


def _cases(
    valves: Iterable[ValveState],
    records: HeadRecords,
    log: WorkLog,
    sheets: Mapping[str, SpringSheet],
    drawn: set[str],
) -> Iterator[Case]:
    """One valve of each kind as the worksheet takes it; what is not drawn is left out."""
    build: Build = records.build.build
    sides = list(PushrodSide.objects.filter(build=build))
    masses = list(MovingMasses.objects.filter(build=build))
    if not sides and not masses:
        return
    tables = {table.kind: table for table in LobeTable.objects.filter(build=build).prefetch_related("points")}
    chosen: dict[str, ValveState] = {}
    for state in valves:
        kept = chosen.setdefault(state.valve.kind, state)
        if state.address in drawn and kept.address not in drawn:
            chosen[state.valve.kind] = state
    for kind, state in chosen.items():
        valve = state.valve
        yield Case(
            build=build,
            valve=valve,
            inputs=inputs_of(records, valve),
            rockers=records.build.rockers_for(kind),
            card=records.build.cam_card,
            values={**log.values_at(f"cyl{valve.cylinder}"), **log.values_at(valve.address)},
            pushrod_side=for_kind(sides, kind),
            masses=for_kind(masses, kind),
            piston_side=None,
            lobe_table=tables.get(kind),
            spring_sheet=sheet_for(sheets, kind),
            sides={},
        )


def thinned(numbers: LoadNumbers) -> LoadNumbers:
    """The same loads at fewer angles; what is said of them in words stays: ends, most lift and load, every least load."""
    last = len(numbers.angles) - 1
    said = {last, numbers.lifts.index(max(numbers.lifts)), numbers.spring.index(max(numbers.spring))}
    said |= {loads.index(min(loads)) for _rpm, loads in numbers.by_speed}
    kept = sorted({*range(0, last + 1, EVERY), *said})

    def of(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(values[index] for index in kept)

    return replace(
        numbers,
        angles=of(numbers.angles),
        lifts=of(numbers.lifts),
        spring=of(numbers.spring),
        by_speed=tuple((rpm, of(loads)) for rpm, loads in numbers.by_speed),
    )
