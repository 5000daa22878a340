"""The lobes of a job: rows from the card, or an imported table."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from builds.access import get_me, get_open_job
from builds.models import Build
from builds.titleblock import job_cells
from valvetrain.forms.lobe import LiftTableForm, RampForm
from valvetrain.models import CamCard, LobeTable, ValveKind


def _table(job: Build, kind: str, **more: Any) -> LobeTable:
    """The lobe of one kind; an unsaved one where nothing of it is entered."""
    if kind not in ValveKind.values:
        raise Http404("A lobe is the intake’s or the exhaust’s.")
    found = LobeTable.objects.filter(build=job, kind=kind).prefetch_related("points").first()
    return found or LobeTable(build=job, kind=kind, **more)


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet_lobe(request: HttpRequest, job_pk: int, kind: str) -> HttpResponse:
    """Lifts with the durations at them, from the card; written as a whole."""
    job = get_open_job(job_pk)
    card, table = CamCard.objects.filter(build=job).first(), _table(job, kind)
    form = RampForm(request.POST or None, instance=table, card=card, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(
            request, f"{table.get_kind_display().capitalize()} lobe: saved. The worksheet follows."
        )
        return redirect("worksheet", job.pk)
    return _page(request, job, table, form, "valvetrain/worksheet/lobe.html", card=card)


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet_table(request: HttpRequest, job_pk: int, kind: str) -> HttpResponse:
    """A table of lift by angle, as a file or pasted; it outranks the card's rows."""
    job, unit = get_open_job(job_pk), get_me(request).length_unit
    table = _table(job, kind, lift_unit=unit)
    form = LiftTableForm(request.POST or None, request.FILES or None, instance=table, unit=unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(
            request, f"{table.get_kind_display().capitalize()} lobe: saved. The worksheet follows."
        )
        return redirect("worksheet", job.pk)
    return _page(request, job, table, form, "valvetrain/worksheet/table.html")


def _page(
    request: HttpRequest, job: Build, table: LobeTable, form: Any, template: str, **more: object
) -> HttpResponse:
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "table": table,
        "form": form,
        "back": reverse("worksheet", args=[job.pk]),
        **more,
    }
    wrong = form.errors or (hasattr(form, "rows") and form.is_bound and not form.rows.is_valid())
    return render(request, template, context, status=422 if wrong else 200)
