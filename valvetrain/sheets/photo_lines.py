"""What a photo log says, as plain data: text, numbers and lists, so that it can be kept as JSON.

Lengths are inches, places on a picture are pixels of the upright picture; times are the book's local time. A picture
itself is named by its SHA-256 and looked up when the page is printed.
"""

from dataclasses import asdict, dataclass, field
from typing import Any

from valvetrain.sheets.snapshot import Fact, LimitLine
from valvetrain.sheets.words import marked

DIGITS = 16  # of a picture's SHA-256 that are printed
IN_A_GROUP = 4


@dataclass(frozen=True)
class PictureLine:
    """One photo: which it is, who took it of what, and what was measured on it, as its readings keep it.

    `file` is where it lies; what is found there is held against the SHA-256.
    """

    key: str
    photo: str
    sha256: str
    name: str
    width: int
    height: int
    kind: str
    where: str
    note: str
    by: str
    at: str
    of_mark: bool = False
    mark: dict[str, Any] = field(default_factory=dict)
    file: str = ""

    @property
    def digits(self) -> str:
        """The first digits of its SHA-256, in groups, so that they can be compared by eye."""
        first = self.sha256[:DIGITS]
        return " ".join(first[start : start + IN_A_GROUP] for start in range(0, len(first), IN_A_GROUP))


@dataclass(frozen=True)
class FigureLine:
    """One figure of a mark: its value [in] and U [in], what it is judged by, and how."""

    name: str
    value: float
    expanded: float | None
    shown: str
    plus_minus: str
    limit: str
    verdict: str

    @property
    def verdict_marked(self) -> str:
        """in, undecided or out behind its sign."""
        return marked(self.verdict)


@dataclass(frozen=True)
class MarkLine:
    """One valve with its witness mark: the picture, where the mark lies, and what follows."""

    address: str
    kind: str
    head: str
    picture: PictureLine | None
    inner: float | None
    outer: float | None
    tip_diameter: float
    expected: float | None
    taper: float | None
    closed: float | None
    open: float | None
    figures: list[FigureLine]
    readers: list[str]
    sentences: list[str]
    again: list[str] = field(default_factory=list)
    more_photos: int = 0

    @property
    def read(self) -> bool:
        """Whether both edges of the mark are read."""
        return self.inner is not None and self.outer is not None


@dataclass(frozen=True)
class PhotoLog:
    """The photos of one job: the marks valve by valve, then the others."""

    shop: list[str]
    job: str
    title: list[Fact]
    marks: list[MarkLine]
    unpictured: list[MarkLine]
    bare: list[str]
    others: list[PictureLine]
    not_shown: int
    set_aside: int
    limits: list[LimitLine]
    rule: str
    cautions: list[str]
    unit: str
    printed: str
    printed_by: str
    time_zone: str
    geometry_version: str
    draft: bool = True

    @property
    def unit_name(self) -> str:
        """The unit of every length, as a word."""
        return "millimetres" if self.unit == "mm" else "inches"

    @property
    def pictures(self) -> list[PictureLine]:
        """Every picture that is printed, in the order of the pages."""
        return [line.picture for line in self.marks if line.picture is not None] + self.others

    def to_plain(self) -> dict[str, Any]:
        """The log as JSON takes it."""
        return asdict(self)
