"""The cam card of a job."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from builds.access import get_me, get_open_job
from builds.titleblock import job_cells
from valvetrain.forms.rockers import CamCardForm
from valvetrain.models import CamCard


@require_http_methods(["GET", "HEAD", "POST"])
def cam_card(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The card as it is printed, and beside it where its own numbers disagree. That never stops anybody."""
    job = get_open_job(job_pk)
    card = CamCard.objects.filter(build=job).first() or CamCard(build=job)
    form = CamCardForm(request.POST or None, instance=card, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        card = form.save()
        messages.success(request, f"The cam card of job {job} is saved.")
        return redirect("cam-card", job.pk) if card.disagreements() else redirect(job)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "form": form,
        "disagreements": [] if form.errors else card.disagreements(),
    }
    return render(request, "valvetrain/cam/card.html", context, status=422 if form.errors else 200)
