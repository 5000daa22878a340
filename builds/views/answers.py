"""The page that carries one form."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def asked_by_htmx(request: HttpRequest) -> bool:
    """Whether htmx asks, for a part of a page: it gets the part, a browser by itself the whole page."""
    return bool(getattr(request, "htmx", False))


def form_page(
    request: HttpRequest,
    form: forms.BaseForm,
    *,
    heading: str,
    section: str,
    back: str,
    lead: str = "",
    word: str = "Save",
) -> HttpResponse:
    """A page with one form; status 422 when what was typed is refused."""
    context = {
        "form": form,
        "heading": heading,
        "section": section,
        "back": back,
        "lead": lead,
        "action_word": word,
    }
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)
