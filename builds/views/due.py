"""What is due on the engines that are out."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_me
from builds.due import due_engines
from builds.lists import page_of
from builds.views.answers import asked_by_htmx


@require_safe
def due_list(request: HttpRequest) -> HttpResponse:
    """Engines on which something is due, the most overdue first; for htmx how many they are, in a line."""
    engines = due_engines(get_me(request).length_unit)
    if asked_by_htmx(request):
        return render(request, "builds/returns/_due_count.html", {"count": len(engines)})
    context = {"section": "returns", "page_obj": page_of(request, engines)}
    return render(request, "builds/returns/due.html", context)
