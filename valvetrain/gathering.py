"""Records in: everything that decides one or more heads, read in a constant number of queries.

What comes out is plain: no query is made after `gather` has returned.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import prefetch_related_objects

from builds.models import Build, Limit, Reading
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT
from valvetrain.models import (
    CamCard,
    FitsValves,
    FittedPack,
    Head,
    HeightGauge,
    RockerSet,
    ShimStock,
    Stand,
    Valve,
)


@dataclass(frozen=True)
class LimitValue:
    """One limit as the verdicts use it."""

    low: float | None
    high: float | None
    source: str


@dataclass
class BuildRecords:
    """The records of one build that its heads share."""

    build: Build
    rocker_sets: dict[str, RockerSet]
    cam_card: CamCard | None
    lifts: dict[str, list[Reading]] = field(default_factory=lambda: defaultdict(list))
    heights: dict[str, list[Reading]] = field(default_factory=lambda: defaultdict(list))

    def rockers_for(self, kind: str) -> RockerSet | None:
        """The rocker set that works a kind of valve."""
        return self.rocker_sets.get(kind) or self.rocker_sets.get(FitsValves.BOTH)


@dataclass
class HeadRecords:
    """One head with its parts, and the records of its build."""

    head: Head
    build: BuildRecords
    stands: list[Stand]
    valves_on: dict[int, list[Valve]]
    packs: dict[int, list[FittedPack]]
    gauges: dict[int, HeightGauge]
    limits: dict[str, LimitValue]

    def take_in(self, reading: Reading) -> None:
        """Add a reading that was written a moment ago, as if it had been read with the others."""
        lift = reading.characteristic == NET_LIFT.key
        kept = (self.build.lifts if lift else self.build.heights)[reading.position]
        if reading.pk not in {known.pk for known in kept}:
            kept[:] = [known for known in kept if known.pk != reading.corrects_id]
            kept.append(reading)

    @property
    def positions(self) -> dict[str, str]:
        """The addresses of this head's valves."""
        return {valve.address: "valve" for valves in self.valves_on.values() for valve in valves}


def gather(heads: Iterable[Head], *, with_people: bool = False) -> list[HeadRecords]:
    """Read all that decides these heads, in a constant number of queries however many there are.

    `with_people` brings who took each reading, and with which instrument, for a sheet that prints them.
    """
    heads = [head for head in heads if head.build_id is not None]
    ids = [head.pk for head in heads]
    prefetch_related_objects(heads, "stands__pads", "valves")
    builds = _gather_builds(heads, with_people=with_people)
    packs: dict[int, list[FittedPack]] = defaultdict(list)
    for pack in (
        FittedPack.objects.filter(stand__head__in=ids).prefetch_related("pieces").select_related("fitted_by")
    ):
        packs[pack.stand_id].append(pack)
    gauges = {gauge.instrument_id: gauge for gauge in HeightGauge.objects.select_related("instrument")}
    limits = read_limits()
    found = []
    for head in heads:
        stands = list(head.stands.all())
        valves_on: dict[int, list[Valve]] = {stand.pk: [] for stand in stands}
        for valve in head.valves.all():
            valves_on[valve.stand_id].append(valve)
        found.append(HeadRecords(head, builds[head.build_id], stands, valves_on, packs, gauges, limits))  # type: ignore[index]
    return found


def _gather_builds(heads: list[Head], *, with_people: bool) -> dict[int, BuildRecords]:
    found = {head.build_id: BuildRecords(head.build, {}, None) for head in heads if head.build is not None}
    for rocker_set in RockerSet.objects.filter(build__in=found):
        found[rocker_set.build_id].rocker_sets[rocker_set.fits] = rocker_set
    for card in CamCard.objects.filter(build__in=found):
        found[card.build_id].cam_card = card
    readings = Reading.objects.standing().filter(
        build__in=found,
        characteristic__in=[NET_LIFT.key, *HEIGHT_WAYS],
        # The other head's readings decide nothing here.
        position__in={valve.address for head in heads for valve in head.valves.all()},
    )
    for reading in readings.select_related("instrument", "taken_by") if with_people else readings:
        records = found[reading.build_id]
        kept = records.lifts if reading.characteristic == NET_LIFT.key else records.heights
        kept[reading.position].append(reading)
    return found


def read_limits() -> dict[str, LimitValue]:
    """The shop's limits by key."""
    return {
        limit.key: LimitValue(_number(limit.low), _number(limit.high), limit.source)
        for limit in Limit.objects.all()
    }


def read_drawer() -> list[ShimStock]:
    """The shim pieces that are in the drawer, thinnest first."""
    return list(ShimStock.objects.filter(count__gt=0))


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def context_of(reading: Reading) -> tuple[str, float, dict[str, Any]]:
    """What a height reading says of how it was taken: pack in place, feeler under the foot [in], inputs that held."""
    context = reading.context
    feeler = context.get("foot_feeler") or {}
    return str(context.get("pack", "")), float(feeler.get("value", 0) or 0), dict(context.get("held", {}))
