"""What the readers of the four kinds of file share: a file after it was gone through, and why one is unfit."""

from dataclasses import dataclass
from enum import Enum

from builds.photos import exif

EXIF_HEAD = b"Exif\0\0"
SHORTEST_EXIF = 26


class Fault(Enum):
    """Why a file is not a picture that can be kept."""

    CUT_OFF = "stops before its end"
    DAMAGED = "is damaged"
    MOVING = "moves, or holds several pictures"
    HIDDEN = "cannot be cleared of its tags"


class Unfit(ValueError):
    """A file that cannot be kept, and why."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.value)
        self.fault = fault


@dataclass(frozen=True)
class Cleared:
    """A file without tags of place and person, and what was taken out of it, in words."""

    data: bytes
    removed: tuple[str, ...]


def blank_block(block: bytes) -> exif.Blanked:
    """Blank an Exif block that may have its name before it; the length stays."""
    head = EXIF_HEAD if block.startswith(EXIF_HEAD) else b""
    blanked = exif.blank(block[len(head) :])
    return exif.Blanked(head + blanked.data, blanked.removed)


def without_repeats(words: list[str]) -> tuple[str, ...]:
    """Each word once, in the order in which they came."""
    return tuple(dict.fromkeys(words))
