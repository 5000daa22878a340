"""The history of edits: of a job and what hangs on it, and of what is the whole shop's."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_job, get_me
from builds.edits import edits_of_job, edits_of_shop, told
from builds.lists import ROWS_ON_A_PAGE, page_of
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx

NEWEST = 6


@require_safe
def job_changes(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Who changed what on a job, newest first; for htmx the newest few, as a section of the job's page."""
    job = get_job(job_pk)
    line = edits_of_job(job)
    if asked_by_htmx(request):
        return _panel(request, line, request.path)
    page = page_of(request, line)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page,
        "edits": told(page.object_list, get_me(request).length_unit),
    }
    return render(request, "builds/edits/job.html", context)


def _panel(request: HttpRequest, line: Any, all_of_them: str) -> HttpResponse:
    """The newest few, as a section of another page."""
    edits = told(line[:ROWS_ON_A_PAGE], get_me(request).length_unit)[:NEWEST]
    return render(request, "builds/edits/_panel.html", {"edits": edits, "all_of_them": all_of_them})


@require_safe
def shop_changes(request: HttpRequest) -> HttpResponse:
    """Who changed what of the whole shop's: limits, tools, papers, people, the layouts on the shelf."""
    if asked_by_htmx(request):
        return _panel(request, edits_of_shop(), request.path)
    page = page_of(request, edits_of_shop())
    context = {
        "section": "shop",
        "page_obj": page,
        "edits": told(page.object_list, get_me(request).length_unit),
    }
    return render(request, "builds/edits/shop.html", context)
