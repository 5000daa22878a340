"""The lists to look through: shown to everybody, edited by an owner."""

from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_prompt, get_symptom
from builds.findings import ONLY_PROMPTS
from builds.forms.symptoms import OWN_SOURCE, NewPromptForm, NewSymptomForm, PromptForm, SymptomForm
from builds.lists import page_of
from builds.models import CausePrompt, Symptom
from builds.symptoms import move_prompt, move_symptom
from builds.views.answers import form_page

MOST_PLACES = 4


@require_safe
def symptom_list(request: HttpRequest) -> HttpResponse:
    """Every list with what it asks."""
    prompts = Prefetch("prompts", CausePrompt.objects.order_by("order", "pk"))
    context = {
        "section": "shop",
        "page_obj": page_of(request, Symptom.objects.prefetch_related(prompts)),
        "only_prompts": ONLY_PROMPTS,
    }
    return render(request, "builds/findings/symptoms.html", context)


@require_safe
def symptom_page(request: HttpRequest, pk: int) -> HttpResponse:
    """One list, with its order."""
    symptom = get_symptom(pk)
    context = {
        "section": "shop",
        "symptom": symptom,
        "prompts": list(symptom.prompts.order_by("order", "pk")),
        "only_prompts": ONLY_PROMPTS,
        "place": Symptom.objects.filter(order__lt=symptom.order).count() + 1,
    }
    return render(request, "builds/findings/symptom.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def symptom_new(request: HttpRequest) -> HttpResponse:
    """A new list."""
    form = NewSymptomForm(request.POST or None)
    if request.method == "POST" and (symptom := form.save_once()) is not None:
        messages.success(request, f"{symptom}: added. Now write down what to look at.")
        return redirect("symptom", symptom.pk)
    return _form(request, form, "New list to look through", reverse("symptom-list"), word="Add the list")


@require_http_methods(["GET", "HEAD", "POST"])
def symptom_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Rename a list, or put it out of use."""
    symptom = get_symptom(pk)
    heading = str(symptom).capitalize()
    form = SymptomForm(request.POST or None, instance=symptom)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{symptom}: saved.")
        return redirect("symptom", pk)
    return _form(request, form, heading, reverse("symptom", args=[pk]))


@require_POST
def symptom_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a list at a place among the lists; sent twice, it stays there."""
    move_symptom(get_symptom(pk), _place(request))
    return redirect(f"{reverse('symptom-list')}#symptom{pk}")


@require_http_methods(["GET", "HEAD", "POST"])
def prompt_new(request: HttpRequest, pk: int) -> HttpResponse:
    """One thing more to look at."""
    symptom = get_symptom(pk)
    form = NewPromptForm(
        request.POST or None, instance=CausePrompt(symptom=symptom), initial={"source": OWN_SOURCE}
    )
    if request.method == "POST" and form.save_once() is not None:
        messages.success(request, "Added at the end of the list.")
        return redirect("symptom", pk)
    return _form(
        request, form, f"Look at, when seen: {symptom}", reverse("symptom", args=[pk]), word="Add it"
    )


@require_http_methods(["GET", "HEAD", "POST"])
def prompt_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a prompt, or put it out of use."""
    prompt = get_prompt(pk)
    form = PromptForm(request.POST or None, instance=prompt)
    back = reverse("symptom", args=[prompt.symptom_id])
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect(back)
    return _form(request, form, f"Look at, when seen: {prompt.symptom}", back)


@require_POST
def prompt_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a prompt at a place in its list; sent twice, it stays there."""
    prompt = get_prompt(pk)
    move_prompt(prompt, _place(request))
    return redirect(f"{reverse('symptom', args=[prompt.symptom_id])}#prompt{pk}")


def _place(request: HttpRequest) -> int:
    """The place that was asked for, counted from one; what is no place is the first."""
    text = request.POST.get("place", "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= MOST_PLACES else 1


def _form(request: HttpRequest, form: Any, heading: str, back: str, word: str = "Save") -> HttpResponse:
    return form_page(request, form, heading=heading, section="shop", back=back, word=word)
