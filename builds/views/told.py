"""What was told from the track: the list, taking a figure over as a reading, and turning it down with a reason."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_job, get_me, get_told
from builds.forms.told import LeaveForm, TakeOverForm
from builds.lists import page_of
from builds.models import ToldReading
from builds.titleblock import job_cells
from builds.told import all_of
from builds.views.answers import form_page


@require_safe
def job_told(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every figure that was told of a job, newest first, and what became of it."""
    job = get_job(job_pk)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page_of(request, all_of(job)),
    }
    return render(request, "builds/running/told.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def told_take(request: HttpRequest, job_pk: int, client_id: UUID) -> HttpResponse:
    """Take a told figure over: it becomes a reading of a check, by the one who takes it over."""
    job = get_job(job_pk)
    told = get_told(job, client_id)
    form = TakeOverForm(request.POST or None, told=told)
    if request.method == "POST" and (reading := form.write(get_me(request))) is not None:
        messages.success(request, f"{told} is taken over into {reading.build}.")
        return redirect("job-running", job.pk)
    return form_page(
        request,
        form,
        heading=f"Take over {told}",
        section="jobs",
        word="Take it over",
        back=reverse("job-running", args=[job.pk]),
        lead=f"Told by {told.teller}, read on {told.read_on:%d %b %Y}{_noted(told)}. It becomes a reading of yours, "
        "which says that it was told.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
def told_leave(request: HttpRequest, job_pk: int, client_id: UUID) -> HttpResponse:
    """Turn a told figure down, with a reason that its teller sees too."""
    job = get_job(job_pk)
    told = get_told(job, client_id)
    form = LeaveForm(request.POST or None)
    if request.method == "POST" and form.write(told, get_me(request)) is not None:
        messages.success(request, f"{told} is turned down, with the reason.")
        return redirect("job-running", job.pk)
    return form_page(
        request,
        form,
        heading=f"Turn down {told}",
        section="jobs",
        word="Turn it down",
        back=reverse("job-running", args=[job.pk]),
        lead=f"Told by {told.teller}, read on {told.read_on:%d %b %Y}{_noted(told)}. Whoever told it sees the reason.",
    )


def _noted(told: ToldReading) -> str:
    return f": {told.note}" if told.note else ""
