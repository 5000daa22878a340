"""From a job's records to the charts' numbers. Makes no query; what is missing is said in words."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from builds.measures import show
from builds.models import Build
from builds.worklog import WorkLog
from valvetrain.charts.numbers import ValveNumbers
from valvetrain.charts.packmap import MappedHead, MappedStand, PackMapNumbers, PackOnPads
from valvetrain.charts.residuals import Residual, ResidualNumbers
from valvetrain.charts.spring import SpringNumbers
from valvetrain.models import FitsValves, SpringSheet
from valvetrain.packwords import pack_pieces, shim_name
from valvetrain.standstate import StandState
from valvetrain.states import HeadState
from valvetrain.status import STATUS_WORDS
from valvetrain.valvestate import ValveState

Sheets = Mapping[str, SpringSheet]


def spring_sheets(build: Build) -> dict[str, SpringSheet]:
    """A build's spring sheets by the valves that they are for. One query."""
    return {sheet.fits: sheet for sheet in SpringSheet.objects.filter(build=build)}


def valve_numbers(state: ValveState, unit: str) -> ValveNumbers | None:
    """A valve's numbers as the drawings take them; None where something is missing."""
    if state.arm is None or state.inputs.lift is None or state.target_top is None:
        return None
    return ValveNumbers(
        arm_length=state.arm.length,
        tip_radius=state.arm.tip_radius,
        shaft_radius=state.arm.shaft_radius,
        lift=state.inputs.lift,
        tip_diameter=float(state.valve.tip_diameter),
        square_at=state.inputs.square_at,
        height_error=state.height_error,
        unit=unit,
        address=state.address,
    )


def residuals(state: HeadState, unit: str) -> ResidualNumbers:
    """Every valve's height error along a head."""
    valves = state.valves
    limit = valves[0].tolerance if valves else None
    return ResidualNumbers(
        valves=tuple(
            Residual(valve.address, valve.height_error, valve.verdict, valve.expanded) for valve in valves
        ),
        low=limit.low if limit else None,
        high=limit.high if limit else None,
        unit=unit,
        head=state.head.name,
    )


def pack_numbers(states: Iterable[HeadState], unit: str) -> PackMapNumbers:
    """The packs of all heads."""
    return PackMapNumbers(
        tuple(
            MappedHead(
                state.head.name,
                tuple(_mapped(stand, unit) for stand in state.stands),
                tuple((v.address, float(v.valve.along), float(v.valve.across)) for v in state.valves),
            )
            for state in states
        ),
        unit,
    )


def _mapped(stand: StandState, unit: str) -> MappedStand:
    pads = tuple((pad.letter, float(pad.along), float(pad.across)) for pad in stand.stand.pads.all())
    return MappedStand(stand.address, pads, _packs(stand, unit), STATUS_WORDS[stand.status])


def _packs(stand: StandState, unit: str) -> tuple[PackOnPads, ...]:
    """The pack in place: one for all pads, or each pad's own."""
    if stand.pack is None:
        return ()

    def pieces(pad: int | None) -> tuple[str, ...]:
        found = pack_pieces(stand.pack, pad)
        return tuple(shim_name(thickness, unit) for thickness, count in found for _ in range(count))

    if not stand.pack.differs:
        return (PackOnPads("all", pieces(None), show(stand.pack.total(), unit)),)
    return tuple(
        PackOnPads(pad.letter, pieces(pad.pk), show(stand.pack.total(pad.pk), unit))
        for pad in stand.stand.pads.all()
    )


def spring_of(valve: ValveState, log: WorkLog, sheets: Sheets, unit: str) -> SpringNumbers | str:
    """A valve's spring from what was measured, else from its maker's sheet; or what is missing, in words."""
    lift = valve.inputs.lift
    sheet = sheets.get(valve.valve.kind) or sheets.get(FitsValves.BOTH)
    values = log.values_at(valve.address)
    if lift is None:
        return f"{valve.address}: the net lift is not known: enter the cam card, or measure it."
    height = _first(values.get("installed_height"), sheet.installed_height if sheet else None)
    if height is None:
        return f"{valve.address}: measure the spring’s installed height, or enter its maker’s sheet."
    read_seat, read_open = values.get("seat_load"), values.get("open_load")
    sheet_rate = sheet.rate() if sheet else None
    if read_seat is not None and read_open is not None and lift > 0:
        rate: float | None = (float(read_open) - float(read_seat)) / lift
        source = "as read on the tester"
    else:
        rate = None if sheet_rate is None else float(sheet_rate)
        source = "rate from its maker’s sheet"
    if rate is None or rate < 0:
        return f"{valve.address}: read the seat and the open load, or enter both loads of the maker’s sheet."
    seat = float(read_seat) if read_seat is not None else _from_sheet(sheet, height, rate)
    if seat is None:
        return f"{valve.address}: read the seat load, or enter the maker’s sheet."
    solid = _first(values.get("solid_height"), sheet.solid_height if sheet else None)
    asked = log.limits.get("coil_bind_margin", valve.address)
    read = [(height, float(read_seat))] if read_seat is not None else []
    if read_open is not None:
        read.append((height - lift, float(read_open)))
    return SpringNumbers(
        installed_height=height,
        seat_load=seat,
        rate=rate,
        lift=lift,
        solid_height=solid,
        margin_asked=float(asked.low) if asked and asked.low is not None else None,
        read=tuple(read),
        source=source,
        kind=valve.valve.get_kind_display(),
        unit=unit,
        address=valve.address,
    )


def _first(*values: Decimal | None) -> float | None:
    """The first that is known."""
    return next((float(value) for value in values if value is not None), None)


def _from_sheet(sheet: SpringSheet | None, height: float, rate: float) -> float | None:
    """The seat load that the sheet's figures give at another height."""
    if sheet is None:
        return None
    return float(sheet.seat_load) + rate * (float(sheet.installed_height) - height)


def springs_of_head(
    valves: Iterable[ValveState], log: WorkLog, sheets: Sheets, unit: str
) -> list[SpringNumbers]:
    """For each kind of valve the measured spring with the least left before its coils touch."""
    worst: dict[str, SpringNumbers] = {}
    for valve in valves:
        spring = spring_of(valve, log, sheets, unit)
        if isinstance(spring, str) or "installed_height" not in log.values_at(valve.address):
            continue
        kept = worst.get(spring.kind)
        if kept is None or _left(spring) < _left(kept):
            worst[spring.kind] = spring
    return list(worst.values())


def _left(spring: SpringNumbers) -> float:
    return spring.open_height if spring.margin is None else spring.margin
