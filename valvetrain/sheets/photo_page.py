"""A photo log as a page and as a PDF, from its snapshot and the pictures that it names."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.template.loader import render_to_string

from builds.printing.background import Progress
from builds.printing.paper import Cell, Paper, ground
from builds.printing.press import SHEET, to_pdf
from builds.sealing.kinds import SealMarks
from valvetrain.charts.numbers import Drawing
from valvetrain.mark_overlay import overlay_svg, tip_box
from valvetrain.sheets.foot import foot, seal_context
from valvetrain.sheets.framing import Framed, framed
from valvetrain.sheets.page import Page
from valvetrain.sheets.photo_lines import MarkLine, PhotoLog, PictureLine
from valvetrain.sheets.photo_tips import tip_drawing

MARK_FRAME = (60.0, 52.0)  # mm: so large is the picture of a mark
OTHER_FRAME = (86.0, 60.0)  # mm: and each of the others
LETTERING = 2.6  # mm: the size of the dimension's letters
STYLE = "css/photo_log.css"
ABREAST = 3  # of the others in a row
# So many seconds the press may take for a log, and for each picture of it.
SECONDS, SECONDS_EACH = 60.0, 1.0

# Gives the JPEG of a picture by its key: the part in a box, so many pixels along its longer side.
Developer = Callable[[str, Framed], bytes]


class PictureLost(Exception):
    """The file of a picture is not there, or not what it was; the words say which, for the sheet."""


@dataclass(frozen=True)
class Shot:
    """A picture as it stands on the page; without one, the words that stand in its place."""

    line: PictureLine
    frame: Framed
    overlay: str = ""
    lost: str = ""


@dataclass(frozen=True)
class MarkShown:
    """A valve's row on the page."""

    line: MarkLine
    shot: Shot
    tip: Drawing

    @property
    def tip_key(self) -> str:
        """The name that the page shows its tip by."""
        return f"tip-{self.line.address}"


def photo_page(
    log: PhotoLog, paper: Paper, lost: Mapping[str, str] | None = None, seal: SealMarks | None = None
) -> Page:
    """The log as the press takes it; `lost` are pictures that cannot be shown, with the reason."""
    lost = lost or {}
    shots = {line.key: _shot(line, log.unit, lost.get(line.key, "")) for line in log.pictures}
    marks = [
        MarkShown(line, shots[line.picture.key], tip_drawing(line, log.unit))
        for line in log.marks
        if line.picture is not None
    ]
    others = [shots[line.key] for line in log.others]
    html = render_to_string(
        "sheets/photo_log.html",
        {
            "log": log,
            "unit": log.unit,
            "paper": paper,
            "marks": marks,
            "others": [others[start : start + ABREAST] for start in range(0, len(others), ABREAST)],
            **seal_context(seal, paper),
        },
    )
    drawings = {
        "ground": ground(paper, word="DRAFT" if log.draft else "", cells=_cells(log, seal)),
        **{f"over-{key}": shot.overlay for key, shot in shots.items() if shot.overlay},
        **{mark.tip_key: mark.tip.svg for mark in marks},
        **(seal.drawings if seal else {}),
    }
    return Page(html, drawings)


def photo_frames(log: PhotoLog) -> dict[str, Framed]:
    """How each picture stands on the page, by its key."""
    return {line.key: _framed(line) for line in log.pictures}


def _framed(line: PictureLine) -> Framed:
    if line.mark:
        return framed((line.width, line.height), MARK_FRAME, tip_box(line, line.mark))
    frame = MARK_FRAME if line.of_mark else OTHER_FRAME
    return framed((line.width, line.height), frame)


def _shot(line: PictureLine, unit: str, lost: str) -> Shot:
    frame = _framed(line)
    overlay = ""
    if line.mark and not lost:
        overlay = overlay_svg(
            line, line.mark, box=frame.box, unit=unit, lettering=LETTERING * frame.dots_per_mm,
            title="The mark as measured",
        )  # fmt: skip
    return Shot(line, frame, overlay, lost)


def photo_pdf(log: PhotoLog, paper: Paper, develop: Developer, progress: Progress) -> bytes:
    """The log as PDF, its pictures made ready one by one. Raises `PrintingFailed` with a sentence."""
    pictures: dict[str, bytes] = {}
    lost: dict[str, str] = {}
    frames = photo_frames(log)
    for number, (key, frame) in enumerate(frames.items(), start=1):
        progress("Making the pictures ready", number, len(frames))
        try:
            pictures[key] = develop(key, frame)
        except PictureLost as error:
            lost[key] = str(error)
    progress("Drawing the marks")
    page = photo_page(log, paper, lost)
    return to_pdf(
        page.html, drawings=page.drawings, pictures=pictures, stylesheets=(*SHEET, STYLE), told=progress,
        seconds=SECONDS + SECONDS_EACH * len(pictures),
    )  # fmt: skip


def _cells(log: PhotoLog, seal: SealMarks | None) -> tuple[Cell, ...]:
    engine = next((fact.text for fact in log.title if fact.name == "engine"), "")
    return foot(
        log.shop[0], log.job, ("engine", engine), "photo log", log.unit_name,
        printed=log.printed, draft=log.draft, seal=seal,
    )  # fmt: skip


def photo_file_name(log: PhotoLog) -> str:
    """What the file is called: the job, and that it is a draft."""
    words = f"{log.job} photo log{' DRAFT' if log.draft else ''}"
    return "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in words) + ".pdf"
