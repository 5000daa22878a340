"""Printed sheets of a head."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from builds.access import get_me
from builds.models import Shop
from builds.printing.paper import PAPERS
from builds.printing.press import PrintingFailed
from valvetrain.access import get_head
from valvetrain.sheets.page import file_name, setup_pdf
from valvetrain.sheets.setup import setup_sheet


@require_GET
def setup_sheet_pdf(request: HttpRequest, head_pk: int) -> HttpResponse:
    """The setup sheet of a head, on the shop's paper or on the one asked for."""
    head = get_head(request, head_pk)
    asked = request.GET.get("paper") or Shop.get().paper
    if asked not in PAPERS:
        names = " or ".join(PAPERS)
        return _not_printed(
            request, head_pk, f"There is no paper “{asked[:20]}” here. Choose {names}.", status=400
        )
    sheet = setup_sheet(head, get_me(request))
    try:
        pdf = setup_pdf(sheet, PAPERS[asked])
    except PrintingFailed as failed:
        return _not_printed(request, head_pk, failed.sentence, status=503)
    headers = {"Content-Disposition": f'inline; filename="{file_name(sheet)}"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


def _not_printed(request: HttpRequest, head_pk: int, sentence: str, *, status: int) -> HttpResponse:
    """Say why there is no sheet, and offer to try again."""
    context = {"sentence": sentence, "head_pk": head_pk, "papers": PAPERS.values(), "section": "jobs"}
    return render(request, "sheets/not_printed.html", context, status=status)
