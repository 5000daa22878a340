"""What the heads of one job share: rockers, cam card, lifts and heights; and what its engine left with before."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from builds.models import Build, Reading
from valvetrain.models import CamCard, FitsValves, RockerSet, Valve


@dataclass(frozen=True)
class LeftWith:
    """What an engine left with, for a job that looks at it again: its papers, and the net lifts that were measured."""

    rocker_sets: dict[str, RockerSet]
    cam_card: CamCard | None
    lifts: dict[str, list[Reading]] = field(default_factory=dict)


@dataclass
class BuildRecords:
    """The records of one build that its heads share."""

    build: Build
    rocker_sets: dict[str, RockerSet]
    cam_card: CamCard | None
    left: LeftWith | None = None
    lifts: dict[str, list[Reading]] = field(default_factory=lambda: defaultdict(list))
    heights: dict[str, list[Reading]] = field(default_factory=lambda: defaultdict(list))

    def rockers_for(self, kind: str) -> RockerSet | None:
        """The rocker set that works a kind of valve."""
        return _fitting(self.rocker_sets, kind)

    def same_lift_papers(self, kind: str) -> bool:
        """Whether card and rockers say the same of a lift as when it left: whoever changed one of them had a reason."""
        if self.left is None:
            return False
        then = _lift_on_paper(self.left.rocker_sets, self.left.cam_card, kind)
        return then == _lift_on_paper(self.rocker_sets, self.cam_card, kind)

    def lifts_at(self, valve: Valve) -> list[Reading]:
        """The lifts of a valve that count: measured on this job, else when it left, while its papers are the same."""
        own = self.lifts.get(valve.address, [])
        if own or self.left is None or not self.same_lift_papers(valve.kind):
            return own
        return self.left.lifts.get(valve.address, [])


def _fitting(rocker_sets: dict[str, RockerSet], kind: str) -> RockerSet | None:
    return rocker_sets.get(kind) or rocker_sets.get(FitsValves.BOTH)


def _lift_on_paper(
    rocker_sets: dict[str, RockerSet], card: CamCard | None, kind: str
) -> tuple[Decimal | None, ...]:
    """What a net lift is worked out from."""
    rockers = _fitting(rocker_sets, kind)
    ratio = None if rockers is None else rockers.ratio
    return (ratio, None, None) if card is None else (ratio, card.lobe_lift(kind), card.lash(kind))
