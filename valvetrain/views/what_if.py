"""The What if screen: a job with something changed, worked out live. Nothing is written to the log."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import replace_url

from builds.access import get_job, get_me
from builds.lists import page_of
from builds.measures import unit_for
from builds.models import Build
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx
from valvetrain.charts.arm import arm_drawing
from valvetrain.charts.style import words_drawing
from valvetrain.forms.what_if import TrialForm, WhatIfForm
from valvetrain.geometry.errors import GeometryError
from valvetrain.models import Trial
from valvetrain.what_if_board import WhatIfBoard
from valvetrain.what_if_drawing import numbers_of
from valvetrain.what_if_fields import SPECS
from valvetrain.what_if_kept import new_trial, since
from valvetrain.what_if_records import read_today

KEEP_SECONDS = 3600


def _get_job(pk: int) -> Build:
    """A job without its state, which would work out every head for nothing."""
    return get_object_or_404(Build.objects.select_related("engine__customer"), pk=pk)


def _get_trial(job_pk: int, pk: int) -> Trial:
    return get_object_or_404(Trial.objects.select_related("kept_by"), build=job_pk, pk=pk)


def _board(request: HttpRequest, job: Build, data: Mapping[str, Any]) -> WhatIfBoard:
    """A job's records with what was typed over them."""
    gauge = request.session.get("bench", {}).get("gauge", 0)
    today, unit = read_today(job, gauge if isinstance(gauge, int) else 0), get_me(request).length_unit
    form = WhatIfForm(data, unit=unit, addresses=today.valves, gauges=today.gauges)
    return WhatIfBoard(today, form, unit)


def _page(
    request: HttpRequest, board: WhatIfBoard, keep: TrialForm | None = None, **more: object
) -> HttpResponse:
    """The whole screen; status 422 when a trial could not be kept."""
    job = board.today.job
    context = {
        "section": "jobs",
        "job": job,
        "board": board,
        "keep": keep or TrialForm(tried=board.form),
        "kept_count": Trial.objects.filter(build=job).count(),
        **more,
    }
    return render(request, "valvetrain/what_if/page.html", context, status=422 if keep else 200)


@require_safe
def what_if(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The screen with what the address carries filled in; for htmx only what follows from it."""
    board = _board(request, _get_job(job_pk), request.GET)
    if not asked_by_htmx(request):
        return _page(request, board)
    answer = render(request, "valvetrain/what_if/_answer.html", {"board": board})
    return replace_url(answer, f"{reverse('what-if', args=[job_pk])}?{board.form.query}")


@require_safe
def what_if_drawing(request: HttpRequest, job_pk: int, side: str) -> HttpResponse:
    """The arm of the first valve of a trial, today or as it would stand; or the words on what it lacks."""
    if side not in ("today", "trial"):
        raise Http404("There is no such drawing. There are today and trial.")
    board = _board(request, _get_job(job_pk), request.GET)
    try:
        numbers = numbers_of(board, side)
        drawn = words_drawing("Not drawn yet.") if numbers is None else arm_drawing(numbers)
    except GeometryError as error:
        drawn = words_drawing(f"Not drawn. {error}.")
    headers = {"Cache-Control": f"private, max-age={KEEP_SECONDS}"} if request.GET.get("v") else {}
    return HttpResponse(drawn.svg, content_type="image/svg+xml", headers=headers)


@require_safe
def trial_list(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The trials that were kept on a job, newest first."""
    job = get_job(job_pk)
    trials = Trial.objects.filter(build=job).select_related("kept_by").defer("stood")
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "page_obj": page_of(request, trials)}
    return render(request, "valvetrain/what_if/trials.html", context)


@require_POST
def trial_keep(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Keep what stands in the fields by a name. Safe to send again."""
    job = _get_job(job_pk)
    board = _board(request, job, QueryDict(request.POST.get("changes", "")))
    trial = new_trial(job, get_me(request), board.form, board.today)
    keep = TrialForm(request.POST, instance=trial, tried=board.form)
    kept = keep.save_once()
    if kept is None:
        return _page(request, board, keep)
    messages.success(request, f"{kept}: kept. Nothing of it is in the log.")
    return redirect(kept)


@require_safe
def trial(request: HttpRequest, job_pk: int, pk: int) -> HttpResponse:
    """A kept trial, worked out against the records as they are now, with what has changed in them since."""
    job, kept = _get_job(job_pk), _get_trial(job_pk, pk)
    unit = get_me(request).length_unit
    typed = kept.typed_for({name: unit_for(spec.kind, unit) for name, spec in SPECS.items()})
    board = _board(request, job, typed)
    return _page(request, board, trial=kept, since=since(kept, board.today, board.form.at, unit))


@require_http_methods(["GET", "HEAD", "POST"])
def trial_drop(request: HttpRequest, job_pk: int, pk: int) -> HttpResponse:
    """Drop a kept trial, after asking."""
    job, kept = get_job(job_pk), _get_trial(job_pk, pk)
    if not kept.may_be_dropped_by(get_me(request)):
        raise PermissionDenied(
            f"{kept.kept_by} kept this trial. Ask them, or an owner of the book, to drop it."
        )
    if request.method == "POST":
        messages.success(request, f"{kept}: dropped. The log is as it was.")
        kept.delete()
        return redirect("trial-list", job.pk)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "trial": kept}
    return render(request, "valvetrain/what_if/drop.html", context)
