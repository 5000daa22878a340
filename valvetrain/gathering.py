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

    def pack_in_place(self, stand: Stand) -> FittedPack | None:
        """The pack that was fitted last."""
        packs = self.packs.get(stand.pk)
        return packs[-1] if packs else None


def gather(heads: Iterable[Head]) -> list[HeadRecords]:
    """Read all that decides these heads, in a constant number of queries however many there are."""
    heads = [head for head in heads if head.build_id is not None]
    ids = [head.pk for head in heads]
    builds = _gather_builds({head.build_id: head.build for head in heads})  # type: ignore[misc]
    prefetch_related_objects(heads, "stands__pads", "valves")
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


def _gather_builds(builds: dict[int, Build]) -> dict[int, BuildRecords]:
    found = {pk: BuildRecords(build, {}, None) for pk, build in builds.items()}
    for rocker_set in RockerSet.objects.filter(build__in=builds):
        found[rocker_set.build_id].rocker_sets[rocker_set.fits] = rocker_set
    for card in CamCard.objects.filter(build__in=builds):
        found[card.build_id].cam_card = card
    readings = (
        Reading.objects.standing()
        .filter(build__in=builds, characteristic__in=[NET_LIFT.key, *HEIGHT_WAYS])
        .select_related("instrument", "taken_by")
    )
    for reading in readings:
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
