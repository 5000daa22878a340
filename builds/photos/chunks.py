"""PNG and WebP files: both are rows of named chunks, of which those with tags are blanked or left out."""

import struct
import zlib
from collections.abc import Iterator

from builds.photos.parts import SHORTEST_EXIF, Cleared, Fault, Unfit, blank_block, without_repeats

PNG_HEAD = b"\x89PNG\r\n\x1a\n"
# What says how the picture is to be shown, after the PNG specification's third edition; capitals are the picture itself.
PNG_STAYS = {
    b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"mDCV", b"cLLI", b"bKGD", b"hIST", b"pHYs",
    b"sPLT", b"tIME",
}  # fmt: skip
PNG_TEXTS = {b"tEXt", b"zTXt", b"iTXt"}
PNG_MOVES = {b"acTL", b"fcTL", b"fdAT"}
WEBP_STAYS = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"}
WEBP_MOVES = {b"ANIM", b"ANMF"}
HAS_EXIF, HAS_XMP, HAS_MOTION = 0x08, 0x04, 0x02
BEHIND = "what lay behind the picture"
OTHER = "a program's own data"


def clear_png(data: bytes) -> Cleared:
    """The PNG without its tags; every other chunk byte for byte."""
    kept: list[bytes] = [data[:8]]
    removed: list[str] = []
    at = 8
    while True:
        if at + 12 > len(data):
            raise Unfit(Fault.CUT_OFF)
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            raise Unfit(Fault.CUT_OFF)
        if name in PNG_MOVES:
            raise Unfit(Fault.MOVING)
        if name == b"eXIf":
            blanked = blank_block(data[at + 8 : end - 4])
            removed += blanked.removed
            if length >= SHORTEST_EXIF:
                kept.append(_png_chunk(name, blanked.data))
        elif name in PNG_STAYS or name[:1].isupper():
            kept.append(data[at:end])
        else:
            removed.append("text" if name in PNG_TEXTS else OTHER)
        at = end
        if name == b"IEND":
            break
    if at < len(data):
        removed.append(BEHIND)
    return Cleared(b"".join(kept), without_repeats(removed))


def _png_chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def clear_webp(data: bytes) -> Cleared:
    """The WebP without its tags; the chunks of the picture byte for byte."""
    end = 8 + int.from_bytes(data[4:8], "little")
    if end > len(data):
        raise Unfit(Fault.CUT_OFF)
    kept: list[tuple[bytes, bytes]] = []
    removed: list[str] = []
    flags = 0
    for name, body in _webp_chunks(data[:end]):
        if name in WEBP_MOVES or (name == b"VP8X" and body[:1] and body[0] & HAS_MOTION):
            raise Unfit(Fault.MOVING)
        if name == b"EXIF":
            blanked = blank_block(body)
            removed += blanked.removed
            if len(body) >= SHORTEST_EXIF and not flags & HAS_EXIF:
                kept.append((name, blanked.data))
                flags |= HAS_EXIF
        elif name in WEBP_STAYS:
            kept.append((name, body))
        else:
            removed.append("XMP" if name == b"XMP " else OTHER)
    if end < len(data):
        removed.append(BEHIND)
    told = b"WEBP" + b"".join(_webp_chunk(name, body, flags) for name, body in kept)
    return Cleared(b"RIFF" + struct.pack("<I", len(told)) + told, without_repeats(removed))


def _webp_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at < len(data):
        if at + 8 > len(data):
            raise Unfit(Fault.CUT_OFF)
        name, length = struct.unpack_from("<4sI", data, at)
        if at + 8 + length > len(data):
            raise Unfit(Fault.CUT_OFF)
        yield name, data[at + 8 : at + 8 + length]
        at += 8 + length + length % 2


def _webp_chunk(name: bytes, body: bytes, flags: int) -> bytes:
    """One chunk; the head says what of the tags is still there."""
    if name == b"VP8X" and body:
        body = bytes([body[0] & ~(HAS_EXIF | HAS_XMP) | flags]) + body[1:]
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
