"""Answers to requests that cannot be served, in words."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


@login_not_required
def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page was open longer than its log-in, or came from elsewhere: say so, and what to do."""
    return render(request, "builds/stale_form.html", status=403)
