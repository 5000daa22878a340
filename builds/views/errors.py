"""Answers to requests that cannot be served, in words."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

FORBIDDEN = "This page is not open to you. Ask an owner of this book."


@login_not_required
def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page was open longer than its log-in, or came from elsewhere: say so, and what to do."""
    return render(request, "builds/stale_form.html", status=403)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """More was sent than a page holds, or something that no page of the book sends."""
    return HttpResponse(render_to_string("builds/400.html"), status=400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The person may not do this, or the job is closed: the reason stands on the page."""
    return render(request, "builds/403.html", {"sentence": str(exception) or FORBIDDEN}, status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """There is no such page or record."""
    return render(request, "builds/404.html", status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    """A fault of the book. The page asks nothing of the database, which may be what failed."""
    return HttpResponse(render_to_string("builds/500.html"), status=500)
