"""What a return report says, as plain data: what the engine was when it left, what it is now, and what was found on it.

Figures are text, in the unit of the report; times are the book's local time. The page is rendered from this alone.
"""

from dataclasses import dataclass, field

from valvetrain.sheets.photo_lines import PictureLine
from valvetrain.sheets.snapshot import Fact, GaugeLine
from valvetrain.sheets.words import marked


@dataclass(frozen=True)
class RunLine:
    """One entry of the running record: what it adds, and what the engine had run by then."""

    day: str
    amount: str
    total: str
    note: str
    told_by: str


@dataclass(frozen=True)
class RanLines:
    """What the engine ran since it left: the totals by unit, and the newest entries; `earlier` are left out."""

    totals: str
    entries: list[RunLine]
    earlier: int = 0


@dataclass(frozen=True)
class ChangeLine:
    """One thing at one address: as it left, as it was found, and how far that moved, also in units of its uncertainty.

    `lacks` says why there is nothing to compare; `note` what makes the two not quite alike.
    """

    key: str
    where: str
    what: str
    unit: str
    then: str
    now: str
    change: str
    plus_minus: str
    in_u: str
    limit_then: str
    limit_now: str
    verdict_then: str
    verdict_now: str
    lacks: str = ""
    note: str = ""

    @property
    def then_marked(self) -> str:
        """How it was judged then, behind its sign; a dash where nothing judges it."""
        return marked(self.verdict_then) or "–"

    @property
    def now_marked(self) -> str:
        """The same of now."""
        return marked(self.verdict_now) or "–"

    @property
    def limit_words(self) -> str:
        """The limit, once where it is the same then and now."""
        if self.limit_then == self.limit_now or not self.then:
            return self.limit_now or "–"
        return f"then {self.limit_then or 'none'}; now {self.limit_now or 'none'}"


@dataclass(frozen=True)
class ChangeLines:
    """As found beside as built: what moved most, all that is out now, and in sentences how much was read beyond these.

    `moved` holds what moved by more than its uncertainty, the most in units of it first, then what moved by nobody knows
    how many.
    """

    moved: list[ChangeLine]
    out_now: list[ChangeLine]
    counted: list[str]
    read_twice: int
    read_now: int


@dataclass(frozen=True)
class HadFigure:
    """One figure that follows from what was read at a valve, then and now."""

    name: str
    then: str
    now: str
    change: str = ""


@dataclass(frozen=True)
class MarkAt:
    """A witness mark: where its edges lie [in], from the tip's centre line, plus: outboard.

    `worked_out`: not read, but what the height that was read makes, in the middle of the tip.
    """

    inner: float
    outer: float
    worked_out: bool = False


@dataclass(frozen=True)
class HadLine:
    """What one valve really had: the geometry once more with what was read as found, and both marks on its tip."""

    address: str
    kind: str
    figures: list[HadFigure]
    sentences: list[str]
    tip_diameter: float | None = None
    then: MarkAt | None = None
    now: MarkAt | None = None


@dataclass(frozen=True)
class EvidenceLine:
    """What speaks for or against a probable cause, and the reading, photo or part that it leans on."""

    side: str
    text: str
    leans_on: list[str]


@dataclass(frozen=True)
class LookLine:
    """One thing that was looked at, and what came of it."""

    text: str
    answer: str
    note: str
    by: str


@dataclass(frozen=True)
class FindingLine:
    """One finding, with the numbers of the photos that show it."""

    number: int
    what: str
    where: str
    condition: str
    symptom: str
    detail: list[str]
    cause: str
    how_sure: str
    evidence: list[EvidenceLine]
    looks: list[LookLine]
    action: str
    by: str
    at: str
    photos: list[int] = field(default_factory=list)

    @property
    def speaks_for(self) -> list[EvidenceLine]:
        """What speaks for the cause."""
        return [each for each in self.evidence if each.side == "for"]

    @property
    def speaks_against(self) -> list[EvidenceLine]:
        """What speaks against it."""
        return [each for each in self.evidence if each.side == "against"]


@dataclass(frozen=True)
class ShownPhoto:
    """A photo by its number on this report, and the findings that it belongs to."""

    number: int
    picture: PictureLine
    findings: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class PhotoPair:
    """The same place photographed as it left and as it was found."""

    key: str
    then: ShownPhoto
    now: ShownPhoto


@dataclass(frozen=True)
class PhotoLines:
    """The photos of a report; what is left out is counted."""

    pairs: list[PhotoPair]
    shown: list[ShownPhoto]
    not_shown: int = 0
    set_aside: int = 0


@dataclass(frozen=True)
class ConcernedPart:
    """A part that a finding, a taking-out or an open recall is about, with the numbers that let it be traced."""

    role: str
    where: str
    count: int
    maker: str
    maker_number: str
    lot: str
    serial: str
    fitted: str
    taken_out: list[str]
    recalls: list[str]
    why: str


@dataclass(frozen=True)
class PartLines:
    """The parts concerned; the others that are written down for this engine are counted."""

    concerned: list[ConcernedPart]
    others: int = 0


@dataclass(frozen=True)
class LifeLine:
    """One line of the engine's life."""

    day: str
    what: str
    words: str


@dataclass(frozen=True)
class LifeLines:
    """The newest lines of the engine's life, oldest first; `earlier` are left out."""

    lines: list[LifeLine]
    earlier: int = 0


@dataclass(frozen=True)
class ReturnReport:
    """The return report of one engine that came back."""

    shop: list[str]
    job: str
    engine: str
    title: list[Fact]
    left: list[Fact]
    complaint: str
    how_it_ran: list[str]
    ran: RanLines
    changes: ChangeLines
    had: list[HadLine]
    findings: list[FindingLine]
    photos: PhotoLines
    parts: PartLines
    life: LifeLines
    gauges: list[GaugeLine]
    rule: str
    standing: list[str]
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
    def photos_in_order(self) -> list[ShownPhoto]:
        """Every photo that is printed, in the order of the pages."""
        return [each for pair in self.photos.pairs for each in (pair.then, pair.now)] + self.photos.shown

    @property
    def pictures(self) -> list[PictureLine]:
        """The pictures of these."""
        return [each.picture for each in self.photos_in_order]
