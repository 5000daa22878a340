"""What the height error of a valve is worked out from: every input with its value and its standard uncertainty.

An input is known from its instrument, from what is usual for its kind, or from the scatter of repeats.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from builds.models import InstrumentKind, Reading
from builds.uncertainty import Known, Toolbox, scatter, standard_from_tools
from valvetrain.changes import Inputs
from valvetrain.characteristics import STAND_GAP, TOP_OF_SHAFT
from valvetrain.gathering import context_of
from valvetrain.geometry.arm import RockerArm
from valvetrain.geometry.cam import net_lift
from valvetrain.geometry.estimates import Estimate
from valvetrain.geometry.height import (
    height_from_gauge,
    height_from_top,
    height_from_underside,
    top_of_shaft,
)
from valvetrain.models import HeightGauge


@dataclass(frozen=True)
class Way:
    """A part of a set's readings: how they were taken, with which instrument, and their part of the mean."""

    characteristic: str
    instrument_id: int | None
    weight: float
    with_feeler: bool = False
    with_dummy: bool = False


@dataclass(frozen=True)
class Setup:
    """What the height error of a valve is worked out from, apart from the numbers."""

    ways: tuple[Way, ...]
    arm_length: float
    square_at: float
    lift_from_card: bool


@dataclass(frozen=True)
class Source:
    """One input of the height error in the bench's words, and the tool or paper that it is known from."""

    name: str
    known: Known | None
    estimate: Estimate


def setup_and_sources(
    readings: Sequence[Reading], inputs: Inputs, gauges: Mapping[int, HeightGauge], tools: Toolbox
) -> tuple[Setup, dict[str, Source]] | None:
    """What a set of readings makes the height error from; None while something is missing for it."""
    if not readings or inputs.arm is None or inputs.lift is None:
        return None
    sources: dict[str, Source] = {}
    ways = []
    for place, (instrument_id, characteristic) in enumerate(_ways_of(readings)):
        group = [each for each in readings if _way_of(each) == (instrument_id, characteristic)]
        gauge = gauges.get(instrument_id or 0)
        weight = len(group) / len(readings)
        if characteristic == STAND_GAP.key:
            if gauge is None:
                return None
            way = Way(characteristic, instrument_id, weight, *_beside(group, gauge))
            sources |= _gap_sources(place, group, gauge, tools, way)
        else:
            way = Way(characteristic, instrument_id, weight)
            tool = tools.of(instrument_id, taken_for=InstrumentKind.DEPTH_MICROMETER)
            name = "top of shaft" if characteristic == TOP_OF_SHAFT.key else "underside of the shaft"
            sources[f"reading_{place}"] = Source(name, tool, _estimate(_mean(group), tool))
        ways.append(way)
    sources |= _arm_sources(inputs.arm, tools) | _lift_sources(inputs, tools)
    by_way = dict(zip(_ways_of(readings), ways, strict=True))
    tops = [_top_read(by_way[_way_of(each)], each, gauges, inputs.arm) for each in readings]
    _add_scatter(sources, "scatter", f"scatter of {len(tops)} heights", tops)
    return Setup(tuple(ways), inputs.arm.length, inputs.square_at, not inputs.lift_readings), sources


def _way_of(reading: Reading) -> tuple[int | None, str]:
    return reading.instrument_id, reading.characteristic


def _ways_of(readings: Sequence[Reading]) -> list[tuple[int | None, str]]:
    return list(dict.fromkeys(_way_of(reading) for reading in readings))


def _mean(readings: Sequence[Reading]) -> float:
    return fmean(float(reading.value or 0) for reading in readings)


def _estimate(value: float, known: Known) -> Estimate:
    return Estimate(value, known.standard or 0.0)


def _beside(group: Sequence[Reading], gauge: HeightGauge) -> tuple[bool, bool]:
    """Whether a blade was under the foot, and whether the dummy shaft has a size of its own."""
    return any(context_of(reading)[1] for reading in group), bool(gauge.dummy_diameter)


def _gap_sources(
    place: int, group: Sequence[Reading], gauge: HeightGauge, tools: Toolbox, way: Way
) -> dict[str, Source]:
    """Gap, blade under the foot, step and dummy. Which blades were used is not written down: the least known counts."""
    blades = tools.least_known(InstrumentKind.FEELER)
    step = tools.of(gauge.instrument_id, taken_for=InstrumentKind.HEIGHT_GAUGE)
    found = {f"gap_{place}": Source("gap over the shaft", blades, _estimate(_mean(group), blades))}
    if way.with_feeler:
        foot = fmean(context_of(reading)[1] for reading in group)
        found[f"foot_{place}"] = Source("feeler under the foot", blades, _estimate(foot, blades))
    found[f"step_{place}"] = Source("gauge’s step", step, _estimate(gauge.step_value(), step))
    if way.with_dummy:
        micrometer = tools.least_known(InstrumentKind.MICROMETER)
        across = float(gauge.dummy_diameter or 0)
        found[f"dummy_{place}"] = Source("dummy shaft’s diameter", micrometer, _estimate(across, micrometer))
    return found


def _arm_sources(arm: RockerArm, tools: Toolbox) -> dict[str, Source]:
    micrometer = tools.least_known(InstrumentKind.MICROMETER)
    return {
        "tip_diameter": Source("roller’s diameter", micrometer, _estimate(2 * arm.tip_radius, micrometer)),
        "shaft_diameter": Source("shaft’s diameter", micrometer, _estimate(2 * arm.shaft_radius, micrometer)),
    }


def _lift_sources(inputs: Inputs, tools: Toolbox) -> dict[str, Source]:
    """The net lift: as measured, or the figures of the cam card that it is worked out from."""
    if inputs.lift_readings:
        lifts = inputs.lift_readings
        standard = standard_from_tools(lifts, tools, taken_for=InstrumentKind.DIAL)
        one_tool = {reading.instrument_id for reading in lifts}
        known = tools.of(next(iter(one_tool)), taken_for=InstrumentKind.DIAL) if len(one_tool) == 1 else None
        found = {"net_lift": Source("net lift", known, Estimate(inputs.lift or 0.0, standard or 0.0))}
        values = [float(reading.value or 0) for reading in lifts]
        _add_scatter(found, "lift_scatter", f"scatter of {len(values)} lifts", values)
        return found
    card, ratio = tools.usual("card"), tools.usual("ratio")
    found = {
        "lobe_lift": Source("lobe lift", card, _estimate(inputs.lobe_lift or 0.0, card)),
        "ratio": Source("rocker ratio", ratio, _estimate(inputs.ratio or 0.0, ratio)),
    }
    if inputs.lash:
        blades = tools.least_known(InstrumentKind.FEELER)
        found["lash"] = Source("lash", blades, _estimate(inputs.lash, blades))
    return found


def _add_scatter(sources: dict[str, Source], key: str, name: str, values: Sequence[float]) -> None:
    off = scatter(values)
    if off is not None:
        sources[key] = Source(name, None, Estimate(0.0, off, len(values) - 1))


def _top_read(way: Way, reading: Reading, gauges: Mapping[int, HeightGauge], arm: RockerArm) -> float:
    """Top of the shaft that one reading comes to."""
    value = float(reading.value or 0)
    values = {"gap_0": value, "reading_0": value}
    gauge = gauges.get(reading.instrument_id or 0)
    if way.characteristic == STAND_GAP.key and gauge is not None:
        values |= {"step_0": gauge.step_value(), "foot_0": context_of(reading)[1]}
        values["dummy_0"] = float(gauge.dummy_diameter or 0)
    return _top(way, 0, arm, values)


def _top(way: Way, place: int, arm: RockerArm, values: Mapping[str, float]) -> float:
    """Top of the shaft above the closed tip [in] by one way of reading it."""
    if way.characteristic == STAND_GAP.key:
        centre = height_from_gauge(
            arm,
            step=values[f"step_{place}"],
            gap=values[f"gap_{place}"],
            foot_feeler=values[f"foot_{place}"] if way.with_feeler else 0.0,
            dummy_radius=values[f"dummy_{place}"] / 2 if way.with_dummy else None,
        )
    elif way.characteristic == TOP_OF_SHAFT.key:
        centre = height_from_top(arm, values[f"reading_{place}"])
    else:
        centre = height_from_underside(arm, values[f"reading_{place}"])
    return float(centre) + arm.shaft_radius


def arm_and_lift(setup: Setup, values: Mapping[str, float]) -> tuple[RockerArm, float, float]:
    """The rocker, the net lift [in] and where it stands square, from the values of the inputs."""
    arm = RockerArm(setup.arm_length, values["tip_diameter"] / 2, values["shaft_diameter"] / 2)
    if setup.lift_from_card:
        lift = float(net_lift(values["lobe_lift"], values["ratio"], lash=values.get("lash", 0.0)))
    else:
        lift = values["net_lift"] + values.get("lift_scatter", 0.0)
    return arm, lift, setup.square_at


def formula(setup: Setup) -> Callable[..., float]:
    """The height error as a function of all that it is worked out from, by the service's own functions."""

    def height_error(**values: float) -> float:
        arm, lift, square_at = arm_and_lift(setup, values)
        top = sum(way.weight * _top(way, place, arm, values) for place, way in enumerate(setup.ways))
        return top + values.get("scatter", 0.0) - float(top_of_shaft(arm, lift, square_at))

    return height_error
