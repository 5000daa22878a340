"""JPEG files: the segments that hold tags are blanked or left out, and nothing behind the picture stays."""

import re

from builds.photos.parts import EXIF_HEAD, SHORTEST_EXIF, Cleared, Fault, Unfit, blank_block, without_repeats

START, END, SCAN, COMMENT = 0xD8, 0xD9, 0xDA, 0xFE
ALONE = {0x01, *range(0xD0, 0xD8)}
APPLICATION = range(0xE0, 0xF0)
# The end of a scan's data: a mark that is neither a stuffed byte, nor a restart, nor filling.
SCAN_END = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
STAYS = {0xE0: (b"JFIF\0",), 0xE2: (b"ICC_PROFILE\0",), 0xEE: (b"Adobe",)}
WORDS = [
    (0xE1, b"http://ns.adobe.com/", "XMP"), (0xED, b"", "IPTC"), (0xE2, b"MPF\0", "list of further pictures"),
    (COMMENT, b"", "comment"),
]  # fmt: skip
BEHIND = "what lay behind the picture"
STRAY = "stray bytes between the parts"


def clear(data: bytes) -> Cleared:
    """The file without its tags; every byte of the picture itself as it came."""
    kept: list[bytes] = [data[:2]]
    removed: list[str] = []
    at, exif_seen = 2, False
    while True:
        at, mark, begin = _next_mark(data, at, removed)
        if mark == END:
            kept.append(data[begin:at])
            break
        if mark in ALONE:
            kept.append(data[begin:at])
            continue
        end = at + _length(data, at)
        if end > len(data):
            raise Unfit(Fault.CUT_OFF)
        body = data[at + 2 : end]
        if mark == 0xE1 and body.startswith(EXIF_HEAD) and not exif_seen:
            exif_seen = True
            blanked = blank_block(body)
            removed += blanked.removed
            if len(body) >= len(EXIF_HEAD) + SHORTEST_EXIF:
                kept.append(data[begin : at + 2] + blanked.data)
        elif mark in APPLICATION or mark == COMMENT:
            if any(body.startswith(head) for head in STAYS.get(mark, ())):
                kept.append(data[begin:end])
            else:
                removed.append(_what(mark, body))
        else:
            kept.append(data[begin:end])
        at = end
        if mark == SCAN:
            found = SCAN_END.search(data, at)
            if found is None:
                raise Unfit(Fault.CUT_OFF)
            kept.append(data[at : found.start()])
            at = found.start()
    if at < len(data):
        removed.append(BEHIND)
    return Cleared(b"".join(kept), without_repeats(removed))


def _next_mark(data: bytes, at: int, removed: list[str]) -> tuple[int, int, int]:
    """The next mark: where it ends, what it is, where it begins. Readers pass over bytes before it; so do we."""
    begin = data.find(b"\xff", at)
    if begin < 0:
        raise Unfit(Fault.CUT_OFF)
    if begin > at:
        removed.append(STRAY)
    after = begin + 1
    while data[after : after + 1] == b"\xff":
        after += 1
    if after >= len(data):
        raise Unfit(Fault.CUT_OFF)
    mark = data[after]
    if mark in (0x00, START):
        raise Unfit(Fault.DAMAGED)
    return after + 1, mark, begin


def _length(data: bytes, at: int) -> int:
    told = int.from_bytes(data[at : at + 2], "big")
    if len(data) < at + 2:
        raise Unfit(Fault.CUT_OFF)
    if told < 2:
        raise Unfit(Fault.DAMAGED)
    return told


def _what(mark: int, body: bytes) -> str:
    for known, head, words in WORDS:
        if mark == known and body.startswith(head):
            return words
    return "a second block of camera data" if body.startswith(EXIF_HEAD) else "a program's own data"
