"""The build sheet and the customer packet of a job: what is in them, and the keys that print them."""

from collections.abc import Callable
from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from builds.access import get_job, get_me
from builds.models import Build, Shop
from builds.printing.paper import PAPERS
from builds.printing.runs import PrintRun, RunRefused
from builds.titleblock import job_cells
from valvetrain.forms.print_sheet import PrintSheetForm
from valvetrain.sheets.packet import sealed_of, sheets_of
from valvetrain.sheets.sheet_runs import start_build_sheet, start_packet

Starts = Callable[..., PrintRun]


# Kept nowhere: a page called back from a browser's memory would have the id of the sheet that it printed then.
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def build_sheet(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The build sheet as a draft; sent, it starts printing and leads to the page that shows how far it is."""
    job = get_job(job_pk)
    context: dict[str, object] = {
        "parts": job.parts.count(),
        "has_advice": bool(Shop.get().running_in_advice.strip()),
    }
    return _answer(request, job, "valvetrain/build_sheet.html", context, start_build_sheet)


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def packet(request: HttpRequest, job_pk: int) -> HttpResponse:
    """What the packet would hold; sent, it starts printing."""
    job = get_job(job_pk)
    sealed = sealed_of(job)
    sheets = [(title, sealed.get((kind.key, subject))) for kind, subject, title in sheets_of(job)]
    return _answer(request, job, "valvetrain/packet.html", {"sheets": sheets}, start_packet)


def _answer(
    request: HttpRequest, job: Build, template: str, context: dict[str, object], begin: Starts
) -> HttpResponse:
    if request.method != "POST":
        return _page(request, job, template, context)
    form = PrintSheetForm(request.POST)
    if not form.is_valid():
        sentences = [str(error) for errors in form.errors.values() for error in errors]
        return _page(request, job, template, context, sentences, status=422)
    paper = PAPERS[form.cleaned_data["paper"]]
    try:
        run = begin(job, get_me(request), run_id=form.cleaned_data["id"], paper=paper)
    except RunRefused as refused:
        return _page(request, job, template, context, [refused.sentence], status=409)
    return redirect("print-run", run.id)


def _page(
    request: HttpRequest,
    job: Build,
    template: str,
    context: dict[str, object],
    sentences: list[str] | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    usual = Shop.get().paper
    whole = {
        **context,
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "sentences": sentences or [],
        "papers": sorted(PAPERS, key=lambda name: name != usual),
        "fresh_id": uuid4(),
    }
    return render(request, template, whole, status=status)
