"""Which jobs have every setup sheet sealed that their heads need."""

from collections.abc import Iterable

from builds.models import SealedSheet
from valvetrain.models import Head


def sealed_builds(build_ids: Iterable[int]) -> set[int]:
    """Of these builds, those whose every head has a sealed setup sheet, or that are sealed whole. Two queries."""
    ids = set(build_ids)
    sheets = SealedSheet.objects.filter(
        signing__build__in=ids, signing__kind__in=("setup", "build")
    ).order_by()
    sealed = set(sheets.values_list("signing__build_id", "signing__kind", "signing__subject"))
    lacking = {
        build
        for build, head in Head.objects.filter(build__in=ids).values_list("build_id", "pk")
        if (build, "setup", str(head)) not in sealed and (build, "build", "") not in sealed
    }
    return ids - lacking
