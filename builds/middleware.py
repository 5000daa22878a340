"""What every answer needs, and what every request has to pass: the log-in behind it, and the table of rights."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.http import urlencode

from builds import rights
from builds.models import Person
from builds.rights import Right
from builds.sitting import GUEST_KEY, sitting_of
from builds.views.guests import ended

Answer = Callable[[HttpRequest], HttpResponse]

GUESTS_SEE_ONE_JOB = "Your link opens one job, and nothing else of this book. Go back to that job."


class BookMiddleware:
    """Marks answers that differ for htmx, and keeps job pages out of shared caches."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        patch_vary_headers(response, ["HX-Request"])
        if "Cache-Control" not in response.headers:
            response.headers["Cache-Control"] = "private, no-cache"
        return response


class RightsMiddleware:
    """Ends and locks log-ins, and asks the table of rights. What is not entered there is open to nobody."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sitting_of(request).settle()
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: list[Any], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        """Let a request through to its view, or say who may do that."""
        name = request.resolver_match.view_name if request.resolver_match else ""
        rule = rights.url_rules.get(name)
        if rule is None:
            raise PermissionDenied(rights.NO_ENTRY)
        right, sitting = rule.asks(request.method), sitting_of(request)
        sitting.touch(name)
        if right is Right.OPEN:
            return None
        if right is Right.GUEST:
            return None if sitting.guest else ended(request, sitting.guest_link)
        if not isinstance(request.user, Person):
            return _let_in(request)
        sentence = rights.why_not(right, request.user, by_pin=sitting.by_pin)
        return _refused(request, sentence) if sentence else None


def _let_in(request: HttpRequest) -> HttpResponse:
    """Nobody is logged in: to the lock of the bench, to the log-in page, or back to the one job of a guest."""
    if sitting_of(request).locked:
        if request.headers.get("HX-Request"):
            # What was sent waits on the tablet; its page shows the lock over itself.
            return HttpResponse(status=401, headers={"HX-Trigger": "bench-locked"})
        asked = request.get_full_path() if request.method == "GET" else "/"
        return redirect(f"{reverse('tablet-who')}?{urlencode({'next': asked})}")
    if request.session.get(GUEST_KEY):
        raise PermissionDenied(GUESTS_SEE_ONE_JOB)
    return redirect_to_login(request.get_full_path())


def _refused(request: HttpRequest, sentence: str) -> HttpResponse:
    """Say who may: to a person on a page, to what a tablet sends as the refusal that it knows how to show."""
    asks_plain = request.headers.get("HX-Request") or "application/json" in request.headers.get("Accept", "")
    if asks_plain and request.method != "GET":
        return JsonResponse({"field": "", "sentence": sentence, "offers": [], "question": False}, status=403)
    raise PermissionDenied(sentence)
