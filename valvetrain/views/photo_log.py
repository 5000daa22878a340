"""The photo log of a job: what is in it, and the key that prints it."""

from uuid import uuid4

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from builds.access import get_job, get_me
from builds.models import Build, Photo, Shop
from builds.printing.paper import PAPERS
from builds.printing.runs import RunRefused
from builds.titleblock import job_cells
from valvetrain.forms.print_sheet import PrintSheetForm
from valvetrain.sheets.photo_run import start_photo_log


# Kept nowhere: a page called back from a browser's memory would have the id of the log that it printed then.
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def photo_log(request: HttpRequest, job_pk: int) -> HttpResponse:
    """What the log would hold; sent, it starts printing and leads to the page that shows how far it is."""
    job = get_job(job_pk)
    if request.method != "POST":
        return _page(request, job)
    form = PrintSheetForm(request.POST)
    if not form.is_valid():
        sentences = [str(error) for errors in form.errors.values() for error in errors]
        return _page(request, job, sentences, status=422)
    paper = PAPERS[form.cleaned_data["paper"]]
    try:
        run = start_photo_log(job, get_me(request), run_id=form.cleaned_data["id"], paper=paper)
    except RunRefused as refused:
        return _page(request, job, [refused.sentence], status=409)
    return redirect("print-run", run.id)


def _page(
    request: HttpRequest, job: Build, sentences: list[str] | None = None, *, status: int = 200
) -> HttpResponse:
    photos = Photo.objects.filter(build=job)
    usual = Shop.get().paper
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "sentences": sentences or [],
        "shown": photos.filed().count(),
        "set_aside": photos.filed(set_aside=True).count(),
        "papers": sorted(PAPERS, key=lambda name: name != usual),
        "fresh_id": uuid4(),
    }
    return render(request, "valvetrain/photo_log.html", context, status=status)
