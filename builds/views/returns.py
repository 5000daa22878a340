"""Engines that came back: the list, opening a return, its facts, and as found beside as built."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_job, get_me
from builds.compared_page import choices_of, choose
from builds.comparing import by_moved, compare
from builds.forms.returns import NewReturnForm, ReturnForm
from builds.lists import page_of, search_text
from builds.looks import LookRefused, refuse_return, sheet_it_left_with
from builds.models import Build, BuildKind, Return, with_states
from builds.returning import (
    came_back,
    facts_of,
    matching,
    may_come_back,
    noted_as_back,
    return_of,
    with_running,
)
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx, form_page

OFFERED = 5
MOVED_MOST = 10
NOTHING_SEALED = (
    "Nothing was sealed on this job when it left: what stands beside the readings as found is what its log had "
    "then."
)


@require_safe
def return_list(request: HttpRequest) -> HttpResponse:
    """Engines that came back, the last one first; before them those that are noted as back and have no return yet."""
    query = search_text(request)
    found = came_back()
    page = page_of(request, matching(found, query) if query else found)
    page.object_list = with_running(page.object_list)
    offered = [] if query else list(noted_as_back()[: OFFERED + 1])
    context = {
        "section": "returns",
        "page_obj": page,
        "query": query,
        "offered": offered[:OFFERED],
        "more_offered": len(offered) > OFFERED,
    }
    return render(request, "builds/returns/list.html", context)


@require_safe
def return_choose(request: HttpRequest) -> HttpResponse:
    """The first step of a return: which engine, as which job left it?"""
    query = search_text(request)
    jobs = may_come_back()
    page = page_of(request, jobs.matching(query) if query else jobs)
    page.object_list = with_states(page.object_list)
    still_here = bool(query) and not page.object_list and Build.objects.matching(query).filter(
        kind=BuildKind.BUILD, went_out_on__isnull=True
    ).exists()  # fmt: skip
    context = {"section": "returns", "page_obj": page, "query": query, "still_here": still_here}
    return render(request, "builds/returns/choose.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def return_open(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The second step: when, what happened, and the number of the job that reads it as found."""
    job = get_job(job_pk)
    if request.method != "POST":
        try:
            refuse_return(job)
        except LookRefused as refused:
            messages.error(request, refused.sentence)
            return redirect(job)
    day = job.came_back_on or timezone.localdate()
    form = NewReturnForm(
        request.POST or None,
        job=job,
        person=get_me(request),
        initial={"came_back_on": day, "job_number": Build.next_number()},
    )
    if request.method == "POST" and (came := form.save_once()) is not None:
        messages.success(request, f"{job.engine} is back: job {came.build} reads it as found.")
        return redirect(came.build)
    sheet = sheet_it_left_with(job)
    left = f"It left with sealed sheet {sheet.number}." if sheet is not None else NOTHING_SEALED
    return form_page(
        request,
        form,
        heading="An engine came back",
        lead=f"{job.engine}, {job.engine.customer}, as job {job} left it. {left}",
        section="returns",
        word="Open its return",
        back=job.get_absolute_url(),
    )


def _return_job(pk: int) -> Build:
    job = get_job(pk)
    if not job.is_return:
        raise Http404(f"Job {job} reads no engine as found. Go to the returns and choose one.")
    return job


@require_safe
def return_facts(request: HttpRequest, job_pk: int) -> HttpResponse:
    """What this is: as found, of which job, from which sealed sheet on, and what it had run."""
    job = _return_job(job_pk)
    context = {"section": "returns", "job": job, "cells": job_cells(job), "facts": facts_of(job)}
    context["nothing_sealed"] = NOTHING_SEALED
    name = "_facts.html" if asked_by_htmx(request) else "facts.html"
    return render(request, f"builds/returns/{name}", context)


@require_http_methods(["GET", "HEAD", "POST"])
def return_edit(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Change what is written of a return."""
    job = _return_job(job_pk)
    form = ReturnForm(request.POST or None, instance=Return.objects.get(build=job))
    if request.method == "POST" and form.change():
        messages.success(request, f"The return of {job.engine} is saved.")
        return redirect(job)
    return form_page(
        request, form, heading=f"Return, job {job}", section="returns", back=job.get_absolute_url()
    )


@require_safe
def return_compare(request: HttpRequest, job_pk: int) -> HttpResponse:
    """As found beside as built; for htmx a section with what moved most."""
    job = _return_job(job_pk)
    lines = compare(job, get_me(request).length_unit)
    context = {"section": "returns", "job": job, "cells": job_cells(job), "all_of_them": len(lines)}
    context["out_now"] = sum(line.out_now for line in lines)
    if asked_by_htmx(request):
        context["lines"] = [line for line in by_moved(lines) if not line.lacks][:MOVED_MOST]
        return render(request, "builds/returns/_compared_panel.html", context)
    chosen = choose(request.GET, lines)
    context |= {"page_obj": page_of(request, chosen.lines), "chosen": chosen, "kept": chosen.kept}
    context["choices"] = choices_of(lines)
    context["facts"] = facts_of(job)
    return render(request, "builds/returns/compare.html", context)


@require_safe
def job_came_back(request: HttpRequest, job_pk: int) -> HttpResponse:
    """On the page of a job that is out: its return, or the way to open one."""
    job = get_job(job_pk)
    if not job.keeps_running:
        raise Http404(f"Job {job} has not gone out, so nothing came back.")
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "came": return_of(job)}
    name = "_came_back.html" if asked_by_htmx(request) else "came_back.html"
    return render(request, f"builds/returns/{name}", context)
