"""HEIC files: boxes that point into one another by place, so that everything is blanked where it lies.

Written after ISO/IEC 14496-12 (boxes, `meta`, `iinf`, `iloc`) and 23008-12 (the picture items). Nothing moves: the
file keeps its length, and every byte of the picture its place.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

from builds.photos.parts import EXIF_HEAD, Cleared, Fault, Unfit, blank_block, without_repeats

STAYS = {b"ftyp", b"meta", b"mdat", b"free", b"skip"}
TEXT_BOXES = {b"xml ", b"bxml", b"uuid", b"udta"}
OTHER = "a program's own data"
# A phone's picture has some fifty tiles; more extents than this are no picture.
MOST_EXTENTS = 5000
LOOSE = "bytes that belong to no picture"
NO_ITEM_TYPE = b"    "

Span = tuple[int, int]


@dataclass(frozen=True)
class Box:
    """One box: its name, where it begins, where its content does, and where it ends."""

    name: bytes
    at: int
    begin: int
    end: int


class Reader:
    """Whole numbers and texts, one after the other, within a span of the file."""

    def __init__(self, data: bytes | bytearray, span: Span) -> None:
        self.data, self.at, self.end = data, *span

    def number(self, size: int) -> int:
        """The next number of so many bytes; nothing is 0."""
        if self.at + size > self.end:
            raise Unfit(Fault.DAMAGED)
        told = int.from_bytes(self.data[self.at : self.at + size], "big")
        self.at += size
        return told

    def text(self) -> bytes:
        """The text up to the next zero."""
        stop = self.data.find(b"\0", self.at, self.end)
        stop = self.end if stop < 0 else stop
        told = bytes(self.data[self.at : stop])
        self.at = stop + 1
        return told


def boxes(data: bytes | bytearray, begin: int, end: int) -> Iterator[Box]:
    """The boxes that fill a span."""
    at = begin
    while at < end:
        if at + 8 > end:
            raise Unfit(Fault.CUT_OFF)
        size, name = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1:
            if at + 16 > end:
                raise Unfit(Fault.CUT_OFF)
            size, head = struct.unpack_from(">Q", data, at + 8)[0], 16
        elif size == 0:
            size = end - at
        if size < head:
            raise Unfit(Fault.DAMAGED)
        if at + size > end:
            raise Unfit(Fault.CUT_OFF)
        yield Box(name, at, at + head, at + size)
        at += size


def clear(data: bytes) -> Cleared:
    """The file with its tags blanked in place."""
    kept = bytearray(data)
    outer = list(boxes(data, 0, len(data)))
    if any(box.name == b"moov" for box in outer):
        raise Unfit(Fault.MOVING)
    metas = [box for box in outer if box.name == b"meta"]
    if len(metas) != 1:
        raise Unfit(Fault.DAMAGED)
    inner = list(boxes(data, metas[0].begin + 4, metas[0].end))
    removed: list[str] = []
    for box in [each for each in outer if each.name not in STAYS] + _texts(data, inner):
        _free(kept, box)
        removed.append(OTHER)
    for box in outer:
        if box.name in (b"free", b"skip"):
            kept[box.begin : box.end] = bytes(box.end - box.begin)
    kinds = _kinds(data, _only(inner, b"iinf"))
    places = _places(data, inner, _only(inner, b"iloc"))
    _blank_items(kept, kinds, places, removed)
    if _blank_loose(kept, [box for box in outer if box.name == b"mdat"], places):
        removed.append(LOOSE)
    return Cleared(bytes(kept), without_repeats(removed))


def _only(found: list[Box], name: bytes) -> Box:
    named = [box for box in found if box.name == name]
    if len(named) != 1:
        raise Unfit(Fault.DAMAGED)
    return named[0]


def _texts(data: bytes, inner: list[Box]) -> list[Box]:
    """Boxes of words inside the list of what the file holds, and among the properties of its pictures."""
    found = [box for box in inner if box.name in TEXT_BOXES]
    for properties in (box for box in inner if box.name == b"iprp"):
        for holder in boxes(data, properties.begin, properties.end):
            if holder.name == b"ipco":
                found += [
                    box for box in boxes(data, holder.begin, holder.end) if box.name in {b"udes", b"uuid"}
                ]
    return found


def _free(kept: bytearray, box: Box) -> None:
    """Turn a box into an empty one of the same length: the places of all others stay true."""
    kept[box.at + 4 : box.at + 8] = b"free"
    kept[box.begin : box.end] = bytes(box.end - box.begin)


def _kinds(data: bytes, box: Box) -> dict[int, bytes]:
    """What each item is."""
    head = Reader(data, (box.begin, box.end))
    version = head.number(4) >> 24
    head.number(2 if version == 0 else 4)
    kinds = {}
    for entry in boxes(data, head.at, box.end):
        if entry.name != b"infe":
            continue
        told = Reader(data, (entry.begin, entry.end))
        version = told.number(4) >> 24
        item = told.number(4 if version >= 3 else 2)
        told.number(2)
        kinds[item] = told.number(4).to_bytes(4, "big") if version >= 2 else NO_ITEM_TYPE
    return kinds


def _places(data: bytes, inner: list[Box], box: Box) -> dict[int, list[Span]]:
    """Where the bytes of each item lie."""
    idat = next((each for each in inner if each.name == b"idat"), None)
    told = Reader(data, (box.begin, box.end))
    version = told.number(4) >> 24
    sizes = told.number(2)
    offset_size, length_size, base_size, index_size = (sizes >> shift & 15 for shift in (12, 8, 4, 0))
    if version not in (0, 1, 2) or not {offset_size, length_size, base_size} <= {0, 4, 8}:
        raise Unfit(Fault.DAMAGED)
    places: dict[int, list[Span]] = {}
    counted = 0
    for _ in range(told.number(2 if version < 2 else 4)):
        item = told.number(2 if version < 2 else 4)
        method = told.number(2) & 15 if version else 0
        outside = told.number(2)
        base = told.number(base_size)
        extents = []
        extent_count = told.number(2)
        counted += extent_count + 1
        if counted > MOST_EXTENTS:
            raise Unfit(Fault.DAMAGED)
        for _ in range(extent_count):
            told.number(index_size if version else 0)
            start, length = base + told.number(offset_size), told.number(length_size)
            extents.append((start, length))
        if method > 1 or outside or (method == 1 and idat is None):
            raise Unfit(Fault.HIDDEN)
        begin, end = (idat.begin, idat.end) if method == 1 and idat is not None else (0, len(data))
        places[item] = [
            (begin + start, begin + start + length if length else end) for start, length in extents
        ]
        if any(stop > end for _start, stop in places[item]):
            raise Unfit(Fault.CUT_OFF)
    return places


def _blank_items(
    kept: bytearray, kinds: dict[int, bytes], places: dict[int, list[Span]], removed: list[str]
) -> None:
    """Blank the items that are no picture."""
    wordy = {item for item, kind in kinds.items() if kind in (b"Exif", b"mime", b"uri ", NO_ITEM_TYPE)}
    pictures = [span for item, spans in places.items() if item not in wordy for span in spans]
    for item in wordy & places.keys():
        spans = places[item]
        if any(one[0] < other[1] and other[0] < one[1] for one in spans for other in pictures):
            raise Unfit(Fault.HIDDEN)
        body = b"".join(bytes(kept[start:stop]) for start, stop in spans)
        blanked, words = _blank_item(kinds[item], body)
        removed += words
        for start, stop in spans:
            kept[start:stop], blanked = blanked[: stop - start], blanked[stop - start :]


def _blank_item(kind: bytes, body: bytes) -> tuple[bytes, tuple[str, ...]]:
    if kind != b"Exif":
        return b" " * len(body), ("XMP" if kind == b"mime" else OTHER,)
    # The first four bytes say how far behind them the block begins; mostly its name stands between.
    begin = 4 + int.from_bytes(body[:4], "big")
    if begin > len(body):
        return bytes(len(body)), ("camera data that could not be read",)
    between = body[4:begin] if body[4:begin] in (b"", EXIF_HEAD) else bytes(begin - 4)
    blanked = blank_block(body[begin:])
    return body[:4] + between + blanked.data, blanked.removed


def _blank_loose(kept: bytearray, holders: list[Box], places: dict[int, list[Span]]) -> bool:
    """Blank what lies among the pictures' data and belongs to none; whether there was any."""
    used = sorted(span for spans in places.values() for span in spans)
    found = False
    for box in holders:
        at = box.begin
        for start, stop in [*used, (box.end, box.end)]:
            if at < min(start, box.end):
                gap = slice(at, min(start, box.end))
                found = found or any(kept[gap])
                kept[gap] = bytes(gap.stop - gap.start)
            at = max(at, stop)
    return found
