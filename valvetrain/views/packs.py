"""Packs for the engine: one proposal for all its stands from one drawer, and fitting them one by one."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_job, get_me
from builds.models import Build
from builds.recording import EntryRefused
from builds.titleblock import job_cells
from valvetrain.forms.packs import WishesForm, read_fit
from valvetrain.logbook import fit
from valvetrain.models import Head, Stand
from valvetrain.packboard import PackBoard
from valvetrain.packwords import pack_words
from valvetrain.shimming import Wishes, is_read, propose
from valvetrain.targets import states_of


@require_safe
def engine_packs(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The proposal for a job, as the address line asks for it."""
    return _page(request, get_job(job_pk))


def _page(request: HttpRequest, job: Build, refused: str = "") -> HttpResponse:
    unit = get_me(request).length_unit
    heads = states_of(Head.objects.filter(build=job).select_related("build__engine__customer"))
    stands = [stand for head in heads for stand in head.stands if is_read(stand)]
    form = WishesForm(request.GET, stands=stands, unit=unit)
    wrong = not form.is_valid()
    board = PackBoard(heads, propose(heads, Wishes() if wrong else form.wishes()), unit)
    context = {
        "section": "jobs",
        "unit_name": get_me(request).get_length_unit_display(),
        "job": job,
        "cells": job_cells(job),
        "form": form,
        "wrong": wrong,
        "board": board,
        "refused": refused,
        "asked": request.GET.urlencode(),
    }
    return render(request, "valvetrain/packs/page.html", context, status=422 if wrong or refused else 200)


@require_POST
def engine_pack_fit(request: HttpRequest, job_pk: int, stand_pk: int) -> HttpResponse:
    """Write that a stand got the pack that was proposed for it; safe to send again."""
    job = get_job(job_pk)
    stand = get_object_or_404(
        Stand.objects.select_related("head__build").filter(head__build=job).prefetch_related("pads"),
        pk=stand_pk,
    )
    person = get_me(request)
    try:
        pack, _new = fit(stand, person, read_fit(request.POST, person))
    except EntryRefused as error:
        return _page(request, job, refused=error.sentence)
    messages.success(
        request,
        f"Fitted under {stand.address}: {pack_words(pack, person.length_unit)}. Torque the stand, then prove it at the "
        "bench.",
    )
    asked = request.GET.urlencode()
    return redirect(reverse("engine-packs", args=[job.pk]) + (f"?{asked}" if asked else ""))
