"""What was done on jobs that look again: packs fitted and stands slid there, not those that came along with it."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Exists, F, OuterRef

from builds.found import Judge
from valvetrain.models import FittedPack, Stand, StandMove


@dataclass
class Work:
    """What was done under one stand: when, by the names of its packs and slides."""

    packs: dict[str, datetime] = field(default_factory=dict)
    moves: dict[str, datetime] = field(default_factory=dict)

    def is_after(self, moment: datetime, kept: Mapping[str, Any]) -> bool:
        """Whether a moment was after some of it: by the pack and the slide that were kept with it, else by itself."""
        return _after(self.packs, kept.get("pack"), moment) or _after(self.moves, kept.get("move"), moment)


def _after(done: dict[str, datetime], named: str | None, moment: datetime) -> bool:
    return named in done if named is not None else any(at <= moment for at in done.values())


class WorkDone:
    """The work on some jobs, by job and address. Three queries, and three more where there was any."""

    def __init__(self, job_pks: Collection[int]) -> None:
        on_stand: dict[int, Work] = defaultdict(Work)
        packs = FittedPack.objects.filter(stand__head__build__in=job_pks, carried=False).order_by("pk")
        for stand, name, at in packs.values_list("stand", "client_id", "fitted_at"):
            on_stand[stand].packs[str(name)] = at
        came_along = StandMove.objects.filter(
            stand__head__build=OuterRef("stand__head__build__follows"),
            stand__head__code=OuterRef("stand__head__code"),
            stand__name=OuterRef("stand__name"),
            moved_at=OuterRef("moved_at"),
        )
        moves = StandMove.objects.filter(stand__head__build__in=job_pks).exclude(Exists(came_along))
        for stand, name, at in moves.values_list("stand", "client_id", "moved_at"):
            on_stand[stand].moves[str(name)] = at
        self.packs = {name for work in on_stand.values() for name in work.packs}
        self.moves = {name for work in on_stand.values() for name in work.moves}
        self._at: dict[tuple[int, str], Work] = {}
        worked_on = Stand.objects.filter(pk__in=on_stand).annotate(job=F("head__build"))
        for each in worked_on.select_related("head").prefetch_related("valves", "pads"):
            addresses = [each.address, *(valve.address for valve in each.valves.all())]
            for pad in each.pads.all():
                pad.stand = each
                addresses.append(pad.address)
            self._at.update(((each.job, address), on_stand[each.pk]) for address in addresses)

    def is_after(self, job_pk: int, position: str, moment: datetime, kept: Mapping[str, Any]) -> bool:
        """Whether something was taken after work at its address."""
        work = self._at.get((job_pk, position))
        return work is not None and work.is_after(moment, kept)


def after_work(job_pks: Collection[int]) -> Judge:
    """What judges what was taken on some jobs: for the ground floor's registry."""
    return WorkDone(job_pks).is_after
