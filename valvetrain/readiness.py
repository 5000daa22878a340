"""What a job still lacks before its heads can be set up. Plain: decides from what it is given."""

from collections.abc import Sequence

from valvetrain.models import CamCard, FitsValves, Head, RockerSet, ValveKind


def kinds_without_rockers(rocker_sets: Sequence[RockerSet]) -> list[ValveKind]:
    """Kinds of valve that no rocker set of the job works."""
    worked = {rocker_set.fits for rocker_set in rocker_sets}
    return [] if FitsValves.BOTH in worked else [kind for kind in ValveKind if kind.value not in worked]


def what_is_missing(
    heads: Sequence[Head], rocker_sets: Sequence[RockerSet], card: CamCard | None
) -> list[str]:
    """Sentences for what must be entered before anything can be set, the first thing first."""
    missing = []
    if not heads:
        missing.append("Add a head: choose a layout and say which cylinders it serves.")
    for head in heads:
        if not head.stands.all():
            missing.append(f"{head} has no stands yet.")
        elif not head.valves.all():
            missing.append(f"{head} has no valves yet.")
    lacking = kinds_without_rockers(rocker_sets)
    if len(lacking) == len(ValveKind):
        missing.append("Enter the rockers: arm length, roller and shaft.")
    elif lacking:
        missing.append(f"Enter the rockers for the {lacking[0].label} valves.")
    if card is None:
        missing.append("Enter the cam card, or measure the net lift of every valve at the bench.")
    return missing
