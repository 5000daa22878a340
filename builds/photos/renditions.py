"""A photo in the sizes in which it is shown: upright, plain JPEG, without any tag. They can always be made anew."""

import io
from typing import Any

from PIL import Image, ImageCms

from builds.models import MediaType, Photo
from builds.photos.pictures import decode, decoding
from builds.photos.storage import get, photo_files, put, rendition_path

ORIGINAL = "original"
LONG_SIDE = {"thumb": 320, "screen": 1600, "full": 4096}
QUALITY = {"thumb": 78, "screen": 84, "full": 92}
MADE_AT_INTAKE = ("screen", "thumb")
SIZES = (*LONG_SIDE, ORIGINAL)


def open_rendition(photo: Photo, size: str) -> tuple[bytes, str]:
    """The bytes of a photo in one size, and their media type. A size that is not there yet is made and kept.

    Raises `FileNotFoundError` where the photo's own file is gone.
    """
    if size == ORIGINAL:
        return get(photo.path), photo.media_type
    path = rendition_path(photo.path, size)
    try:
        return get(path), MediaType.JPEG.value
    except FileNotFoundError:
        pass
    with decoding():
        data = jpeg_of(decode(get(photo.path), photo.media_type), LONG_SIDE[size], QUALITY[size])
    if not photo_files().exists(path):
        put(path, data)
    return data, MediaType.JPEG.value


def picture_of(photo: Photo) -> Image.Image:
    """The whole picture as it was taken, upright, RGB: for measuring on it."""
    with decoding():
        picture = decode(get(photo.path), photo.media_type)
    picture.info.clear()
    return picture


def print_jpeg(photo: Photo, long_side: int, box: tuple[int, int, int, int] | None = None) -> bytes:
    """A JPEG for paper, its longer side at most so many pixels; of a part of the picture where a box is given.

    The box is left, top, right, bottom in pixels of the upright picture.
    """
    return paper_jpeg(get(photo.path), photo.media_type, long_side, box)


def paper_jpeg(
    data: bytes, media_type: str, long_side: int, box: tuple[int, int, int, int] | None = None
) -> bytes:
    """The same from the bytes of a picture file, by which it may have been known before."""
    with decoding():
        picture = decode(data, media_type)
        if box is not None:
            profile = picture.info
            picture = picture.crop(box)
            picture.info = profile
        return jpeg_of(picture, long_side, QUALITY["screen"])


def size_of(photo: Photo, size: str) -> tuple[int, int]:
    """Width and height of a photo in one size, without opening it."""
    return fitted(photo.width, photo.height, LONG_SIDE[size])


def fitted(width: int, height: int, long_side: int) -> tuple[int, int]:
    """Width and height within a square of a given side, never larger than they are."""
    share = min(1.0, long_side / max(width, height))
    return max(1, round(width * share)), max(1, round(height * share))


def jpeg_of(picture: Image.Image, long_side: int, quality: int) -> bytes:
    """The picture as plain JPEG, its longer side at most so many pixels, its colours those of any screen."""
    size = fitted(picture.width, picture.height, long_side)
    small = (
        picture if size == picture.size else picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3)
    )
    small = _in_screen_colours(small, picture.info.get("icc_profile"))
    told = io.BytesIO()
    # Said outright: what the picture itself brings along must not go into the file.
    small.save(told, "JPEG", quality=quality, optimize=True, exif=b"", icc_profile=None, comment=b"")
    return told.getvalue()


def _in_screen_colours(picture: Image.Image, profile: Any) -> Image.Image:
    """The picture in sRGB, where its file says that it is in other colours."""
    if not profile:
        return picture
    try:
        found = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        turned = ImageCms.profileToProfile(picture, found, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture  # a profile for grey or ink, or a spoilt one: the picture as it is
    return picture if turned is None else turned
