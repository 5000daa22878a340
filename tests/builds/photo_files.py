"""Picture files for the tests, drawn here: a gradient with a square, and tags of an invented camera and its owner."""

import io
import struct
from typing import Any

import numpy as np
import pillow_heif
from PIL import Image
from PIL.PngImagePlugin import PngInfo

pillow_heif.register_heif_opener(thumbnails=False)

OWNER = b"Ingmar Test-Owner"
SERIAL = b"SN-0042-INVENTED"
XMP = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><creator>' + OWNER + b"</creator></x:xmpmeta>"
KINDS = ["jpeg", "png", "webp", "heic"]
MEDIA = {"jpeg": "image/jpeg", "png": "image/png", "webp": "image/webp", "heic": "image/heic"}


def gradient(width: int = 160, height: int = 120) -> Image.Image:
    """A picture that is another one when it is turned or mirrored."""
    across = np.linspace(0, 255, width)[None, :].repeat(height, 0)
    down = np.linspace(0, 255, height)[:, None].repeat(width, 1)
    pixels = np.stack([across, down, (across + down) / 2], axis=2).astype(np.uint8)
    pixels[8 : 8 + height // 4, 8 : 8 + width // 4] = (250, 20, 20)
    return Image.fromarray(pixels)


def tags(orientation: int = 1) -> Image.Exif:
    """What a camera may write: where, when, whose, and how."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Testmaker"
    exif[0x0110] = "Model T"
    exif[0x0132] = "2026:03:04 05:06:07"
    exif[0x013B] = OWNER.decode()
    exif[0x8298] = "(c) " + OWNER.decode()
    exif[0x013C] = OWNER.decode() + "'s tablet"
    exif[0x9C9D] = OWNER.decode().encode("utf-16le")
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = "2026:03:04 05:06:07"
    inner[0x829A] = (1, 60)
    inner[0xA430] = OWNER.decode()
    inner[0xA431] = SERIAL.decode()
    inner[0xA435] = SERIAL.decode()
    inner[0xA434] = "Lens 35"
    inner[0x9286] = b"ASCII\0\0\0" + OWNER
    inner[0x927C] = b"Testmaker\0" + SERIAL * 3
    inner[0xA420] = "0123456789abcdef0123456789abcdef"
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (59.0, 17.0, 41.25)
    place[3], place[4] = "E", (18.0, 3.0, 55.5)
    place[29] = "2026:03:04"
    return exif


def picture(kind: str, image: Image.Image | None = None, **more: Any) -> bytes:
    """A file of one of the kinds, without tags unless they are given."""
    told = io.BytesIO()
    names = {"jpeg": "JPEG", "png": "PNG", "webp": "WEBP", "heic": "HEIF"}
    (image or gradient()).save(told, names[kind], **more)
    return told.getvalue()


def tagged(kind: str, orientation: int = 1, image: Image.Image | None = None) -> bytes:
    """A file with every kind of tag that can be put into it."""
    more: dict[str, Any] = {"exif": tags(orientation).tobytes()}
    if kind == "png":
        info = PngInfo()
        info.add_text("Author", OWNER.decode())
        info.add_itxt("XML:com.adobe.xmp", XMP.decode())
        more["pnginfo"] = info
    else:
        more["xmp"] = XMP
    data = picture(kind, image, **more)
    if kind == "jpeg":
        comment = segment(0xFE, b"by " + OWNER)
        iptc = segment(0xED, b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0" + OWNER)
        # Behind the picture: a film, with its own place in it.
        data = data[:2] + comment + iptc + data[2:] + b"\0\0\0\x18ftypmp42" + OWNER
    if kind == "webp":
        data += OWNER
    return data


def segment(mark: int, body: bytes) -> bytes:
    """One segment of a JPEG."""
    return struct.pack(">BBH", 0xFF, mark, len(body) + 2) + body


def pixels(data: bytes) -> np.ndarray[Any, Any]:
    """The picture of a file, as it is stored."""
    with Image.open(io.BytesIO(data)) as found:
        return np.asarray(found.convert("RGB"))
