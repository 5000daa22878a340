"""The running record of a job: what was told, what came of it, and what was wrong in it."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from builds.access import get_job, get_me, get_run_entry
from builds.checks import check_lines, checks_of
from builds.forms.running import RunCorrectionForm, RunForm, RunStrikeForm
from builds.lists import page_of
from builds.panels import running_pages_of
from builds.run_lines import first_choices, full_record, run_lines
from builds.running import words
from builds.titleblock import job_cells
from builds.told import waiting_of
from builds.views.answers import asked_by_htmx, form_page

NEWEST = 5


@require_http_methods(["GET", "HEAD", "POST"])
def job_running(request: HttpRequest, job_pk: int) -> HttpResponse:
    """How far an engine ran since it went out, and a new entry; for htmx as a section of the job's page."""
    job = get_job(job_pk)
    if job.follows_id is not None and request.method != "POST":
        return redirect("job-running", job.follows_id)
    record = full_record(job)
    form = RunForm(request.POST if request.method == "POST" else None, initial=first_choices(job, record))
    if request.method == "POST" and (entry := form.write(job, person=get_me(request))) is not None:
        messages.success(request, f"Written down: {entry} on {entry.ran_on:%d %b %Y}.")
        return redirect("job-running", job.pk)
    waiting, checks = waiting_of(job), checks_of(job)
    context = {
        "section": "jobs",
        "job": job,
        "ran": words(record.totals),
        "last": record.lines[-1].entry if record.lines else None,
        "waiting": waiting[:NEWEST],
        "waiting_count": waiting.count(),
        "checks": check_lines(checks[:NEWEST], record),
        "check_count": checks.count(),
    }
    if asked_by_htmx(request):
        return render(request, "builds/running/_panel.html", context)
    context |= {"cells": job_cells(job), "form": form, "page_obj": page_of(request, run_lines(record))}
    context["leads_to"] = running_pages_of(job)
    return render(request, "builds/running/page.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def run_correct(request: HttpRequest, job_pk: int, client_id: UUID) -> HttpResponse:
    """Correct an entry: the old one stays in the list, crossed out, with the reason."""
    job = get_job(job_pk)
    old = get_run_entry(job, client_id)
    form = RunCorrectionForm(request.POST or None, initial=RunCorrectionForm.first(old))
    if request.method == "POST" and form.write(job, person=get_me(request), corrects=old) is not None:
        messages.success(
            request, f"The entry of {old.ran_on:%d %b %Y} is corrected. The old one stays, crossed out."
        )
        return redirect("job-running", job.pk)
    return form_page(
        request,
        form,
        heading=f"Correct the entry of {old.ran_on:%d %b %Y}, job {job}",
        section="jobs",
        word="Write the correction",
        back=reverse("job-running", args=[job.pk]),
        lead=f"It says {old}, {old.get_stated_as_display()}. Change what was wrong, and say why.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
def run_strike(request: HttpRequest, job_pk: int, client_id: UUID) -> HttpResponse:
    """Take an entry back: it stays in the list, crossed out, with the reason."""
    job = get_job(job_pk)
    old = get_run_entry(job, client_id)
    form = RunStrikeForm(request.POST or None)
    if request.method == "POST" and form.write(job, old, get_me(request)) is not None:
        messages.success(request, f"The entry of {old.ran_on:%d %b %Y} is struck out, and stays in the list.")
        return redirect("job-running", job.pk)
    return form_page(
        request,
        form,
        heading=f"Strike out the entry of {old.ran_on:%d %b %Y}, job {job}",
        section="jobs",
        word="Strike it out",
        back=reverse("job-running", args=[job.pk]),
        lead=f"It says {old}, {old.get_stated_as_display()}. Nothing of it counts any more; it stays in the list.",
    )
