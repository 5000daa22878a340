"""The packs that were fitted on a job, as entries of its log."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_job, get_me
from builds.lists import page_of
from builds.titleblock import job_cells
from valvetrain.fitted import fitted_on, lines_of


@require_safe
def fitted_packs(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every pack that was fitted on this job, newest first."""
    job = get_job(job_pk)
    page = page_of(request, fitted_on(job))
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page,
        "fitted": lines_of(page.object_list, get_me(request).length_unit),
    }
    return render(request, "valvetrain/packs/fitted.html", context)
