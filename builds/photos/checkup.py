"""Whether the files of photos are there and are what they were: for the book's own check-up."""

import hashlib

from builds.models import Photo
from builds.photos.renditions import LONG_SIDE
from builds.photos.storage import get, photo_files

NEWEST = 20
ANY = 180


def faults() -> list[str]:
    """What is not as it was kept, by name: of the newest photos, and of others picked anew each time."""
    rows = Photo.objects.select_related("build")
    newest = list(rows.order_by("-pk")[:NEWEST])
    others = rows.exclude(pk__in=[photo.pk for photo in newest]).order_by("?")[:ANY]
    return [
        f"{photo.name} of job {photo.build} ({fault})"
        for photo in (*newest, *others)
        if (fault := _fault(photo))
    ]


def _fault(photo: Photo) -> str:
    try:
        data = get(photo.path)
    except FileNotFoundError:
        return "gone"
    except OSError as error:
        return error.strerror or "cannot be read"
    return "" if hashlib.sha256(data).hexdigest() == photo.sha256 else "changed"


def strays() -> list[str]:
    """Files that belong to no photo: a power cut between a file and its row leaves one. Nobody sees them."""
    files = photo_files()
    if not files.exists(""):
        return []
    found = {f"{folder}/{name}" for folder in files.listdir("")[0] for name in files.listdir(folder)[1]}
    known = set(Photo.objects.values_list("path", flat=True))
    small = tuple(f".{size}.jpg" for size in LONG_SIDE)
    stems = {path.rsplit(".", 1)[0] for path in known}
    return sorted(
        path for path in found - known if not (path.endswith(small) and path.rsplit(".", 2)[0] in stems)
    )
