"""A build sheet as a page and as a PDF, from its snapshot alone."""

from dataclasses import dataclass

from django.template.loader import render_to_string

from builds.printing.background import Progress
from builds.printing.paper import Paper, ground
from builds.printing.press import SHEET, to_pdf
from builds.sealing.kinds import SealMarks
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.packmap import pack_map
from valvetrain.plan import lay_out
from valvetrain.sheets.build_lines import BuildHead, BuildSheet
from valvetrain.sheets.figures import LogFigure, SheetFigure, log_figures
from valvetrain.sheets.foot import foot, seal_context
from valvetrain.sheets.page import MARGIN, Page
from valvetrain.sheets.plan_drawing import plan_drawing

STYLE = "css/build_sheet.css"
MAP_WIDTH = 4.6  # in: the map of the packs on the cover
SECONDS = 90.0


@dataclass(frozen=True)
class HeadShown:
    """A head's part of the sheet: its lines, its plan, and the tables of its log."""

    line: BuildHead
    plan_key: str
    plan: Drawing
    log: list[list[LogFigure]]


def build_page(sheet: BuildSheet, paper: Paper, seal: SealMarks | None = None) -> Page:
    """The sheet as the press takes it, with its seal where it has one."""
    width = paper.width - 2 * MARGIN
    block = log_figures(sheet.block, width, "block")
    heads = [
        HeadShown(line, f"plan-{number}", _plan(line), log_figures(line.log, width, f"head{number}"))
        for number, line in enumerate(sheet.heads, start=1)
    ]
    packs = None
    if sheet.packs is not None:
        drawing = pack_map(sheet.packs, width=MAP_WIDTH, lettered=True)
        packs = SheetFigure("packs", "Packs of the engine", drawing)
    html = render_to_string(
        "sheets/build.html",
        {
            "sheet": sheet,
            "unit": sheet.unit,
            "paper": paper,
            "block": block,
            "heads": heads,
            "packs": packs,
            **seal_context(seal, paper),
        },
    )
    tables = [figure for log in (block, *(head.log for head in heads)) for row in log for figure in row]
    cells = foot(
        sheet.shop[0], sheet.job, ("engine", sheet.engine), "build sheet", sheet.unit_name,
        printed=sheet.printed, draft=sheet.draft, seal=seal,
    )  # fmt: skip
    drawings = {
        "ground": ground(paper, word="DRAFT" if sheet.draft else "", cells=cells),
        **{figure.key: figure.drawing.svg for figure in tables},
        **{head.plan_key: head.plan.svg for head in heads},
        **({packs.key: packs.drawing.svg} if packs else {}),
        **(seal.drawings if seal else {}),
    }
    return Page(html, drawings)


def _plan(head: BuildHead) -> Drawing:
    return plan_drawing(lay_out(head.plan_stands, head.plan_valves), head.plan_states, f"{head.name} in plan")


def build_pdf(sheet: BuildSheet, paper: Paper, progress: Progress) -> bytes:
    """The sheet as PDF. Raises `PrintingFailed` with a sentence."""
    progress("Drawing the heads and the tables")
    page = build_page(sheet, paper)
    return to_pdf(
        page.html, drawings=page.drawings, stylesheets=(*SHEET, STYLE), seconds=SECONDS, told=progress
    )


def build_file_name(sheet: BuildSheet) -> str:
    """What the file is called: the job, and that it is a draft."""
    words = f"{sheet.job} build sheet{' DRAFT' if sheet.draft else ''}"
    return "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in words) + ".pdf"
