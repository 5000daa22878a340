"""What a file is, by its content; and its picture, decoded to the last line."""

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pillow_heif
from PIL import Image, ImageFile

from builds.models import MediaType
from builds.photos.parts import Fault, Unfit

MOST_PIXELS = 64_000_000
# Django's own process decodes: one picture at a time, so that a row of large ones does not add up in memory.
_decoding = threading.BoundedSemaphore(1)

Image.MAX_IMAGE_PIXELS = MOST_PIXELS
warnings.filterwarnings("error", category=Image.DecompressionBombWarning)
pillow_heif.register_heif_opener(thumbnails=False)

FORMATS = {MediaType.JPEG: "JPEG", MediaType.PNG: "PNG", MediaType.WEBP: "WEBP", MediaType.HEIC: "HEIF"}
HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis"}
# What people send by mistake, by how it begins.
OTHERS = [
    (b"GIF8", "a GIF picture"), (b"II*\0", "a TIFF or raw picture"), (b"MM\0*", "a TIFF or raw picture"),
    (b"BM", "a BMP picture"), (b"%PDF", "a PDF"), (b"PK\x03\x04", "a packed file (ZIP or an office document)"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL picture"), (b"\xff\x0a", "a JPEG XL picture"), (b"\x1aE\xdf\xa3", "a film"),
]  # fmt: skip
TRANSPOSES = {
    2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180, 4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_270, 7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}  # fmt: skip
ORIENTATION = 0x0112


class TooManyPixels(ValueError):
    """A picture that would not fit into memory, however small its file is."""


def kind_of(data: bytes) -> MediaType | None:
    """The kind of picture file, by its first bytes; None for everything that is not kept."""
    if data.startswith(b"\xff\xd8\xff"):
        return MediaType.JPEG
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return MediaType.PNG
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return MediaType.WEBP
    if data[4:8] == b"ftyp" and _brands(data) & HEIC_BRANDS:
        return MediaType.HEIC
    return None


def _brands(data: bytes) -> set[bytes]:
    end = min(int.from_bytes(data[:4], "big"), len(data), 200)
    return {data[8:12], *(data[at : at + 4] for at in range(16, end - 3, 4))}


def other_kind_of(data: bytes) -> str:
    """What a file is that is not kept, in words."""
    if data[4:8] == b"ftyp":
        return "an AVIF picture" if b"avif" in _brands(data) else "a film"
    begin = data[:400].lstrip().lower()
    if begin.startswith((b"<svg", b"<?xml", b"<!doctype", b"<html")):
        return "a drawing or a web page"
    return next(
        (words for head, words in OTHERS if data.startswith(head)), "no picture that the book can read"
    )


@contextmanager
def decoding() -> Iterator[None]:
    """Wait for the turn to hold a whole picture in memory."""
    with _decoding:
        yield


def measure(data: bytes, media_type: str) -> tuple[int, int]:
    """Width and height of a file's picture as its head tells them; nothing is decoded yet."""
    return _opened(data, media_type).size


def decode(data: bytes, media_type: str) -> Image.Image:
    """The whole picture, upright, as RGB. Raises `Unfit` for one that does not decode to its last line."""
    picture = _opened(data, media_type)
    # A library that prints sheets lets cut-off pictures pass for the whole process once it is loaded.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        picture.load()
        orientation = picture.getexif().get(ORIENTATION, 1)
        plain = to_rgb(picture)
    except Exception as error:  # a decoder may raise anything over a spoilt file
        raise Unfit(Fault.DAMAGED) from error
    turn = TRANSPOSES.get(orientation)
    upright = plain if turn is None else plain.transpose(turn)
    upright.info = {"icc_profile": picture.info["icc_profile"]} if "icc_profile" in picture.info else {}
    return upright


def _opened(data: bytes, media_type: str) -> Image.Image:
    try:
        picture = Image.open(io.BytesIO(data), formats=[FORMATS[MediaType(media_type)]])
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise TooManyPixels from None
    except Exception as error:  # a decoder may raise anything over a spoilt file
        raise Unfit(Fault.DAMAGED) from error
    if picture.width * picture.height > MOST_PIXELS:
        raise TooManyPixels
    if getattr(picture, "n_frames", 1) > 1:
        raise Unfit(Fault.MOVING)
    return picture


def to_rgb(picture: Image.Image) -> Image.Image:
    """The picture as plain RGB; what is see-through lies on white."""
    if picture.mode.startswith("I"):
        deep = np.asarray(picture).astype(np.uint32)
        return Image.fromarray((deep >> 8).clip(0, 255).astype(np.uint8)).convert("RGB")
    if picture.has_transparency_data:
        over = picture.convert("RGBA")
        white = Image.new("RGBA", over.size, "white")
        return Image.alpha_composite(white, over).convert("RGB")
    return picture if picture.mode == "RGB" else picture.convert("RGB")
