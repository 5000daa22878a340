"""Parts fitted to a job, which change only while its log is open; and those that come out, whatever the job is at."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_engine, get_job, get_me, get_open_job, get_part, get_part_out
from builds.forms.parts import NewPartForm, PartForm, PartOutForm
from builds.lists import page_of
from builds.models import Build, PartFitted, PartTakenOut
from builds.parts_out import why_kept
from builds.titleblock import job_cells
from builds.views.answers import form_page

FROM_ANOTHER = ["role", "maker", "maker_number", "position"]


@require_http_methods(["GET", "HEAD", "POST"])
def part_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a part; perhaps in the place of one that is in the engine, from which the form is filled."""
    job = get_open_job(pk)
    form = NewPartForm(
        request.POST or None,
        instance=PartFitted(build=job),
        person=get_me(request),
        initial=_like(job, request.GET.get("instead_of", "")),
    )
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


def _like(job: Build, pk: str) -> dict[str, Any]:
    """What a new part has in common with the one whose place it takes."""
    old = (
        PartFitted.objects.still_in().filter(build__engine=job.engine_id, pk=pk).first()
        if pk.isdecimal() and len(pk) < 19
        else None
    )
    if old is None:
        return {}
    return {name: getattr(old, name) for name in FROM_ANOTHER} | {"quantity": old.left, "instead_of": old.pk}


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
    if kept := why_kept(part):
        messages.error(request, f"{part}: {kept}, so it stays. If it came out of the engine, take it out.")
        return redirect(job)
    if request.method == "POST":
        messages.success(request, f"{part}: removed from this job.")
        part.delete()
        return redirect(job)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "part": part}
    return render(request, "builds/part_remove.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def part_out(request: HttpRequest, pk: int, part_pk: int) -> HttpResponse:
    """Note that some of a part came out: also of a job whose log is closed, since parts are of the engine."""
    job = get_job(pk)
    part = get_part(job, part_pk)
    asked = request.GET.get("in", "")
    in_job = Build.objects.filter(
        engine=job.engine_id, pk=asked if asked.isdecimal() and len(asked) < 19 else 0
    ).first()
    form = PartOutForm(
        request.POST or None,
        part=part,
        person=get_me(request),
        initial={"in_job": in_job, "quantity": part.left or 1},
    )
    back = _parts_page(job, in_job) if asked else job.get_absolute_url()
    if request.method == "POST" and (out := form.save_once()) is not None:
        messages.success(request, f"{part}: {out.quantity} taken out.")
        return redirect(back)
    number = "".join(f", {word} {text}" for word, text in part.numbers[:1])
    lead = f"{part.left} of {part.quantity} in the engine{number}. Fitted {part.fitted_on:%d %b %Y} in job {job}."
    return form_page(
        request, form, heading=f"Take out: {part}", section="jobs", lead=lead, word="Take it out", back=back
    )


def _parts_page(job: Build, in_job: Build | None) -> str:
    """The page of an engine's parts, for the job that is being worked on."""
    return reverse("engine-parts", args=[job.engine_id]) + (
        f"?{urlencode({'job': in_job.pk})}" if in_job else ""
    )


@require_http_methods(["GET", "HEAD", "POST"])
def part_out_undo(request: HttpRequest, pk: int, part_pk: int, out_pk: int) -> HttpResponse:
    """Take back that a part came out, where that was an error; after asking. The history of edits keeps it."""
    job = get_job(pk)
    part = get_part(job, part_pk)
    out: PartTakenOut = get_part_out(part, out_pk)
    back = reverse("engine-parts", args=[job.engine_id])
    if out.by_mark_id is not None:
        messages.error(
            request, f"{part}: a mark on a recall’s list took it out. Strike out that mark, there."
        )
        return redirect(back)
    if request.method == "POST":
        out.delete()
        messages.success(request, f"{part}: {out.quantity} put back on the list of what is in.")
        return redirect(back)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "part": part, "out": out, "back": back}
    return render(request, "builds/parts/out_undo.html", context)


@require_safe
def engine_parts(request: HttpRequest, pk: int) -> HttpResponse:
    """Every part of an engine, from all its jobs: what is in, and what came out when and why."""
    engine = get_engine(pk)
    asked = request.GET.get("job", "")
    jobs = Build.objects.filter(engine=engine, pk=asked if asked.isdecimal() and len(asked) < 19 else 0)
    rows = PartFitted.objects.for_list().filter(build__engine=engine)
    job = jobs.first()
    context = {
        "section": "customers",
        "engine": engine,
        "job": job,
        "kept": f"job={job.pk}" if job else "",
        "page_obj": page_of(request, rows),
    }
    return render(request, "builds/parts/engine.html", context)
