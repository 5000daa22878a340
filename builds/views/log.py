"""The set-up log of a job: its steps, and one step with every address in it."""

from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_job, get_me
from builds.forms.corrections import read_corrections
from builds.forms.entries import (
    read_client_id,
    read_corrected,
    read_instrument,
    read_struck,
    read_time,
    require_same_person,
)
from builds.models import Build, Instrument, Person
from builds.overview import overview_of
from builds.recording import Entry, EntryRefused, record, strike_out
from builds.steps import Step, get_step, neighbours, with_what_held
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx, refusal
from builds.worklog import WorkLog

LONGEST_SET_NUMBER = 4


def _step(key: str) -> Step:
    step = get_step(key)
    if step is None:
        raise Http404("There is no such step in the log.")
    return step


@require_safe
def log_overview(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every step with how far it is; for htmx as a section of the job's page."""
    job = get_job(job_pk)
    lines = overview_of(WorkLog(job, get_me(request).length_unit))
    context = {"job": job, "cells": job_cells(job), "lines": lines, "section": "jobs"}
    name = "_overview.html" if asked_by_htmx(request) else "overview.html"
    return render(request, f"builds/log/{name}", context)


@require_safe
def log_step(request: HttpRequest, job_pk: int, key: str) -> HttpResponse:
    """One step: a field for everything that is measured in it, saved when it is left."""
    job, step = get_job(job_pk), _step(key)
    log = WorkLog(job, get_me(request).length_unit)
    before, after = neighbours(step)
    typed = _typed_before(request, step)
    context = {
        "job": job,
        "state": log.state(step),
        "notes": log.notes(step),
        "judged_by": log.judged_by(step),
        "before": before,
        "after": after,
        "instruments": Instrument.objects.filter(in_use=True),
        "chosen": typed.get("instrument", ""),
        "corrections": [(each, typed.get(each.key, "")) for each in step.corrections],
        "section": "jobs",
    }
    return render(request, "builds/log/step.html", context)


@require_POST
def log_reading(request: HttpRequest, job_pk: int, key: str) -> HttpResponse:
    """Write one reading of a step; safe to send again."""
    job, step, person = get_job(job_pk), _step(key), get_me(request)
    log = WorkLog(job, person.length_unit)
    try:
        entry = _entry(request, job, step, person)
        entry = replace(entry, expected=log.known_of(entry.position, entry.characteristic))
        entry = with_what_held(job, entry)
        reading, new = record(job, person, entry, log.positions)
    except EntryRefused as error:
        return refusal(error)
    _remember(request, step)
    if new:
        log.take_in(reading)
    return _answer(request, log, step, reading.position)


def _typed_before(request: HttpRequest, step: Step) -> dict[str, str]:
    """What was chosen above the fields of a step when something was last saved in it."""
    kept: dict[str, dict[str, str]] = request.session.get("log", {})
    return kept.get(step.key, {})


def _remember(request: HttpRequest, step: Step) -> None:
    """Keep the instrument and the corrections for this step, in this log-in; written only when they change."""
    chosen = {"instrument": request.POST.get("instrument", "")}
    chosen |= {each.key: request.POST.get(each.key, "") for each in step.corrections}
    kept: dict[str, Any] = request.session.get("log", {})
    if kept.get(step.key) != chosen:
        request.session["log"] = {**kept, step.key: chosen}


def _entry(request: HttpRequest, job: Build, step: Step, person: Person) -> Entry:
    data = request.POST
    require_same_person(data, person)
    wanted = data.get("characteristic", "")
    if wanted not in {characteristic.key for characteristic in step.measured}:
        raise EntryRefused("characteristic", f"“{wanted[:40]}” is not measured in the step {step.name}.")
    context: dict[str, Any] = {"set": _set_number(data.get("set", ""))}
    corrections = read_corrections(data, step, wanted)
    if corrections:
        context["corrections"] = corrections
    return Entry(
        client_id=read_client_id(data),
        position=data.get("position", "").strip(),
        characteristic=wanted,
        text=data.get("value", ""),
        unit=data.get("unit", ""),
        instrument=read_instrument(data),
        how=data.get("how", ""),
        taken_at=read_time(data),
        device=data.get("device", ""),
        corrects=read_corrected(data, job),
        reason=data.get("reason", ""),
        note=data.get("note", ""),
        sure=data.get("sure") == "yes",
        context=context,
    )


def _set_number(text: str) -> int:
    """Which set of readings this belongs to: a new one is begun when work was done in between."""
    if text and not (text.isascii() and text.isdecimal() and len(text) <= LONGEST_SET_NUMBER):
        raise EntryRefused(
            "set", "This page is too old to save from. Load it again and type the value there."
        )
    return int(text or 0)


@require_POST
def log_strike(request: HttpRequest, job_pk: int, key: str) -> HttpResponse:
    """Take a reading of a step back, with a reason; safe to send again."""
    job, step, person = get_job(job_pk), _step(key), get_me(request)
    try:
        require_same_person(request.POST, person)
        reading = read_struck(request.POST, job)
        struck, _new = strike_out(
            job,
            person,
            client_id=read_client_id(request.POST),
            reading=reading,
            reason=request.POST.get("reason", ""),
        )
    except EntryRefused as error:
        return refusal(error)
    return _answer(request, WorkLog(job, person.length_unit), step, struck.position)


def _answer(request: HttpRequest, log: WorkLog, step: Step, position: str) -> HttpResponse:
    """The parts of the step that a write changes: its tally, its chips, and all verdicts at the address."""
    state = log.state(step)
    # A figure of the whole engine stands in every row's sums: then every row is told again.
    rows = state.rows if position == "engine" else [row for row in state.rows if row.position == position]
    return render(request, "builds/log/_answer.html", {"job": log.build, "state": state, "rows": rows})
