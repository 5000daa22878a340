"""Which jobs have every sheet sealed that they need: setup sheets of their heads, or the return report."""

from collections.abc import Iterable

from builds.models import BuildKind, SealedSheet
from valvetrain.models import Head


def sealed_builds(build_ids: Iterable[int]) -> set[int]:
    """Of these builds, those whose every head has a sealed setup sheet, or that are sealed whole. Two queries.

    A return is sealed by its report: its heads have no setup sheet.
    """
    ids = set(build_ids)
    sheets = SealedSheet.objects.filter(
        signing__build__in=ids, signing__kind__in=("setup", "build", "return")
    ).order_by()
    sealed = set(sheets.values_list("signing__build_id", "signing__kind", "signing__subject"))
    heads = Head.objects.filter(build__in=ids).values_list("build_id", "build__kind", "pk")
    lacking = {build for build, kind, head in heads if not _enough(sealed, build, kind, str(head))}
    return ids - lacking


def _enough(sealed: set[tuple[int, str, str]], build: int, kind: str, head: str) -> bool:
    if kind == BuildKind.RETURN:
        return (build, "return", "") in sealed
    return (build, "setup", head) in sealed or (build, "build", "") in sealed
