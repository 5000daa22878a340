"""One engine's whole life on one page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from builds.access import get_engine
from builds.life_line import life_line
from builds.lists import page_of
from builds.timeline import jobs_of, moments_of, stretches, told


@require_safe
def engine_timeline(request: HttpRequest, pk: int) -> HttpResponse:
    """Builds, seals, running, checks, returns, findings and parts of one engine, newest or oldest first."""
    engine = get_engine(pk)
    oldest_first = request.GET.get("order") == "oldest"
    moments, jobs = moments_of(engine), jobs_of(engine)
    lines = stretches(moments)
    page = page_of(request, lines if oldest_first else lines[::-1])
    context = {
        "section": "customers",
        "engine": engine,
        "page_obj": page,
        "events": told(list(page.object_list), jobs),
        "line": life_line(moments, jobs, timezone.localdate()),
        "oldest_first": oldest_first,
        "kept": "order=oldest" if oldest_first else "",
    }
    return render(request, "builds/findings/timeline.html", context)
