"""The sheets of a job and their signatures: what a sheet lacks, the one who measured, the one who checks."""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_job, get_me, get_sheet_line, get_signing
from builds.forms.signing import AcceptForm, BeginForm, SignForm
from builds.lists import page_of
from builds.models import Role, Shop
from builds.printing.runs import RunRefused
from builds.rights import Right, why_not
from builds.sealing import service
from builds.sealing.acceptance import accept_all
from builds.sealing.board import SheetLine, may_not_check, ready_list, sealed_of, sheet_lines, titled
from builds.sealing.drafts import start_draft
from builds.sealing.marks import strokes_drawing
from builds.sealing.rules import MEANINGS, SealRefused
from builds.secrets import SecretRefused, confirm
from builds.sitting import sitting_of
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx

MOST_DIFFERENCES = 60


@require_safe
@never_cache
def job_sheets(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Every sheet of a job with where it stands, and all that were sealed; for htmx as a section of the job's page."""
    job = get_job(job_pk)
    context: dict[str, Any] = {"section": "jobs", "job": job, "lines": sheet_lines(job)}
    if asked_by_htmx(request):
        return render(request, "builds/signing/_panel.html", context)
    page = page_of(request, sealed_of(job))
    page.object_list = titled(job, page.object_list)
    context |= {"cells": job_cells(job), "page_obj": page}
    return render(request, "builds/signing/sheets.html", context)


@require_safe
@never_cache
def sheet_ready(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """One sheet before it is sealed: what it lacks, and where the one who measured signs."""
    return _ready_page(request, get_sheet_line(job_pk, kind, subject))


@require_POST
def sheet_draft(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """Print the sheet as a draft: what is put up for signing, or else what it would show now."""
    line = get_sheet_line(job_pk, kind, subject)
    try:
        run = start_draft(line, get_me(request), _run_id(request))
    except RunRefused as refused:
        return _ready_page(request, line, sentences=[refused.sentence], status=409)
    return redirect("print-run", run.id)


@require_POST
def sheet_begin(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """Put a sheet up for signing, as it stands now."""
    line, me = get_sheet_line(job_pk, kind, subject), get_me(request)
    form = BeginForm(request.POST, revises=line.sealed is not None)
    if not form.is_valid():
        return _ready_page(request, line, begin=form, status=422)
    try:
        service.begin(
            line.build,
            me,
            kind=line.kind.key,
            subject=line.subject,
            begun_at=timezone.now(),
            **form.cleaned_data,
        )
    except SealRefused as refused:
        return _ready_page(request, line, begin=form, refused=refused, status=422)
    return redirect(f"{_address(line)}#sign")


@require_POST
def sheet_sign(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """The first signature."""
    line, me, form = get_sheet_line(job_pk, kind, subject), get_me(request), SignForm(request.POST)
    refused = None
    if form.is_valid():
        try:
            signing = get_signing(line, form.cleaned_data["signing"])
            confirm(request, me, form.cleaned_data["secret"])
            service.sign(signing, me, form.mark(timezone.now()))
        except SecretRefused as secret:
            form.add_error("secret", secret.sentence)
        except SealRefused as error:
            refused = error
        else:
            messages.success(
                request, f"{line.name}: signed as measured by {me}. Now somebody else checks it."
            )
            return redirect(_address(line))
    return _ready_page(request, get_sheet_line(job_pk, kind, subject), form=form, refused=refused, status=422)


@require_safe
@never_cache
def sheet_check(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """One sheet before the second signature: who signed it, and what changed since."""
    return _check_page(request, get_sheet_line(job_pk, kind, subject))


@require_POST
def sheet_seal(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """The second signature, and with it the sealed sheet."""
    line, me, form = get_sheet_line(job_pk, kind, subject), get_me(request), SignForm(request.POST)
    refused = None
    if form.is_valid():
        try:
            signing = get_signing(line, form.cleaned_data["signing"])
            confirm(request, me, form.cleaned_data["secret"])
            sheet = service.seal(
                signing, me, form.mark(timezone.now()),
                page=lambda number: request.build_absolute_uri(reverse("sealed-sheet", args=[number])),
            )  # fmt: skip
        except SecretRefused as secret:
            form.add_error("secret", secret.sentence)
        except SealRefused as error:
            refused = error
        else:
            messages.success(request, f"Sealed: {sheet}.")
            return redirect("sealed-sheet", sheet.number)
    return _check_page(request, get_sheet_line(job_pk, kind, subject), form=form, refused=refused, status=422)


@require_POST
def accept_out(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """Accept by name what is out of its limit, undecided or not read."""
    return _accept(request, get_sheet_line(job_pk, kind, subject), overdue=False)


@require_POST
def accept_overdue(request: HttpRequest, job_pk: int, kind: str, subject: str) -> HttpResponse:
    """Accept by name, as an owner, what was measured with a tool past its check."""
    return _accept(request, get_sheet_line(job_pk, kind, subject), overdue=True)


def _accept(request: HttpRequest, line: SheetLine, *, overdue: bool) -> HttpResponse:
    ready = ready_list(line)
    items = {each.mark: each.item for each in (ready.overdue if overdue else ready.out)}
    form = AcceptForm(request.POST, marks=list(items))
    if not form.is_valid():
        return _ready_page(request, line, sentences=form.sentences, accepting=form, status=422)
    given = form.cleaned_data
    chosen = {mark: items[mark] for mark in given["item"]}
    try:
        accept_all(
            line.build, get_me(request), chosen, client_id=given["client_id"], reason=given["reason"],
            accepted_at=timezone.now(), overdue=overdue,
        )  # fmt: skip
    except SealRefused as refused:
        return _ready_page(request, line, refused=refused, accepting=form, status=422)
    return redirect(f"{_address(line)}#ready")


def _ready_page(
    request: HttpRequest,
    line: SheetLine,
    *,
    begin: BeginForm | None = None,
    form: SignForm | None = None,
    accepting: AcceptForm | None = None,
    refused: SealRefused | None = None,
    sentences: list[str] | None = None,
    status: int = 200,
) -> HttpResponse:
    me = get_me(request)
    fresh = {"client_id": uuid4(), "unit": me.length_unit, "paper": Shop.get().paper}
    context = _context(request, line, form, Role.MEASURED, refused) | {
        "begin": begin or BeginForm(initial=fresh, revises=line.sealed is not None),
        "sentences": [*(sentences or []), *(begin.sentences if begin else [])],
        "fresh_id": uuid4(),
        "accept_id": uuid4(),
        "ticked": accepting.data.getlist("item") if accepting else [],  # type: ignore[attr-defined]
        "reason": accepting.data.get("reason", "") if accepting else "",
        "no_check_here": may_not_check(line, me, why_not(Right.CHECK, me)),
    }
    return render(request, "builds/signing/ready.html", context, status=status)


def _check_page(
    request: HttpRequest,
    line: SheetLine,
    *,
    form: SignForm | None = None,
    refused: SealRefused | None = None,
    status: int = 200,
) -> HttpResponse:
    me = get_me(request)
    context = _context(request, line, form, Role.CHECKED, refused) | {
        "fresh_id": uuid4(),
        "drawn": strokes_drawing(line.signature.strokes) if line.signature else "",
        "may_not": may_not_check(line, me, why_not(Right.CHECK, me)),
    }
    return render(request, "builds/signing/check.html", context, status=status)


def _context(
    request: HttpRequest, line: SheetLine, form: SignForm | None, role: Role, refused: SealRefused | None
) -> dict[str, Any]:
    signing, lost = line.signing, []
    if form and (signing is None or form.data.get("signing") != str(signing.pk)):
        lost, form = (
            form.sentences,
            None,
        )  # another is put up by now: what was typed does not belong to that one
    fresh = {
        "client_id": uuid4(),
        "signing": signing and signing.pk,
        "seen_digest": signing and signing.digest,
    }
    differences = refused.differences if refused and refused.differences else line.since.differences
    return {
        "section": "jobs",
        "job": line.build,
        "cells": job_cells(line.build),
        "line": line,
        "ready": ready_list(line),
        "form": form or SignForm(initial=fresh),
        "lost": lost,
        "meaning": MEANINGS[role],
        "refused": refused,
        "differences": differences[:MOST_DIFFERENCES],
        "more_differences": max(len(differences) - MOST_DIFFERENCES, 0),
        "takes_pins": sitting_of(request).takes_pins and bool(get_me(request).pin),
    }


def _address(line: SheetLine) -> str:
    return reverse("sheet-ready", args=[line.build.pk, line.kind.key, line.place])


def _run_id(request: HttpRequest) -> UUID:
    """The id that the page gave to this printing; a fresh one where it came without."""
    try:
        return UUID(request.POST.get("id", ""))
    except ValueError:
        return uuid4()
