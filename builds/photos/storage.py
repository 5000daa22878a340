"""Where photos lie: a storage of its own, so that another one can be put in, and never under a public address."""

import os
import uuid
from pathlib import Path
from typing import Any

from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage, Storage, storages

from builds.models import MediaType

ENDINGS = {MediaType.JPEG: "jpg", MediaType.PNG: "png", MediaType.WEBP: "webp", MediaType.HEIC: "heic"}


class PhotoFolder(FileSystemStorage):
    """A folder on this machine. A file is there whole and on the disk, or not at all."""

    def url(self, name: str | None) -> str:
        """Refuse: a photo is handed out by a view, to those who may see it."""
        raise ValueError("A photo has no public address.")

    def _save(self, name: str, content: "File[Any]") -> str:
        path = Path(self.path(name))
        path.parent.mkdir(parents=True, exist_ok=True)
        # Under another name until it is on the disk: a lost power never leaves half a photo under a whole one's name.
        fresh = path.with_name(f".{path.name}-{uuid.uuid4().hex[:8]}")
        try:
            with fresh.open("xb") as file:
                os.chmod(fresh, 0o600)
                for piece in content.chunks():
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            fresh.replace(path)
        except BaseException:
            fresh.unlink(missing_ok=True)
            raise
        _settle(path.parent)
        return name


def _settle(folder: Path) -> None:
    """Put the folder's own list of names on the disk, where the system does that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def photo_files() -> Storage:
    """The storage of photos."""
    return storages["photos"]


def fresh_path(media_type: str) -> str:
    """A name that nobody can guess, for a file that was not there before."""
    name = uuid.uuid4().hex
    return f"{name[:2]}/{name}.{ENDINGS[MediaType(media_type)]}"


def rendition_path(path: str, size: str) -> str:
    """Where a smaller picture of a photo lies: beside it."""
    return f"{path.rsplit('.', 1)[0]}.{size}.jpg"


def put(path: str, data: bytes) -> None:
    """Write a file."""
    photo_files().save(path, ContentFile(data))


def get(path: str) -> bytes:
    """Read a file. Raises `FileNotFoundError` where it is gone."""
    with photo_files().open(path) as file:
        return bytes(file.read())
