"""Where everything stands on a head in plan, for the drawing of a sheet, and in which state."""

from collections.abc import Iterable

from valvetrain.models import Pad
from valvetrain.planshapes import StandPlace, ValvePlace
from valvetrain.standstate import StandState
from valvetrain.status import DRAWN_AS
from valvetrain.valvestate import ValveState


def stand_place(stand: StandState, pads: Iterable[Pad]) -> StandPlace:
    """A stand, with those of these pads that are its own."""
    mine = [pad for pad in pads if pad.stand_id == stand.stand.pk]
    return StandPlace(
        key=stand.stand.pk,
        address=stand.address,
        label=str(stand.stand),
        bolt_diameter=float(stand.stand.bolt_diameter),
        pads=tuple((pad.letter, float(pad.along), float(pad.across)) for pad in mine),
    )


def valve_place(valve: ValveState) -> ValvePlace:
    """A valve."""
    return ValvePlace(
        stand=valve.stand.pk,
        address=valve.address,
        label=f"cylinder {valve.valve.cylinder}, {valve.valve.get_kind_display()}",
        cylinder=valve.valve.cylinder,
        along=float(valve.valve.along),
        across=float(valve.valve.across),
        tip_diameter=float(valve.valve.tip_diameter),
    )


def plan_states(stands: Iterable[StandState]) -> dict[str, str]:
    """The state of every stand and valve by its address, as the drawing names it."""
    stands = list(stands)
    states = {stand.address: f"is-{DRAWN_AS[stand.status]}" for stand in stands}
    for stand in stands:
        for valve in stand.valves:
            states[valve.address] = f"is-{DRAWN_AS[valve.status(fitted=stand.pack is not None)]}"
    return states
