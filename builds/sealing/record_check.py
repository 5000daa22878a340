"""The readings and photos of a job held against what its sealed sheets say of them, each named that does not match."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from builds.models import Build, Photo, Reading
from builds.photos import storage
from builds.sealing.chain import SHORT, reading_chain
from builds.sealing.rows import PHOTO_COLUMNS, READING_COLUMNS, row_digest
from builds.sealing.standalone import Fault

AT_ONCE = 100  # photos


def reading_faults(build: Build, sheet: str, told: Mapping[str, Any]) -> Iterator[Fault]:
    """Whether the readings that a sheet was sealed over are still what they were."""
    where, edition = f"job {build.job_number}", told["columns"]
    sealed: dict[int, str] = dict(told["rows"])
    last = max(sealed, default=0)
    readings = list(Reading.objects.filter(build=build, pk__lte=last).order_by("pk"))
    found = {each.pk: each for each in readings}
    clean = True
    for pk, short in sealed.items():
        if pk not in found:
            clean = False
            yield Fault(where, f"reading {pk} is gone, though sealed over")
        elif row_digest(found[pk], READING_COLUMNS[edition])[:SHORT] != short:
            clean = False
            yield Fault(where, f"reading {pk} ({found[pk]}) was changed after it was sealed over")
    for pk, reading in found.items():
        if pk not in sealed:
            clean = False
            yield Fault(
                where, f"reading {pk} ({reading}) was slipped in among readings that were sealed over"
            )
    if clean and reading_chain(readings, edition).head != told["head"]:
        yield Fault(where, f"the chain of readings does not end as {sheet} says")


def photo_faults(build: Build, told: Mapping[str, Any]) -> Iterator[Fault]:
    """Whether the photos that a sheet was sealed over are still in the book as they were. Their files: below."""
    where = f"job {build.job_number}"
    found = {photo.pk: photo for photo in Photo.objects.filter(build=build)}
    for pk, sha256, short in told["rows"]:
        photo = found.get(pk)
        if photo is None:
            yield Fault(where, f"photo {pk} is gone, though sealed over")
        elif photo.sha256 != sha256 or row_digest(photo, PHOTO_COLUMNS[told["columns"]])[:SHORT] != short:
            yield Fault(
                where, f"the record of photo {pk} ({photo.name}) was changed after it was sealed over"
            )


def photo_file_faults(told: Callable[[int], None]) -> Iterator[Fault]:
    """Rehash the file of every photo in the book, sealed over or not. `told` hears how many are done."""
    for done, photo in enumerate(_all_photos()):
        told(done)
        where = f"job {photo.build.job_number}"
        try:
            found = hashlib.sha256(storage.get(photo.path)).hexdigest()
        except FileNotFoundError:
            yield Fault(where, f"the file of photo {photo.pk} ({photo.name}) is gone")
        except OSError as error:
            yield Fault(
                where,
                f"the file of photo {photo.pk} ({photo.name}) cannot be read: {error.strerror or error}",
            )
        else:
            if found != photo.sha256:
                what = f"the file of photo {photo.pk} ({photo.name}) is not the one that was kept"
                yield Fault(where, f"{what}: SHA-256 {found}, was {photo.sha256}")


def _all_photos() -> Iterator[Photo]:
    """Every photo, asked for by the hundred: an open question would hold up whoever writes."""
    photos, last = Photo.objects.select_related("build").order_by("pk"), 0
    while some := list(photos.filter(pk__gt=last)[:AT_ONCE]):
        yield from some
        last = some[-1].pk
