"""Trends of a job whose engine is out: every valve, one drawn large, and that drawing as a picture."""

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from builds.access import get_job, get_me
from builds.lists import page_of
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx
from valvetrain.trendboard import LargeChart, TrendBoard
from valvetrain.trends import FOLLOWED
from valvetrain.views.charts import KEEP_SECONDS

FEW = 5


@require_safe
def job_trends(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every valve's drift, what leaves its limit first at the head; for htmx the section that it asks for."""
    job = get_job(job_pk)
    if job.follows_id is not None:
        return redirect("job-trends", job.follows_id)
    asked = {name: request.GET.get(name, "").strip()[:40] for name in ("what", "count", "valve")}
    board = TrendBoard(job, get_me(request).length_unit, key=asked["what"], run_unit=asked["count"])
    context = {"section": "jobs", "job": job, "board": board}
    if asked_by_htmx(request) and request.htmx.target != "trends":  # type: ignore[attr-defined]
        near = board.soonest
        return render(
            request, "valvetrain/trends/_panel.html", {**context, "near": near[:FEW], "all_near": len(near)}
        )
    line = board.at(asked["valve"])
    context |= {
        "cells": job_cells(job),
        "page_obj": page_of(request, board.lines),
        "large": None if line is None else LargeChart(line),
        "asked": asked["valve"],
        "kept": urlencode({"what": board.key, "count": board.run_unit}),
    }
    name = "_board.html" if asked_by_htmx(request) else "page.html"
    return render(request, f"valvetrain/trends/{name}", context)


@require_safe
def trend_picture(request: HttpRequest, job_pk: int, key: str, address: str) -> HttpResponse:
    """The large chart of one valve as a picture, from the numbers as they are now."""
    if key not in FOLLOWED:
        raise Http404(f"Nothing of that name is followed. There are {', '.join(FOLLOWED)}.")
    count = request.GET.get("count", "")
    board = TrendBoard(get_job(job_pk), get_me(request).length_unit, key=key, run_unit=count)
    line = board.at(address)
    if line is None:
        raise Http404(f"{address} was not read again on this job, so there is no trend to draw.")
    response = HttpResponse(LargeChart(line).drawing.svg, content_type="image/svg+xml")
    if request.GET.get("v"):  # the page names another version when a number changes
        response.headers["Cache-Control"] = f"private, max-age={KEEP_SECONDS}"
    return response
