"""Jobs: the list, one job's file, a new job, and everything measured on it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_engine, get_job, get_me
from builds.checks import check_steps
from builds.forms.jobs import JobForm, NewJobForm
from builds.keeping import nights
from builds.lists import page_of, search_text
from builds.models import Build, Customer, Engine, with_states
from builds.panels import panels_of
from builds.reading_notes import with_notes
from builds.titleblock import job_cells
from builds.views.answers import form_page

RECENT_READINGS = 10
FEW_CUSTOMERS = 5


@require_safe
def job_list(request: HttpRequest) -> HttpResponse:
    """All jobs, newest first; searched by number, customer, engine, serial number and parts."""
    query = search_text(request)
    jobs = Build.objects.for_list().jobs()
    page = page_of(request, jobs.matching(query) if query else jobs)
    page.object_list = with_states(page.object_list)
    context = {"section": "jobs", "page_obj": page, "query": query, "troubles": nights.troubles}
    return render(request, "builds/job_list.html", context)


@require_safe
def job_new(request: HttpRequest) -> HttpResponse:
    """The first step of a new job: which engine?"""
    query = search_text(request)
    engines, customers = Engine.objects.for_list(), Customer.objects.for_list()
    context = {
        "section": "jobs",
        "query": query,
        "page_obj": page_of(request, engines.matching(query) if query else engines.order_by("-pk")),
        "customers": customers.matching(query)[:FEW_CUSTOMERS] if query else [],
    }
    return render(request, "builds/job_new.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def job_open(request: HttpRequest, pk: int) -> HttpResponse:
    """The second step: the job itself, on an engine that is known."""
    engine = get_engine(pk)
    form = NewJobForm(
        request.POST or None,
        instance=Build(engine=engine, opened_by=get_me(request)),
        initial={"job_number": Build.next_number()},
    )
    if request.method == "POST" and (job := form.save_once()) is not None:
        messages.success(request, f"Job {job} is open.")
        return redirect(job)
    lead = f"{engine}, {engine.customer}. The next free job number is filled in; write your own over it."
    return form_page(
        request,
        form,
        heading="New job",
        lead=lead,
        section="jobs",
        word="Open the job",
        back=engine.get_absolute_url(),
    )


@require_safe
def job_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One job's file."""
    job = get_job(pk)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page_of(request, job.parts.for_list()),
        "readings": with_notes(job.readings.for_list()[:RECENT_READINGS], get_me(request).length_unit),
        "panels": panels_of(job),
        "check_steps": check_steps,
    }
    return render(request, "builds/job_detail.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def job_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the job's own facts, and note when the engine went out and came back."""
    job = get_job(pk)
    form = JobForm(request.POST or None, instance=job, person=get_me(request))
    heading, back = f"Job {job.job_number}", job.get_absolute_url()
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Job {job} is saved.")
        return redirect(job)
    return form_page(request, form, heading=heading, section="jobs", back=back)


@require_safe
def job_readings(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything measured on this job, newest first, with what was corrected and why."""
    job = get_job(pk)
    page = page_of(request, job.readings.for_list())
    page.object_list = with_notes(page.object_list, get_me(request).length_unit)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "page_obj": page}
    return render(request, "builds/job_readings.html", context)
