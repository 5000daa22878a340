"""Checks between rebuilds: all of a job, opening one, and saying that it is done."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds import checks
from builds.access import get_job, get_me
from builds.forms.running import CheckForm
from builds.lists import page_of
from builds.looks import LookRefused
from builds.running import record_of
from builds.titleblock import job_cells
from builds.views.answers import form_page


@require_safe
def job_checks(request: HttpRequest, job_pk: int) -> HttpResponse:
    """All checks of a job, newest first, each with how far the engine had run by then."""
    job = get_job(job_pk)
    page = page_of(request, checks.checks_of(job))
    page.object_list = checks.check_lines(list(page), record_of(job))
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "page_obj": page}
    return render(request, "builds/running/checks.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def check_open(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Open a check of an engine that is out; what is read goes into the log of the check."""
    job = get_job(job_pk)
    form = CheckForm(request.POST or None, job=job, person=get_me(request))
    if request.method == "POST" and (check := form.save_once()) is not None:
        messages.success(
            request, f"{check} is open. Read lash, springs and what else there is; then say that it is done."
        )
        return redirect(check)
    return form_page(
        request,
        form,
        heading=f"Open a check of job {job}",
        section="jobs",
        word="Open the check",
        back=reverse("job-running", args=[job.pk]),
        lead="The check has the same valves, stands and limits as the job that the engine went out with. What is read in "
        "it stands beside what was read then, and moves nothing that was sealed.",
    )


@require_POST
def check_done(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Say that a check is done: its log takes no more readings."""
    try:
        check = checks.finish(get_job(job_pk))
    except LookRefused as error:
        raise PermissionDenied(error.sentence) from None
    messages.success(request, f"{check} is done: its log takes nothing more.")
    return redirect("job-running", check.follows_id)


@require_POST
def check_again(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Open a check again that was done; an owner does."""
    try:
        check = checks.open_again(get_job(job_pk), get_me(request))
    except LookRefused as error:
        raise PermissionDenied(error.sentence) from None
    messages.success(request, f"{check} is open again.")
    return redirect(check)
