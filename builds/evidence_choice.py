"""What evidence may be taken from: readings, photos and parts of a job and of the one that the engine went out with."""

from django.db.models import Q, QuerySet

from builds import characteristics
from builds.findings import jobs_to_lean_on
from builds.models import Finding, PartFitted, Photo, PhotoFiling, Reading


def readings_for(finding: Finding, query: str, *, everywhere: bool) -> QuerySet[Reading]:
    """Readings at the finding's address, newest first; those that a search finds, or all, at any address."""
    rows = Reading.objects.for_list().select_related("build").filter(build__in=jobs_to_lean_on(finding.build))
    if query:
        named = [
            each.key for each in characteristics.everything() if query.casefold() in each.name.casefold()
        ]
        return rows.filter(
            Q(position__icontains=query)
            | Q(characteristic__in=named)
            | Q(characteristic__icontains=query.replace(" ", "_"))
            | Q(text__icontains=query)
            | Q(note__icontains=query)
        )
    return rows if everywhere or not finding.position else rows.filter(position=finding.position)


def photos_for(finding: Finding, query: str, *, everywhere: bool) -> QuerySet[Photo]:
    """Photos that are not set aside, newest first: at the finding's address, or all, or what a search finds."""
    here = finding.position if finding.position and not everywhere and not query else None
    rows = Photo.objects.for_list().filter(build__in=jobs_to_lean_on(finding.build)).filed(position=here)
    if not query:
        return rows
    filed = PhotoFiling.objects.filter(Q(note__icontains=query) | Q(position__icontains=query))
    return rows.filter(Q(name__icontains=query) | Q(newest_filing__in=filed.values("pk")))


def parts_for(finding: Finding, query: str, *, everywhere: bool) -> QuerySet[PartFitted]:
    """Parts of both jobs: all of them, since most carry a place in words; or what a search finds."""
    rows = PartFitted.objects.select_related("build").filter(build__in=jobs_to_lean_on(finding.build))
    rows = rows.order_by("role", "position", "pk")
    if not query:
        return rows
    return rows.filter(
        Q(role__icontains=query)
        | Q(position__icontains=query)
        | Q(maker__icontains=query)
        | Q(maker_number__icontains=query)
        | Q(lot__icontains=query)
        | Q(serial__icontains=query)
    )
