"""Answers that several views give: the page that carries one form, and the refusal of an entry."""

from django import forms
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from builds.recording import EntryQuestioned, EntryRefused


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


def refusal(error: EntryRefused) -> JsonResponse:
    """Say what was wrong with an entry; the tablet keeps what was typed."""
    return JsonResponse(
        {
            "field": error.field_name,
            "sentence": error.sentence,
            "offers": list(error.offers),
            "question": isinstance(error, EntryQuestioned),
        },
        status=422,
    )
