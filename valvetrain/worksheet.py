"""The worksheet's bridge: one valve's records in, the geometry's linkage, lobe, spring and masses out.

What is not known is None; numbers that no engine can have raise the geometry's own error, with its sentence.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from builds.models import Build
from builds.worklog import WorkLog
from valvetrain.changes import Inputs, inputs_of
from valvetrain.gathering import HeadRecords, gather
from valvetrain.geometry.cam import duration, exhaust_centreline, intake_centreline
from valvetrain.geometry.height import target_height
from valvetrain.geometry.lifter import leaning
from valvetrain.geometry.linkage import PushrodLinkage
from valvetrain.geometry.lobe import RAMP, LobeCurve, card_lobe
from valvetrain.geometry.lobe_table import table_lobe
from valvetrain.geometry.travel import sweep
from valvetrain.lift_table import read_table
from valvetrain.models import (
    CamCard,
    Head,
    LobeTable,
    MovingMasses,
    PistonSide,
    PushrodSide,
    RockerSet,
    SpringSheet,
    Valve,
    ValveKind,
)
from valvetrain.models.lobe import AnglesOf, PlacedBy
from valvetrain.models.worksheet import for_kind
from valvetrain.papers import sheet_for

Values = Mapping[str, Decimal]


@dataclass(frozen=True)
class SpringNow:
    """The spring under a valve: load on the seat [lbf], rate [lbf/in], and where each comes from."""

    seat_load: float
    rate: float
    source: str


@dataclass(frozen=True)
class Case:
    """One valve of a job with everything that the worksheet reckons with; read once, no query after."""

    build: Build
    valve: Valve
    inputs: Inputs
    rockers: RockerSet | None
    card: CamCard | None
    values: Values
    pushrod_side: PushrodSide | None
    masses: MovingMasses | None
    piston_side: PistonSide | None
    lobe_table: LobeTable | None
    spring_sheet: SpringSheet | None
    sides: Mapping[str, PistonSide]

    @property
    def ratio(self) -> float | None:
        """The rockers' nominal ratio."""
        return self.inputs.ratio

    @property
    def lash(self) -> float:
        """The card's lash [in]; nothing where there is no card."""
        return float(self.card.lash(self.valve.kind)) if self.card else 0.0

    @property
    def lobe_lift(self) -> float | None:
        """Lobe lift [in]: measured at this valve before the card's."""
        if "lobe_lift" in self.values:
            return float(self.values["lobe_lift"])
        return float(self.card.lobe_lift(self.valve.kind)) if self.card else None

    def shaft_offset(self) -> float | None:
        """Shaft centre to valve axis [in]: measured, else as it is with the mark centred at the right height."""
        return _shaft_offset(self.pushrod_side, self.inputs)

    def linkage(self) -> PushrodLinkage | None:
        """The linkage with the stand at its right height and the card's lash."""
        return _linkage(self.pushrod_side, self.inputs, self.lash)

    def lobe(self) -> LobeCurve | None:
        """The lobe's curve."""
        return _lobe(self.valve.kind, self.card, self.lobe_table, self.values)

    def spring(self) -> SpringNow | None:
        """The spring as read on the tester, else as its sheet has it at the height that it stands at."""
        return _spring(self.values, self.inputs.lift, self.spring_sheet)


def valves_of_heads(build: Build) -> list[HeadRecords]:
    """The heads of a job with their valves, in a constant number of queries."""
    return gather(Head.objects.filter(build=build).select_related("build__engine__customer"))


def case_of(heads: list[HeadRecords], build: Build, valve: Valve) -> Case:
    """Everything about one valve, in a constant number of queries."""
    records = next(each for each in heads if each.head.pk == valve.head_id)
    log, kind = WorkLog(build), valve.kind
    sheets = {sheet.fits: sheet for sheet in SpringSheet.objects.filter(build=build)}
    pistons = list(PistonSide.objects.filter(build=build))
    sides = {each.value: side for each in ValveKind if (side := for_kind(pistons, each.value)) is not None}
    return Case(
        build=build,
        valve=valve,
        inputs=inputs_of(records, valve),
        rockers=records.build.rockers_for(kind),
        card=records.build.cam_card,
        values={**log.values_at(f"cyl{valve.cylinder}"), **log.values_at(valve.address)},
        pushrod_side=for_kind(PushrodSide.objects.filter(build=build), kind),
        masses=for_kind(MovingMasses.objects.filter(build=build), kind),
        piston_side=sides.get(kind),
        lobe_table=LobeTable.objects.filter(build=build, kind=kind).prefetch_related("points").first(),
        spring_sheet=sheet_for(sheets, kind),
        sides=sides,
    )


def linkage_for(
    records: HeadRecords, valve: Valve, sides: list[PushrodSide] | None = None
) -> PushrodLinkage | None:
    """A valve's linkage, the stand at its right height and the lash the card's; None while something is not entered.

    `sides` are the job's, where the caller has them at hand: else one query. Raises `GeometryError` for parts that
    cannot be put together.
    """
    if sides is None:
        sides = list(PushrodSide.objects.filter(build=records.build.build))
    card = records.build.cam_card
    lash = float(card.lash(valve.kind)) if card else 0.0
    return _linkage(for_kind(sides, valve.kind), inputs_of(records, valve), lash)


def lobe_for(build: Build, kind: str, values: Values | None = None) -> LobeCurve | None:
    """A kind's lobe: from its table, else through the rows and the card; None while neither says enough.

    `values` are what the log has for the whole engine, where the caller has them at hand. Raises `GeometryError` for
    a lobe that cannot be.
    """
    card = CamCard.objects.filter(build=build).first()
    table = LobeTable.objects.filter(build=build, kind=kind).prefetch_related("points").first()
    return _lobe(kind, card, table, WorkLog(build).values_at("engine") if values is None else values)


def _shaft_offset(side: PushrodSide | None, inputs: Inputs) -> float | None:
    if side is not None and side.shaft_offset is not None:
        return float(side.shaft_offset)
    if inputs.arm is None or inputs.lift is None:
        return None
    # The contact runs furthest, L from the shaft, where the arm is square, and a sweep less at the far end.
    return inputs.arm.length - float(sweep(inputs.arm, inputs.lift, square_at=inputs.square_at)) / 2


def _linkage(side: PushrodSide | None, inputs: Inputs, lash: float) -> PushrodLinkage | None:
    offset = _shaft_offset(side, inputs)
    if side is None or offset is None or inputs.arm is None or inputs.lift is None:
        return None
    return PushrodLinkage(
        inputs.arm,
        shaft_height=float(target_height(inputs.arm, inputs.lift, inputs.square_at)),
        shaft_offset=offset,
        cup_radius=float(side.cup_radius),
        cup_angle=float(side.cup_angle),
        cup_offset=float(side.cup_offset),
        lifter_point=side.lifter_point(inputs.arm, offset),
        lifter_direction=leaning(float(side.lifter_lean), float(side.lifter_lean_along)),
        lash=lash,
    )


def _name(kind: str) -> str:
    return "intake" if kind == ValveKind.INTAKE else "exhaust"


def card_duration(card: CamCard, kind: str) -> float | None:
    """Duration [deg] at the card's checking lift: as printed, else from its two events."""
    name = _name(kind)
    printed, opens, closes = (getattr(card, f"{name}_{what}") for what in ("duration", "opens", "closes"))
    if printed is not None:
        return float(printed)
    return None if opens is None or closes is None else float(duration(float(opens), float(closes)))


def nose_of(kind: str, card: CamCard | None, values: Values) -> tuple[float, str] | None:
    """Crank angle of most lift [deg] and where it comes from: degreed, printed on the card, or from its events."""
    name = _name(kind)
    sign = 1.0 if kind == ValveKind.INTAKE else -1.0
    degreed = values.get(f"{name}_centreline")
    if degreed is not None:
        return sign * float(degreed), "as degreed"
    if card is None:
        return None
    printed = getattr(card, f"{name}_centreline")
    if printed is not None:
        return sign * float(printed), "from the cam card"
    opens, closes = getattr(card, f"{name}_opens"), getattr(card, f"{name}_closes")
    if opens is None or closes is None:
        return None
    work = intake_centreline if kind == ValveKind.INTAKE else exhaust_centreline
    return sign * float(work(float(opens), float(closes))), "from the card’s events"


def lobe_points(kind: str, card: CamCard, table: LobeTable | None) -> list[tuple[float, float]]:
    """Lobe lifts with the durations at them [in, deg]: the rows, and the card's own where no row has its lift."""
    points = {float(row.lift): float(row.duration) for row in table.points.all()} if table else {}
    whole = card_duration(card, kind)
    if card.timed_at and whole is not None:
        points.setdefault(float(card.timed_at), whole)
    return sorted(points.items())


def _lobe(kind: str, card: CamCard | None, table: LobeTable | None, values: Values) -> LobeCurve | None:
    nose = nose_of(kind, card, values)
    if table is not None and table.text:
        return lobe_curve_of_table(table, nose[0] if nose else None)
    if card is None or nose is None:
        return None
    points = lobe_points(kind, card, table)
    if not points:
        return None
    ramp = float(table.ramp) if table is not None and table.ramp is not None else RAMP
    return card_lobe(points, max_lift=float(card.lobe_lift(kind)), nose_at=nose[0], ramp=ramp)


def lobe_curve_of_table(table: LobeTable, nose: float | None) -> LobeCurve | None:
    """The lobe of an imported table, its nose at a crank angle [deg]; None where that places it and is not known."""
    read = read_table(table.text, table.lift_unit)
    degrees = 2.0 if table.angles_of == AnglesOf.CAM else 1.0
    curve = table_lobe([degrees * each for each in read.angles], read.lifts, smoothing=float(table.smoothing))
    if table.placed_by == PlacedBy.OWN:
        return curve
    if nose is None:
        return None
    shift = nose - curve.nose_at
    return replace(curve, nose_at=nose, opens_at=curve.opens_at + shift, closes_at=curve.closes_at + shift)


def _spring(values: Values, lift: float | None, sheet: SpringSheet | None) -> SpringNow | None:
    seat, opened = values.get("seat_load"), values.get("open_load")
    if seat is not None and opened is not None and lift:
        return SpringNow(float(seat), (float(opened) - float(seat)) / lift, "seat and open load as read")
    rate = sheet.rate() if sheet is not None else None
    if sheet is None or rate is None:
        return None
    if seat is not None:
        return SpringNow(float(seat), float(rate), "seat load as read, rate from the spring sheet")
    height = values.get("installed_height", sheet.installed_height)
    at_height = sheet.seat_load + rate * (sheet.installed_height - height)
    return SpringNow(float(at_height), float(rate), "from the spring sheet, at the height it stands at")
