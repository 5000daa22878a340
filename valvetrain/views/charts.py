"""The page of charts of a head, and each chart as a picture."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_me
from valvetrain.access import get_head
from valvetrain.charts.board import HEADINGS, ChartBoard
from valvetrain.charts.style import words_drawing
from valvetrain.forms.charts import DrawForm
from valvetrain.states import HeadState
from valvetrain.views.heads import cells_of

KEEP_SECONDS = 12 * 3600


def _board(request: HttpRequest, head_pk: int) -> ChartBoard:
    """The head's records with what is asked about."""

    def ask(state: HeadState) -> DrawForm:
        read = [valve for valve in state.valves if valve.height_error is not None]
        worst = max(read, key=lambda valve: abs(valve.height_error or 0.0), default=None)
        first = worst or next(iter(state.valves), None)
        addresses = [valve.address for valve in state.valves]
        return DrawForm(request.GET, addresses=addresses, first=first.address if first else "")

    return ChartBoard(get_head(request, head_pk), get_me(request).length_unit, ask)


@require_safe
def charts(request: HttpRequest, head_pk: int) -> HttpResponse:
    """Every chart of a head with its table; and those of one valve, which can be chosen."""
    board = _board(request, head_pk)
    context = {
        "section": "jobs",
        "head": board.head,
        "job": board.build,
        "cells": cells_of(board.head),
        "board": board,
        "look": board.look,
        "asked": request.GET.urlencode(),
    }
    return render(request, "valvetrain/charts/page.html", context)


@require_safe
def chart(request: HttpRequest, head_pk: int, which: str) -> HttpResponse:
    """One chart as a picture, from the numbers as they are now; or the words on what it waits for."""
    if which not in HEADINGS:
        raise Http404(f"There is no such chart. There are {', '.join(HEADINGS)}.")
    board = _board(request, head_pk)
    found = board.chart(which) if which in ("residuals", "packs") or board.state.valves else None
    drawing = found.drawing if found else None
    if drawing is None:
        words = " ".join(gap.words for gap in found.gaps) if found else "This head has no valves yet."
        drawing = words_drawing(f"Not drawn yet. {words}")
    response = HttpResponse(drawing.svg, content_type="image/svg+xml")
    if request.GET.get("v"):  # the page names another version when a number changes
        response.headers["Cache-Control"] = f"private, max-age={KEEP_SECONDS}"
    return response
