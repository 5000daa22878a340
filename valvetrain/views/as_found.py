"""What an engine that came back really had: every valve, one valve, and photos of then and now over one another."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_job, get_me
from builds.lists import page_of
from builds.models import Build, PhotoKind
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx
from valvetrain.as_found import as_found
from valvetrain.as_found_board import lines_of
from valvetrain.photo_pairs import Chosen, PairBoard, pair_at, places_in_both

FIRST_SHOWN = 5


def _looking(job_pk: int) -> Build:
    """A job that looks again at an engine as another one left it."""
    job = get_job(job_pk)
    if job.follows is None:
        raise Http404(
            "This job looks at no engine as another left it. Open the return of a job that is out first."
        )
    return job


@require_safe
def return_geometry(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every valve as found beside what it left with, what changed most first; for htmx the first few of them."""
    job, person = _looking(job_pk), get_me(request)
    lines = lines_of(as_found(job), person.length_unit)
    told = [line for line in lines if line.valve.changes]
    context = {
        "section": "returns",
        "job": job,
        "cells": job_cells(job),
        "unit": person.length_unit,
        "page_obj": page_of(request, lines),
        "lines": told[:FIRST_SHOWN],
        "all_of_them": len(lines),
        "read": len(told),
        "past": sum(line.past for line in lines),
    }
    name = "_panel.html" if asked_by_htmx(request) else "geometry.html"
    return render(request, f"valvetrain/returns/{name}", context)


@require_safe
def return_valve(request: HttpRequest, job_pk: int, address: str) -> HttpResponse:
    """One valve: what it really had in words, figures and drawings, and its photos of then and now."""
    job, person = _looking(job_pk), get_me(request)
    lines = lines_of(as_found(job), person.length_unit)
    place = next((number for number, line in enumerate(lines) if line.address == address), None)
    if place is None:
        raise Http404("There is no such valve on this job, nor on the one that the engine left with.")
    context = {
        "section": "returns",
        "job": job,
        "line": lines[place],
        "before": lines[place - 1].address if place else "",
        "after": lines[place + 1].address if place + 1 < len(lines) else "",
        "board": _board(request, job, Chosen(address, _kind(request))),
        "kinds": PhotoKind.choices,
    }
    return render(request, "valvetrain/returns/valve.html", context)


@require_safe
def return_photos(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every place with photos of then and now, and one pair of them over one another."""
    job = _looking(job_pk)
    places = places_in_both(job)
    asked = Chosen(request.GET.get("at", "")[:40].replace("\0", ""), _kind(request))
    chosen = asked if {"at", "kind"} & request.GET.keys() or not places else places[0]
    context = {
        "section": "returns",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page_of(request, places),
        "board": _board(request, job, chosen),
        "kinds": PhotoKind.choices,
    }
    return render(request, "valvetrain/returns/photos.html", context)


def _kind(request: HttpRequest) -> str:
    kind = request.GET.get("kind", "")
    return kind if kind in PhotoKind.values else PhotoKind.WITNESS_MARK.value


def _board(request: HttpRequest, job: Build, chosen: Chosen) -> PairBoard:
    return pair_at(job, chosen, then=request.GET.get("then", "")[:40], now=request.GET.get("now", "")[:40])
