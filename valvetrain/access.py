"""How the upper floor's views come by a head, a stand or what lies in the drawer."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from builds.access import get_me
from builds.models import Photo
from valvetrain.gathering import HeadRecords, gather_for_bench
from valvetrain.mark_photos import MarkPhoto
from valvetrain.models import Head, HeightGauge, RockerSet, ShimStock, SpringSheet, Stand, Valve


def _heads() -> QuerySet[Head]:
    return Head.objects.select_related("build__engine__customer").prefetch_related("valves", "stands__pads")


def get_head(request: HttpRequest, pk: int) -> Head:
    """A head of a job, with all its parts."""
    return get_object_or_404(_heads().filter(build__isnull=False), pk=pk)


def get_bench(request: HttpRequest, pk: int) -> HeadRecords:
    """A head of a job for the bench, with all that decides it."""
    records = gather_for_bench(pk)
    if records is None:
        raise Http404("There is no such head on any job.")
    return records


def get_hardware(request: HttpRequest, pk: int) -> Head:
    """A head of a job, or a layout on the shelf, with all its parts."""
    return get_object_or_404(_heads(), pk=pk)


def get_open_hardware(request: HttpRequest, pk: int) -> Head:
    """A layout, or a head whose job is still open; a closed job's head is refused with the reason."""
    head = get_hardware(request, pk)
    if head.build is not None and not head.build.takes_readings:
        raise PermissionDenied(head.build.closed_sentence)
    return head


def get_stand(request: HttpRequest, head: Head, pk: int) -> Stand:
    """A stand of this head."""
    stand = get_object_or_404(head.stands, pk=pk)
    stand.head = head
    return stand


def get_valve(request: HttpRequest, head: Head, pk: int) -> Valve:
    """A valve of this head."""
    return get_object_or_404(head.valves, pk=pk)


def get_rocker_set(request: HttpRequest, pk: int) -> RockerSet:
    """A rocker set of a job that is still open."""
    rocker_set = get_object_or_404(RockerSet.objects.select_related("build__engine__customer"), pk=pk)
    if not rocker_set.build.takes_readings:
        raise PermissionDenied(rocker_set.build.closed_sentence)
    return rocker_set


def get_spring_sheet(request: HttpRequest, pk: int) -> SpringSheet:
    """A spring sheet of a job that is still open."""
    sheet = get_object_or_404(SpringSheet.objects.select_related("build__engine__customer"), pk=pk)
    if not sheet.build.takes_readings:
        raise PermissionDenied(sheet.build.closed_sentence)
    return sheet


def get_gauge(request: HttpRequest, pk: int) -> HeightGauge:
    """A height gauge of the drawer."""
    return get_object_or_404(HeightGauge.objects.select_related("instrument"), pk=pk)


def get_shim(request: HttpRequest, pk: int) -> ShimStock:
    """One thickness of shim in the drawer."""
    return get_object_or_404(ShimStock, pk=pk)


def get_mark_photo(request: HttpRequest, head_pk: int, address: str, photo_id: UUID) -> MarkPhoto:
    """A photo of this head's job at one of its valves, with all that decides the valve."""
    records = get_bench(request, head_pk)
    on_head = (valve for valves in records.valves_on.values() for valve in valves)
    valve = next((each for each in on_head if each.address == address), None)
    if valve is None:
        raise Http404(f"There is no valve {address} on this head.")
    photo = Photo.objects.for_list().filter(build=records.head.job, client_id=photo_id).first()
    if photo is None:
        raise Http404("There is no such photo on this job.")
    return MarkPhoto(records, valve, photo, get_me(request).length_unit)
