"""A return report as a page, from its snapshot and the pictures that it names."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.template.loader import render_to_string

from builds.printing.paper import Cell, Paper, ground
from builds.sealing.kinds import SealMarks
from valvetrain.charts.numbers import Drawing
from valvetrain.mark_overlay import overlay_svg, tip_box
from valvetrain.sheets.foot import foot, seal_context
from valvetrain.sheets.framing import Framed, framed
from valvetrain.sheets.page import Page
from valvetrain.sheets.photo_lines import PictureLine
from valvetrain.sheets.photo_page import LETTERING, STYLE, Shot
from valvetrain.sheets.return_drawing import marks_drawing
from valvetrain.sheets.return_lines import HadLine, ReturnReport, ShownPhoto

RETURN_STYLES = (STYLE, "css/return_report.css")
FRAME = (57.0, 43.0)  # mm: the size of a photo, so that four stand abreast on either paper
ABREAST = 4
DRAWN_ABREAST = 2
THEN, NOW = "as it left", "as found"


@dataclass(frozen=True)
class PhotoShown:
    """A photo as it stands on the page; of a pair, when it was taken."""

    line: ShownPhoto
    shot: Shot
    when: str = ""


@dataclass(frozen=True)
class HadShown:
    """A valve with what it had, and the drawing of its marks where one was read."""

    line: HadLine
    drawing: Drawing | None

    @property
    def key(self) -> str:
        """The name that the page shows its drawing by."""
        return f"had-{self.line.address}"


def return_page(
    report: ReturnReport, paper: Paper, lost: Mapping[str, str] | None = None, seal: SealMarks | None = None
) -> Page:
    """The report as the press takes it; `lost` are pictures that cannot be shown, with the reason."""
    shown = list(_photos(report, lost or {}))
    had = [HadShown(line, marks_drawing(line, report.unit)) for line in report.had]
    html = render_to_string(
        "sheets/return.html",
        {
            "report": report,
            "sheet": report,
            "unit": report.unit,
            "paper": paper,
            "had": [had[start : start + DRAWN_ABREAST] for start in range(0, len(had), DRAWN_ABREAST)],
            "photo_rows": [shown[start : start + ABREAST] for start in range(0, len(shown), ABREAST)],
            **seal_context(seal, paper),
        },
    )
    drawings = {
        "ground": ground(paper, word="DRAFT" if report.draft else "", cells=_cells(report, seal)),
        **{f"over-{each.shot.line.key}": each.shot.overlay for each in shown if each.shot.overlay},
        **{each.key: each.drawing.svg for each in had if each.drawing is not None},
        **(seal.drawings if seal else {}),
    }
    return Page(html, drawings)


def return_frames(report: ReturnReport) -> dict[str, Framed]:
    """How each picture stands on the page, by its key."""
    return {picture.key: _framed(picture) for picture in report.pictures}


def _framed(picture: PictureLine) -> Framed:
    box = tip_box(picture, picture.mark) if picture.mark else None
    return framed((picture.width, picture.height), FRAME, box)


def _photos(report: ReturnReport, lost: Mapping[str, str]) -> Iterator[PhotoShown]:
    """The photos in the order of the pages; a pair fills half a row."""
    for pair in report.photos.pairs:
        for each, when in ((pair.then, THEN), (pair.now, NOW)):
            yield PhotoShown(each, _shot(each.picture, report.unit, lost), when)
    for each in report.photos.shown:
        yield PhotoShown(each, _shot(each.picture, report.unit, lost))


def _shot(picture: PictureLine, unit: str, lost: Mapping[str, str]) -> Shot:
    frame, why = _framed(picture), lost.get(picture.key, "")
    overlay = ""
    if picture.mark and not why:
        overlay = overlay_svg(
            picture, picture.mark, box=frame.box, unit=unit, lettering=LETTERING * frame.dots_per_mm,
            title="The mark as measured",
        )  # fmt: skip
    return Shot(picture, frame, overlay, why)


def _cells(report: ReturnReport, seal: SealMarks | None) -> tuple[Cell, ...]:
    return foot(
        report.shop[0], report.job, ("engine", report.engine), "return report", report.unit_name,
        printed=report.printed, draft=report.draft, seal=seal,
    )  # fmt: skip
