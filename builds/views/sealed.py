"""Sealed sheets: the page of one, its PDF as it was issued, whether it is still what it was; and the same for a guest."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.text import slugify
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from builds.access import get_me, get_sealed
from builds.forms.signing import BeginForm
from builds.lists import page_of
from builds.models import SealedSheet
from builds.sealing.board import titled
from builds.sealing.sheet_page import sheet_page
from builds.sealing.verify import verify_sheet
from builds.sitting import sitting_of
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx


@require_safe
@never_cache
def sealed_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """A sealed sheet: who signed it, its digest, its revisions and what they changed. Its printed code leads here."""
    sheet = get_sealed(number)
    job = sheet.signing.build
    here = request.build_absolute_uri(reverse("sealed-sheet", args=[number]))
    page = sheet_page(sheet, here)
    rows = page_of(request, SealedSheet.objects.of_sheet(job, sheet.signing.kind, sheet.signing.subject))
    rows.object_list = titled(job, rows.object_list)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page": page,
        "sheet": sheet,
        "page_obj": rows,
        "begin": BeginForm(
            initial={
                "client_id": page.fresh_id,
                "unit": get_me(request).length_unit,
                "paper": sheet.signing.paper,
            },
            revises=True,
        ),
    }
    return render(request, "builds/signing/sealed.html", context)


@require_safe
@never_cache
def sealed_check(request: HttpRequest, number: int) -> HttpResponse:
    """Rehash one sheet, its signatures, and the readings and photos under it, and say what does not match."""
    sheet = get_sealed(number)
    faults = verify_sheet(sheet)
    context = {"section": "jobs", "sheet": sheet, "faults": faults, "at": timezone.now()}
    name = "_checked.html" if asked_by_htmx(request) else "checked.html"
    return render(request, f"builds/signing/{name}", context)


@require_safe
def sealed_pdf(request: HttpRequest, number: int) -> HttpResponse:
    """The PDF, byte for byte as it was issued, also when a revision took its place."""
    return _pdf(request, get_sealed(number))


@login_not_required
@require_safe
def guest_sheet(request: HttpRequest, number: int) -> HttpResponse:
    """The PDF of a sealed sheet of the guest's own job."""
    link = sitting_of(request).guest
    assert link is not None  # the table of rights let nobody else through
    sheet = SealedSheet.objects.for_list().filter(number=number, signing__build=link.build_id).first()
    if sheet is None:
        raise Http404("This link does not show that sheet.")
    return _pdf(request, sheet)


def _pdf(request: HttpRequest, sheet: SealedSheet) -> HttpResponse:
    etag = f'"{sheet.pdf_sha256[:40]}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        answer = HttpResponse(bytes(sheet.pdf), content_type="application/pdf")
        name = f"{slugify(sheet.signing.build.job_number) or 'job'}-{slugify(sheet.signing.kind)}-sheet-{sheet.number}"
        answer.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    answer.headers["ETag"] = etag
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
