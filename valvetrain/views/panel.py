"""The valvetrain's section of a job's page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_job, get_me
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx
from valvetrain.benchboard import bench_links
from valvetrain.fitted import fitted_on, lines_of
from valvetrain.models import CamCard, Head, RockerSet, SpringSheet
from valvetrain.papers import kinds_without_springs
from valvetrain.plan import plan_for
from valvetrain.readiness import kinds_without_rockers, what_is_missing
from valvetrain.targets import states_of

RECENT_PACKS = 5


@require_safe
def valvetrain_panel(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Heads, rockers, cam card, and what is missing to start; for htmx the section, else a page of its own."""
    job = get_job(job_pk)
    heads = list(
        Head.objects.filter(build=job).select_related("build").prefetch_related("valves", "stands__pads")
    )
    rocker_sets = list(RockerSet.objects.filter(build=job))
    card = CamCard.objects.filter(build=job).first()
    spring_sheets = list(SpringSheet.objects.filter(build=job))
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "drawn": [
            (state.head, plan_for(state.head), state.on_plan, bench_links(state.head))
            for state in states_of(heads)
        ],
        "rocker_sets": rocker_sets,
        "rockers_wanted": bool(kinds_without_rockers(rocker_sets)),
        "card": card,
        "spring_sheets": spring_sheets,
        "springs_wanted": bool(kinds_without_springs(spring_sheets)),
        "fitted": lines_of(fitted_on(job)[:RECENT_PACKS], get_me(request).length_unit),
        "missing": what_is_missing(heads, rocker_sets, card),
    }
    name = "_panel.html" if asked_by_htmx(request) else "panel_page.html"
    return render(request, f"valvetrain/{name}", context)
