"""A setup sheet as a page and as a PDF, from its snapshot alone."""

from dataclasses import dataclass

from django.template.loader import render_to_string

from builds.printing.paper import Cell, Paper, ground
from builds.printing.press import to_pdf
from valvetrain.sheets.figures import arm_figures, marks_figure, plan_figure
from valvetrain.sheets.snapshot import SetupSheet


@dataclass(frozen=True)
class Page:
    """A page for the press: its HTML, and the drawings that it shows by name."""

    html: str
    drawings: dict[str, str]


def setup_page(sheet: SetupSheet, paper: Paper) -> Page:
    """The sheet as the press takes it."""
    figures, marks, plan = arm_figures(sheet), marks_figure(sheet), plan_figure(sheet)
    html = render_to_string(
        "sheets/setup.html",
        {
            "sheet": sheet,
            "unit": sheet.unit,
            "paper": paper,
            "plan": plan,
            "figures": figures,
            "marks": marks,
        },
    )
    drawings = {
        "ground": ground(paper, word="DRAFT" if sheet.draft else "", cells=_cells(sheet)),
        "plan": plan.svg,
        **{f"arm-{figure.address}": figure.arm.svg for figure in figures},
        **{f"travel-{figure.address}": figure.travel.svg for figure in figures},
        **({"marks": marks.svg} if marks else {}),
    }
    return Page(html, drawings)


def _cells(sheet: SetupSheet) -> tuple[Cell, ...]:
    """The title block at the foot of every page."""
    return (
        Cell("shop", sheet.shop[0], 1.7),
        Cell("job", sheet.job, 1.0, heavy=True),
        Cell("head", sheet.head, 1.2),
        Cell("setup sheet, not signed", "DRAFT", 1.2, heavy=True)
        if sheet.draft
        else Cell("sheet", "setup sheet", 1.2),
        Cell("lengths in", sheet.unit_name, 0.9),
        Cell("printed", sheet.printed, 1.3),
        Cell("page", "", 0.6),
    )


def setup_pdf(sheet: SetupSheet, paper: Paper) -> bytes:
    """The sheet as PDF. Raises `PrintingFailed` with a sentence."""
    page = setup_page(sheet, paper)
    return to_pdf(page.html, drawings=page.drawings)


def file_name(sheet: SetupSheet) -> str:
    """What the file is called: the job, the head, and that it is a draft."""
    words = f"{sheet.job} {sheet.head} setup sheet{' DRAFT' if sheet.draft else ''}"
    return "".join(letter if letter.isalnum() or letter in " -_" else "-" for letter in words) + ".pdf"
