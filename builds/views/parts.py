"""Parts fitted to a job. They change only while its log is open."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from builds.access import get_open_job, get_part
from builds.forms.jobs import NewPartForm, PartForm
from builds.models import PartFitted
from builds.titleblock import job_cells
from builds.views.answers import form_page


@require_http_methods(["GET", "HEAD", "POST"])
def part_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a part."""
    job = get_open_job(pk)
    form = NewPartForm(request.POST or None, instance=PartFitted(build=job))
    if request.method == "POST" and (part := form.save_once()) is not None:
        messages.success(request, f"{part}: added.")
        return redirect(job)
    return form_page(
        request,
        form,
        heading=f"Part fitted to {job}",
        section="jobs",
        word="Add the part",
        back=job.get_absolute_url(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def part_edit(request: HttpRequest, pk: int, part_pk: int) -> HttpResponse:
    """Change what is written about a part."""
    job = get_open_job(pk)
    part = get_part(job, part_pk)
    form = PartForm(request.POST or None, instance=part)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{part}: saved.")
        return redirect(job)
    return form_page(
        request, form, heading=f"Part fitted to {job}", section="jobs", back=job.get_absolute_url()
    )


@require_http_methods(["GET", "HEAD", "POST"])
def part_remove(request: HttpRequest, pk: int, part_pk: int) -> HttpResponse:
    """Take a part off the list, after asking."""
    job = get_open_job(pk)
    part = get_part(job, part_pk)
    if part.photo_filings.exists():
        messages.error(
            request, f"{part}: a photo is filed to it, so it stays. If it came out again, say so in its note."
        )
        return redirect(job)
    if request.method == "POST":
        messages.success(request, f"{part}: removed from this job.")
        part.delete()
        return redirect(job)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "part": part}
    return render(request, "builds/part_remove.html", context)
