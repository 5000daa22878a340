"""Trace a part: from one of its numbers to every engine that carries or carried it."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.forms.tracing import TraceForm
from builds.lists import page_of
from builds.models import Recall, TracedBy
from builds.tracing import ALL, matching, near, recalls_of, trace_lines


@require_safe
def part_trace(request: HttpRequest) -> HttpResponse:
    """The search, and every part that matches, a page at a time; near ones when none does."""
    form = TraceForm(request.GET if "q" in request.GET else None, initial={"by": ALL})
    context = {"section": "returns", "here": "part-trace", "form": form}
    if not form.is_valid() or not form.cleaned_data["q"]:
        return render(request, "builds/parts/trace.html", context, status=422 if form.errors else 200)
    by, value = form.cleaned_data["by"], form.cleaned_data["q"]
    page = page_of(request, matching(by, value))
    found = page.paginator.count
    recalls: list[Recall] = recalls_of(by, value) if found else []
    context |= {
        "by": by,
        "value": value,
        "word": "number" if by == ALL else TracedBy(by).label,
        "kept": urlencode({"by": by, "q": value}),
        "page_obj": page,
        "found": found,
        "lines": trace_lines(page.object_list),
        "near": [] if found else near(by, value),
        "recalls": recalls,
    }
    return render(request, "builds/parts/trace.html", context)
