"""The page of a print run, and the sheet when it is done."""

from uuid import UUID, uuid4

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from builds.access import get_print_run
from builds.views.answers import asked_by_htmx


@require_safe
@never_cache
def print_run(request: HttpRequest, run_id: UUID) -> HttpResponse:
    """How far a run is; for htmx the part that changes, until it has ended."""
    run = get_print_run(run_id)
    name = "_print_run.html" if asked_by_htmx(request) else "print_run.html"
    context = {"run": run, "fresh_id": uuid4(), "section": "jobs"}
    return render(request, f"builds/{name}", context)


@require_safe
def print_run_file(request: HttpRequest, run_id: UUID) -> HttpResponseBase:
    """The finished sheet."""
    run = get_print_run(run_id)
    if not run.is_done:
        raise Http404("This sheet is not printed yet.")
    return FileResponse(run.pdf.open("rb"), content_type="application/pdf", filename=run.file_name)
