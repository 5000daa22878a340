"""Exif blocks: what tells where a picture was taken and whose camera it was is blanked in place.

A block keeps its length. Of its tags only those stay that say how the picture was made: its way up, its date, its
exposure, the make of the camera and the lens. Whatever else lies in the block becomes zeros: tags of places, people and
serial numbers, a maker's own notes, and bytes that no tag owns. A block that cannot be followed is blanked whole, but for
the way up. Written after the published layout of TIFF 6.0 and Exif 2.32.
"""

import struct
from dataclasses import dataclass, field

TYPE_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
ENTRY = 12
MOST_TAGS = 1000
ORIENTATION, EXIF_IFD, GPS_IFD, INTEROP_IFD = 0x0112, 0x8769, 0x8825, 0xA005
THUMBNAIL_AT, THUMBNAIL_LENGTH = 0x0201, 0x0202

PLACE = "where it was taken"
UNREADABLE = "camera data that could not be read"
UNKNOWN = "camera data of an unknown kind"
NAMED = {
    GPS_IFD: PLACE, 0x013B: "artist", 0x8298: "copyright", 0xA430: "owner of the camera",
    0xA431: "serial number of the camera", 0xA435: "serial number of the lens", 0x013C: "name of the device",
    0x010E: "description", 0x010D: "name of the document", 0x9C9B: "title", 0x9C9C: "comment", 0x9C9D: "author",
    0x9C9E: "keywords", 0x9C9F: "subject", 0x9286: "comment", 0xA420: "number of the picture",
    0x927C: "the maker's own notes", 0xA436: "title", 0xA437: "photographer", 0xA438: "editor", 0x02BC: "XMP",
    0x83BB: "IPTC", 0x8649: "IPTC",
}  # fmt: skip
STAY_IN_MAIN = {
    0x00FE, 0x0100, 0x0101, 0x0102, 0x0103, 0x0106, 0x010F, 0x0110, ORIENTATION, 0x0115, 0x011A, 0x011B, 0x011C,
    0x0128, 0x012D, 0x0131, 0x0132, 0x013E, 0x013F, 0x0211, 0x0212, 0x0213, 0x0214, EXIF_IFD, THUMBNAIL_AT,
    THUMBNAIL_LENGTH,
}  # fmt: skip
STAY_IN_EXIF = {
    0x829A, 0x829D, 0x8822, 0x8827, *range(0x8830, 0x8836), 0x9000, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9101,
    0x9102, *range(0x9201, 0x920B), 0x9214, 0x9290, 0x9291, 0x9292, *range(0xA000, 0xA004), INTEROP_IFD, 0xA20B,
    0xA20E, 0xA20F, 0xA210, 0xA214, 0xA215, 0xA217, 0xA300, 0xA301, *range(0xA401, 0xA40B), 0xA40C, 0xA432, 0xA433,
    0xA434, 0xA460, 0xA500,
}  # fmt: skip
STAY_IN_INTEROP = {1, 2, 0x1000, 0x1001, 0x1002}
SIGNS_OF_TAGS = (b"Exif\0", b"ns.adobe.com", b"Photoshop 3.0")

Span = tuple[int, int]


class Malformed(ValueError):
    """A block that cannot be followed."""


@dataclass(frozen=True)
class Blanked:
    """A block after blanking, as long as before, and what was taken out, in words."""

    data: bytes
    removed: tuple[str, ...]


@dataclass
class _Table:
    """One directory of tags: where it stands, what of it stays, and where the values of those lie."""

    at: int
    span: Span
    entries: list[tuple[int, bytes, Span | None]] = field(default_factory=list)
    following: int = 0


class _Block:
    """A TIFF structure as it is read."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        if data[:4] not in (b"II*\0", b"MM\0*") or len(data) < 8:
            raise Malformed
        self.order = "<" if data[:1] == b"I" else ">"
        self.tables: list[_Table] = []
        self.gone: list[Span] = []
        self.removed: list[str] = []

    def number(self, at: int, size: int) -> int:
        """The whole number of 2 or 4 bytes at a place."""
        if not 0 <= at <= len(self.data) - size:
            raise Malformed
        return int(struct.unpack_from(self.order + ("H" if size == 2 else "I"), self.data, at)[0])

    def follow(self) -> None:
        """Read the main directory, those under it, and that of the small picture."""
        main = self.table(self.number(4, 4), STAY_IN_MAIN)
        small_at = main.following
        if small_at:
            main.following = 0
            mark = len(self.tables)
            try:
                small = self.table(small_at, STAY_IN_MAIN - {EXIF_IFD})
                self.small_picture(small)
                main.following = small_at
            except Malformed:
                del self.tables[mark:]
                self.note(UNREADABLE)

    def table(self, at: int, stay: set[int]) -> _Table:
        """Read one directory; what does not stay is noted with all that belongs to it."""
        count = self.number(at, 2)
        span = (at, at + 2 + ENTRY * count + 4)
        if (
            at < 8
            or count > MOST_TAGS
            or span[1] > len(self.data)
            or any(_meet(span, known.span) for known in self.tables)
        ):
            raise Malformed
        table = _Table(at, span)
        self.tables.append(table)
        for index in range(count):
            self.entry(table, at + 2 + ENTRY * index, stay)
        table.following = self.number(span[1] - 4, 4)
        return table

    def entry(self, table: _Table, at: int, stay: set[int]) -> None:
        """Read one tag into its directory, or leave it out."""
        tag, kind, count = self.number(at, 2), self.number(at + 2, 2), self.number(at + 4, 4)
        size = TYPE_SIZES.get(kind, 0) * count
        value = (self.number(at + 8, 4), self.number(at + 8, 4) + size) if size > 4 else None
        readable = kind in TYPE_SIZES and (value is None or value[1] <= len(self.data))
        if tag == GPS_IFD:
            self.places(self.number(at + 8, 4))
        if tag not in stay or not readable:
            if readable and value is not None:
                self.gone.append(value)
            self.note(NAMED.get(tag, UNKNOWN) if tag not in stay else UNREADABLE)
            return
        if tag in (EXIF_IFD, INTEROP_IFD):
            mark = len(self.tables)
            try:
                self.table(self.number(at + 8, 4), STAY_IN_EXIF if tag == EXIF_IFD else STAY_IN_INTEROP)
            except Malformed:
                del self.tables[mark:]
                self.note(UNREADABLE)
                return
        table.entries.append((tag, self.data[at : at + ENTRY], value))

    def places(self, at: int) -> None:
        """Mark all that the directory of places owns."""
        try:
            count = min(self.number(at, 2), MOST_TAGS)
            self.gone.append((at, min(len(self.data), at + 2 + ENTRY * count + 4)))
            for index in range(count):
                entry = at + 2 + ENTRY * index
                size = TYPE_SIZES.get(self.number(entry + 2, 2), 0) * self.number(entry + 4, 4)
                if size > 4:
                    start = self.number(entry + 8, 4)
                    self.gone.append((start, start + size))
        except Malformed:
            return

    def small_picture(self, small: _Table) -> None:
        """Take the small picture along, unless it has tags of its own."""
        told = {tag: self.number_of(raw) for tag, raw, _ in small.entries}
        if THUMBNAIL_AT not in told or THUMBNAIL_LENGTH not in told:
            return
        span = (told[THUMBNAIL_AT], told[THUMBNAIL_AT] + told[THUMBNAIL_LENGTH])
        picture = self.data[span[0] : span[1]]
        if span[1] > len(self.data) or any(sign in picture for sign in SIGNS_OF_TAGS):
            raise Malformed
        small.entries = [
            (tag, raw, span if tag == THUMBNAIL_AT else value) for tag, raw, value in small.entries
        ]

    def number_of(self, raw: bytes) -> int:
        """The number that stands in an entry itself."""
        return int(struct.unpack_from(self.order + "I", raw, 8)[0])

    def note(self, what: str) -> None:
        """Remember what was taken out."""
        if what not in self.removed:
            self.removed.append(what)

    def written(self) -> bytes:
        """The block with only what stays, everything at the place where it was."""
        kept = bytearray(len(self.data))
        kept[:8] = self.data[:8]
        tables = [table.span for table in self.tables]
        for table in self.tables:
            stays = []
            for _tag, raw, value in table.entries:
                if value is not None:
                    if value[0] < 8 or any(_meet(value, other) for other in (*tables, *self.gone)):
                        self.note(UNREADABLE)
                        continue
                    kept[value[0] : value[1]] = self.data[value[0] : value[1]]
                stays.append(raw)
            told = struct.pack(self.order + "H", len(stays)) + b"".join(stays)
            told += struct.pack(self.order + "I", table.following if table is self.tables[0] else 0)
            kept[table.at : table.at + len(told)] = told
        return bytes(kept)


def _meet(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def blank(data: bytes) -> Blanked:
    """Blank a block that begins with its TIFF header. Never fails, and never changes its length."""
    try:
        block = _Block(data)
        block.follow()
    except Malformed:
        return Blanked(only_way_up(_way_up(data), len(data)), (UNREADABLE,))
    written = block.written()  # this may note more
    return Blanked(written, tuple(block.removed))


def _way_up(data: bytes) -> int:
    """The way up, from a block that cannot be followed to its end; 1, upright, where it is not told."""
    try:
        block = _Block(data)
        at = block.number(4, 4)
        for index in range(min(block.number(at, 2), MOST_TAGS)):
            entry = at + 2 + ENTRY * index
            if block.number(entry, 2) == ORIENTATION and block.number(entry + 2, 2) == 3:
                told = block.number(entry + 8, 2)
                return told if 1 <= told <= 8 else 1
    except Malformed:
        pass
    return 1


def only_way_up(orientation: int, length: int) -> bytes:
    """A block of a given length that tells the way up and nothing else; zeros where not even that fits."""
    told = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, ORIENTATION, 3, 1, orientation, 0, 0)
    return told.ljust(length, b"\0") if len(told) <= length else bytes(length)
