"""A setup sheet as a page and as a PDF, from its snapshot alone."""

from dataclasses import dataclass

from django.template.loader import render_to_string

from builds.printing.paper import Cell, Paper, ground
from builds.printing.press import to_pdf
from builds.sealing.kinds import SealMarks
from valvetrain.sheets.figures import (
    FEW_VALVES,
    log_figures,
    marks_figure,
    marks_read,
    more_figures,
    plan_figure,
    residuals_figure,
    sheet_figures,
)
from valvetrain.sheets.foot import foot, seal_context
from valvetrain.sheets.snapshot import SetupSheet

MARGIN = 12.0  # mm at either side of the page, as the sheet's style has it
# How much of the page's width the columns at its head take [%], by the number of rocker sets; the limits get the rest.
FACT_WIDTHS = {
    0: {"job": 30, "rockers": 0, "cam": 30}, 1: {"job": 26, "rockers": 18, "cam": 28},
    2: {"job": 21, "rockers": 15, "cam": 27},
}  # fmt: skip


@dataclass(frozen=True)
class Page:
    """A page for the press: its HTML, and the drawings that it shows by name."""

    html: str
    drawings: dict[str, str]


def setup_page(sheet: SetupSheet, paper: Paper, seal: SealMarks | None = None) -> Page:
    """The sheet as the press takes it, with its seal where it has one."""
    figures, marks, plan = sheet_figures(sheet), marks_figure(sheet), plan_figure(sheet)
    log = log_figures(sheet.log, paper.width - 2 * MARGIN)
    along = residuals_figure(sheet)
    # Beside the marks where those leave it room; else it stands among the figures.
    beside = along if along and marks and len(sheet.valves) <= FEW_VALVES else None
    more, packs = more_figures(sheet, [along] if along and not beside else [])
    if len(more) == 1:  # one row more stays with the others: by itself it would be most of a page left empty
        figures, more = [*figures, *more], []
    html = render_to_string(
        "sheets/setup.html",
        {
            "sheet": sheet,
            "unit": sheet.unit,
            "paper": paper,
            "plan": plan,
            "figures": figures,
            "more": more,
            "packs": packs,
            "fact_widths": FACT_WIDTHS[min(len(sheet.rockers), 2)],
            "marks": marks,
            "marks_read": bool(marks_read(sheet)),
            "log": log,
            "beside": beside,
            **seal_context(seal, paper),
        },
    )
    drawings = {
        "ground": ground(paper, word="DRAFT" if sheet.draft else "", cells=_cells(sheet, seal)),
        "plan": plan.svg,
        **{figure.key: figure.drawing.svg for row in log for figure in row},
        **{
            figure.key: figure.drawing.svg
            for row in [*figures, *more, [figure for figure in (beside, packs) if figure]]
            for figure in row
        },
        **({"marks": marks.svg} if marks else {}),
        **(seal.drawings if seal else {}),
    }
    return Page(html, drawings)


def _cells(sheet: SetupSheet, seal: SealMarks | None) -> tuple[Cell, ...]:
    return foot(
        sheet.shop[0], sheet.job, ("head", sheet.head), "setup sheet", sheet.unit_name,
        printed=sheet.printed, draft=sheet.draft, seal=seal,
    )  # fmt: skip


def setup_pdf(sheet: SetupSheet, paper: Paper) -> bytes:
    """The sheet as PDF. Raises `PrintingFailed` with a sentence."""
    page = setup_page(sheet, paper)
    return to_pdf(page.html, drawings=page.drawings)


def file_name(sheet: SetupSheet) -> str:
    """What the file is called: the job, the head, and that it is a draft."""
    words = f"{sheet.job} {sheet.head} setup sheet{' DRAFT' if sheet.draft else ''}"
    return "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in words) + ".pdf"
