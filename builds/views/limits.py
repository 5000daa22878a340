"""The limits of a job: what is in force and whose it is; the job's own set and cleared."""

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_job, get_me, get_open_job
from builds.forms.limits import JobLimitForm
from builds.limits import LimitBook, Topic, line_of, lines, topic_of
from builds.lists import page_of
from builds.models import Build, Limit
from builds.titleblock import job_cells
from builds.views.answers import form_page


@require_safe
def job_limits(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every limit that something on this job is judged by, with what holds and where it comes from."""
    job = get_job(job_pk)
    found = lines(LimitBook(job), get_me(request).length_unit)
    context = {"section": "jobs", "job": job, "cells": job_cells(job), "page_obj": page_of(request, found)}
    return render(request, "builds/log/limits.html", context)


def _topic(book: LimitBook, key: str) -> Topic:
    topic = topic_of(book, key)
    if topic is None:
        raise Http404("Nothing is judged by such a limit.")
    return topic


@require_http_methods(["GET", "HEAD", "POST"])
def job_limit(request: HttpRequest, job_pk: int, key: str) -> HttpResponse:
    """Set one limit for this job alone. It comes before the job's papers and the shop's setting."""
    job, unit = get_open_job(job_pk), get_me(request).length_unit
    book = LimitBook(job)
    topic = _topic(book, key)
    own = book.job_rows.get(key) or Limit(build=job, key=key, name=topic.name, unit_kind=topic.unit_kind)
    form = JobLimitForm(request.POST or None, instance=own, unit=unit)
    if request.method == "POST" and form.is_valid():
        _save(form, job, key)
        messages.success(
            request, f"{topic.name.capitalize()}: this job’s own limit is set. Its verdicts follow."
        )
        return redirect("job-limits", job.pk)
    return form_page(
        request,
        form,
        heading=f"Limit of {topic.name}, job {job}",
        section="jobs",
        back=reverse("job-limits", args=[job.pk]),
        lead=line_of(book, topic, unit).words,
        word="Set it for this job",
    )


def _save(form: JobLimitForm, job: Build, key: str) -> None:
    """Write the limit; when somebody else set it at this very moment, theirs takes these figures."""
    try:
        with transaction.atomic():
            form.save()
    except IntegrityError:
        kept = {name: form.cleaned_data[name] for name in ("low", "high", "source")}
        Limit.objects.filter(build=job, key=key).update(**kept)


@require_POST
def job_limit_clear(request: HttpRequest, job_pk: int, key: str) -> HttpResponse:
    """Take this job's own limit away: its papers, or the shop's setting, hold again."""
    job = get_open_job(job_pk)
    topic = _topic(LimitBook(job), key)
    Limit.objects.filter(build=job, key=key).delete()
    messages.success(request, f"{topic.name.capitalize()}: this job’s own limit is cleared.")
    return redirect("job-limits", job.pk)
