"""Records in: everything that decides one or more heads, read in a constant number of queries.

What comes out is plain: no query is made after `gather` has returned.
"""

from collections import defaultdict
from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import prefetch_related_objects

from builds import editions
from builds.found import set_number
from builds.models import Limit, Reading
from builds.uncertainty import Toolbox
from valvetrain.build_records import BuildRecords, LeftWith
from valvetrain.characteristics import HEIGHT_WAYS, NET_LIFT
from valvetrain.drawer_count import InDrawer, read_drawer
from valvetrain.models import (
    CamCard,
    FittedPack,
    Head,
    HeightGauge,
    RockerSet,
    Stand,
    StandMove,
    Valve,
)


@dataclass(frozen=True)
class LimitValue:
    """One limit as the verdicts use it."""

    low: float | None
    high: float | None
    source: str


@dataclass(frozen=True)
class Hardware:
    """A head's slowly changing part: what it is built of and what it is judged by."""

    head: Head
    rocker_sets: dict[str, RockerSet]
    cam_card: CamCard | None
    gauges: dict[int, HeightGauge]
    limits: dict[str, LimitValue]
    shims: list[InDrawer]
    tools: Toolbox = field(default_factory=Toolbox)
    moves: dict[int, list[StandMove]] = field(default_factory=dict)
    left: LeftWith | None = None


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
    shims: list[InDrawer]
    tools: Toolbox = field(default_factory=Toolbox)
    moves: dict[int, list[StandMove]] = field(default_factory=dict)

    def take_in(self, reading: Reading) -> None:
        """Add a reading that was written a moment ago, as if it had been read with the others."""
        lift = reading.characteristic == NET_LIFT.key
        kept = (self.build.lifts if lift else self.build.heights)[reading.position]
        if reading.pk not in {known.pk for known in kept}:
            kept[:] = [known for known in kept if known.pk != reading.corrects_id]
            kept.append(reading)
            if lift:
                kept[:] = newest_set(kept)

    @property
    def positions(self) -> dict[str, str]:
        """The addresses of this head's valves."""
        return {valve.address: "valve" for valves in self.valves_on.values() for valve in valves}


def gather(
    heads: Iterable[Head], *, with_people: bool = False, with_tools: bool = False
) -> list[HeadRecords]:
    """Read all that decides these heads, in a constant number of queries however many there are.

    `with_people` brings who took each reading, and with which instrument, for a sheet that prints them; `with_tools` how
    well each tool is known, for a page that shows uncertainties (verdicts have what their rule needs without it).
    """
    return _with_log(
        _read_hardware([head for head in heads if head.build is not None], with_tools=with_tools),
        with_people=with_people,
    )


def gather_for_bench(head_pk: int) -> HeadRecords | None:
    """Read one head for the bench; None for a layout, or where there is no such head.

    What changes a few times a year is kept from one saved reading to the next, for as long as the database says
    that nothing of it was written (see `builds.editions`). The log itself is always read afresh.
    """
    token = editions.current()
    hardware = _kept_hardware(head_pk, token) if token else _hardware_of(head_pk)
    if hardware is None:
        return None
    # The kept head stays as it was read: this request gets a copy, with a build of its own.
    head = copy(hardware.head)
    head.build = copy(hardware.head.build)
    return _with_log([replace(hardware, head=head)])[0]


@lru_cache(maxsize=32)
def _kept_hardware(head_pk: int, token: str) -> Hardware | None:
    return _hardware_of(head_pk)


def _hardware_of(head_pk: int) -> Hardware | None:
    heads = Head.objects.select_related("build__engine__customer").filter(build__isnull=False, pk=head_pk)
    return next(iter(_read_hardware(list(heads), with_tools=True)), None)


def _read_hardware(heads: list[Head], *, with_tools: bool) -> list[Hardware]:
    prefetch_related_objects(heads, "stands__pads", "valves")
    ids = {head.job.pk for head in heads}
    left = {head.job.pk: head.job.follows_id for head in heads if head.job.follows_id}
    papers = ids.union(left.values())
    rocker_sets: dict[int, dict[str, RockerSet]] = defaultdict(dict)
    for rocker_set in RockerSet.objects.filter(build__in=papers):
        rocker_sets[rocker_set.build_id][rocker_set.fits] = rocker_set
    cards = {card.build_id: card for card in CamCard.objects.filter(build__in=papers)}
    gauges = {gauge.instrument_id: gauge for gauge in HeightGauge.objects.select_related("instrument")}
    tools = Toolbox.read(complete=with_tools)
    limits = read_limits(ids)
    shims = read_drawer()
    moves: dict[int, list[StandMove]] = defaultdict(list)
    for move in StandMove.objects.filter(stand__head__in=heads).select_related("moved_by"):
        moves[move.stand_id].append(move)
    return [
        Hardware(
            head,
            rocker_sets[head.job.pk],
            cards.get(head.job.pk),
            gauges,
            limits[head.job.pk],
            shims,
            tools,
            {stand.pk: moves[stand.pk] for stand in head.stands.all() if stand.pk in moves},
            LeftWith(rocker_sets[then], cards.get(then)) if (then := left.get(head.job.pk)) else None,
        )
        for head in heads
    ]


def _with_log(hardware: list[Hardware], *, with_people: bool = False) -> list[HeadRecords]:
    """Join what was measured and fitted to the heads."""
    heads = [each.head for each in hardware]
    builds: dict[int, BuildRecords] = {}
    for each in hardware:
        job = each.head.job
        # The kept papers stay as they were read: this request puts its own lifts beside them.
        left = each.left and replace(each.left, lifts=defaultdict(list))
        builds.setdefault(job.pk, BuildRecords(job, each.rocker_sets, each.cam_card, left))
    _read_log(builds, heads, with_people=with_people)
    packs: dict[int, list[FittedPack]] = defaultdict(list)
    stands_by_pk = {stand.pk: stand for head in heads for stand in head.stands.all()}
    fitted = FittedPack.objects.filter(stand__in=list(stands_by_pk))
    for pack in (fitted.select_related("fitted_by") if with_people else fitted).prefetch_related("pieces"):
        _place(pack, stands_by_pk[pack.stand_id])
        packs[pack.stand_id].append(pack)
    found = []
    for each in hardware:
        stands = list(each.head.stands.all())
        valves_on: dict[int, list[Valve]] = {stand.pk: [] for stand in stands}
        for valve in each.head.valves.all():
            valves_on[valve.stand_id].append(valve)
        build = builds[each.head.job.pk]
        found.append(
            HeadRecords(
                each.head,
                build,
                stands,
                valves_on,
                packs,
                each.gauges,
                each.limits,
                each.shims,
                each.tools,
                each.moves,
            )
        )
    return found


def _place(pack: FittedPack, stand: Stand) -> None:
    """Give a pack its stand, and its pieces their pads, from what is read already."""
    pack.stand = stand
    pads = {pad.pk: pad for pad in stand.pads.all()}
    for piece in pack.pieces.all():
        if piece.pad_id is not None:
            piece.pad = pads[piece.pad_id]


def _read_log(builds: dict[int, BuildRecords], heads: list[Head], *, with_people: bool) -> None:
    # The other head's readings decide nothing here.
    positions = {valve.address for head in heads for valve in head.valves.all()}
    readings = Reading.objects.standing().filter(
        build__in=builds, characteristic__in=[NET_LIFT.key, *HEIGHT_WAYS], position__in=positions
    )
    for reading in readings.select_related("instrument", "taken_by") if with_people else readings:
        records = builds[reading.build_id]
        kept = records.lifts if reading.characteristic == NET_LIFT.key else records.heights
        kept[reading.position].append(reading)
    _read_lifts_left_with(builds, positions)
    for records in builds.values():
        for lifts in records.lifts.values():
            lifts[:] = newest_set(lifts)


def _read_lifts_left_with(builds: dict[int, BuildRecords], positions: set[str]) -> None:
    """The lifts that were measured on the jobs that these look at again; one query where there is any."""
    left = {records.build.follows_id: records.left for records in builds.values() if records.left is not None}
    readings = Reading.objects.standing().filter(
        build__in=left, characteristic=NET_LIFT.key, position__in=positions
    )
    for reading in readings.select_related("build"):
        left[reading.build_id].lifts[reading.position].append(reading)
    for then in left.values():
        for lifts in then.lifts.values():
            lifts[:] = newest_set(lifts)


def newest_set(readings: list[Reading]) -> list[Reading]:
    """The readings that count: those taken since the last work."""
    newest = max(map(set_number, readings), default=0)
    return [reading for reading in readings if set_number(reading) == newest]


def read_limits(build_ids: Iterable[int]) -> dict[int, dict[str, LimitValue]]:
    """For each build the limits that hold on it, by key."""
    return {
        build_id: {
            key: LimitValue(_number(limit.low), _number(limit.high), limit.source)
            for key, limit in held.items()
        }
        for build_id, held in Limit.holding(build_ids).items()
    }


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def context_of(reading: Reading) -> tuple[str, float, dict[str, Any]]:
    """What a height reading says of how it was taken: pack in place, feeler under the foot [in], inputs that held."""
    context = reading.context
    feeler = context.get("foot_feeler") or {}
    return str(context.get("pack", "")), float(feeler.get("value", 0) or 0), dict(context.get("held", {}))
