"""The packs that were fitted on a job, in words: a list of the log beside its readings."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from builds.models import Build
from valvetrain.models import FittedPack
from valvetrain.packwords import pack_words, total_words


@dataclass(frozen=True)
class FittedLine:
    """One fitted pack as a row of a list."""

    pack: FittedPack
    words: str
    total: str


def fitted_on(job: Build) -> "QuerySet[FittedPack]":
    """The packs fitted on a job, newest first, with all that a row shows, in a constant number of queries."""
    packs = FittedPack.objects.filter(stand__head__build=job).select_related("stand__head", "fitted_by")
    return packs.prefetch_related("stand__pads", "pieces__pad").order_by("-pk")


def lines_of(packs: Iterable[FittedPack], length_unit: str) -> list[FittedLine]:
    """Packs as rows, in the reader's unit."""
    return [
        FittedLine(pack, pack_words(pack, length_unit), total_words(pack, length_unit).removeprefix(" = "))
        for pack in packs
    ]
