"""Findings of a job: the list, one of them, a new one, changed, taken back; what was looked at."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_finding, get_job, get_me, get_open_finding, get_open_job
from builds.findings import ONLY_PROMPTS, answer_prompt, findings, prompt_lines
from builds.forms.findings import FindingForm, TakeBackForm
from builds.found import with_times
from builds.lists import page_of
from builds.models import Build, Finding
from builds.places import pickers_of
from builds.positions import positions_of
from builds.recording import EntryRefused
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx, form_page

NEWEST = 6
LONGEST_ADDRESS = 40


def section_of(job: Build) -> str:
    """Where a finding's pages stand in the book."""
    return "returns" if job.is_return else "jobs"


def frame(job: Build) -> dict[str, Any]:
    """What every page of a finding is given."""
    return {"section": section_of(job), "job": job, "cells": job_cells(job), "only_prompts": ONLY_PROMPTS}


@require_safe
def finding_list(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every finding of a job; for htmx the newest few, as a section of the job's page."""
    job = get_job(job_pk)
    rows = findings(build=job).order_by("-pk")
    if asked_by_htmx(request):
        shown, count = list(rows[:NEWEST]), job.findings.count()
        return render(request, "builds/findings/_panel.html", {"job": job, "findings": shown, "count": count})
    return render(request, "builds/findings/list.html", {**frame(job), "page_obj": page_of(request, rows)})


@require_http_methods(["GET", "HEAD", "POST"])
def finding_new(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Write a finding down: what, where on the drawing, in which condition."""
    job = get_open_job(job_pk)
    initial = {"position": request.GET.get("at", "").replace("\0", "")[:LONGEST_ADDRESS]}
    form = FindingForm(request.POST or None, job=job, initial=initial)
    if request.method == "POST" and (finding := form.add_once(get_me(request))) is not None:
        messages.success(
            request, f"{finding}: written down. Photos, evidence and the list to look through come here."
        )
        return redirect(finding)
    return _form_page(request, job, form, heading=f"New finding, job {job}", word="Write it down")


@require_http_methods(["GET", "HEAD", "POST"])
def finding_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Say a finding otherwise."""
    finding = get_open_finding(pk)
    initial = (
        {"position": request.GET["at"].replace("\0", "")[:LONGEST_ADDRESS]} if "at" in request.GET else {}
    )
    form = FindingForm(request.POST or None, instance=finding, job=finding.build, initial=initial)
    if request.method == "POST" and (changed := form.change()) is not None:
        messages.success(request, f"{changed}: saved. What stood there before is under the job’s changes.")
        return redirect(changed)
    return _form_page(
        request, finding.build, form, heading=f"Finding: {finding}", word="Save", finding=finding
    )


def _form_page(
    request: HttpRequest,
    job: Build,
    form: FindingForm,
    *,
    heading: str,
    word: str,
    finding: Finding | None = None,
) -> HttpResponse:
    context = {
        **frame(job),
        "form": form,
        "heading": heading,
        "action_word": word,
        "finding": finding,
        "pickers": pickers_of(job),
        "current": form["position"].value() or "",
    }
    return render(request, "builds/findings/form.html", context, status=422 if form.errors else 200)


@require_safe
def finding_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One finding with all that belongs to it."""
    return _page(request, get_finding(pk))


def _page(
    request: HttpRequest, finding: Finding, *, refused: str = "", text: str = "", note: str = ""
) -> HttpResponse:
    evidence = list(finding.evidence.all())
    with_times([each.reading for each in evidence if each.reading is not None], finding.build)
    context = {
        **frame(finding.build),
        "finding": finding,
        "open": finding.build.takes_readings and not finding.withdrawn,
        "address": finding.position if finding.position in positions_of(finding.build) else "",
        "sides": [
            ("Speaks for it", [each for each in evidence if each.side == "for"]),
            ("Speaks against it", [each for each in evidence if each.side == "against"]),
        ],
        "lines": prompt_lines(finding),
        "refused": refused,
        "refused_text": text,
        "refused_note": note,
    }
    return render(request, "builds/findings/finding.html", context, status=422 if refused else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def finding_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a finding back, with the reason; it stays on the list."""
    finding = get_finding(pk)
    form = TakeBackForm(request.POST or None, instance=finding)
    if request.method == "POST" and form.take_back():
        messages.success(request, f"{finding}: taken back. It stays on the list, crossed out.")
        return redirect("finding-list", finding.build_id)
    return form_page(
        request,
        form,
        heading=f"Take back: {finding}",
        section=section_of(finding.build),
        back=finding.get_absolute_url(),
        lead="For what turned out to be no finding. What is only said badly, or has another cause, is changed instead.",
        word="Take it back",
    )


@require_POST
def finding_look(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what came of looking at one prompt; for htmx the list as it is then."""
    finding = get_finding(pk)
    text, note = (request.POST.get(name, "").replace("\0", "") for name in ("text", "note"))
    try:
        answer_prompt(finding, get_me(request), text=text, answer=request.POST.get("answer", ""), note=note)
    except EntryRefused as error:
        if not asked_by_htmx(request):
            return _page(request, finding, refused=error.sentence, text=text, note=note)
        context = {"refused": error.sentence, "refused_text": text, "refused_note": note}
        return _looks(request, get_finding(pk), **context)
    return (
        _looks(request, get_finding(pk))
        if asked_by_htmx(request)
        else redirect(f"{finding.get_absolute_url()}#look")
    )


def _looks(request: HttpRequest, finding: Finding, **more: str) -> HttpResponse:
    context = {
        "finding": finding,
        "open": finding.build.takes_readings and not finding.withdrawn,
        "lines": prompt_lines(finding),
        **more,
    }
    return render(request, "builds/findings/_looks.html", context)
