"""Taking tags of place and person out of a picture file, without touching the picture: one way for each kind of file."""

from collections.abc import Callable

from builds.models import MediaType
from builds.photos import chunks, heic, jpeg
from builds.photos.parts import Cleared

READERS: dict[str, Callable[[bytes], Cleared]] = {
    MediaType.JPEG: jpeg.clear, MediaType.PNG: chunks.clear_png, MediaType.WEBP: chunks.clear_webp,
    MediaType.HEIC: heic.clear,
}  # fmt: skip


def clear(data: bytes, media_type: str) -> Cleared:
    """The file as it is kept, and what was taken out of it. Raises `parts.Unfit` for a file that cannot be followed.

    Nothing is encoded anew: what is no tag stays byte for byte.
    """
    return READERS[media_type](data)
