"""How long parts last: every kind with what became of it, and one kind as a curve with the numbers behind it."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.forms.survival import SurvivalForm
from builds.lists import page_of
from builds.panels import survival_pictures
from builds.survival import kinds, of_kind


@require_safe
def part_survival(request: HttpRequest) -> HttpResponse:
    """The kinds of parts; of the one that is asked for, how long it lasted."""
    form = SurvivalForm(request.GET if "role" in request.GET else None)
    context = {"section": "returns", "here": "part-survival", "form": form}
    if form.is_valid():
        asked = form.cleaned_data
        counted = of_kind(asked["role"], asked["maker_number"], asked["unit"])
        context |= {
            "asked": asked,
            "query": urlencode(asked),
            "counted": counted,
            "found": counted.survival,
            "pictures": survival_pictures,
        }
    else:
        context["page_obj"] = page_of(request, kinds())
    return render(request, "builds/parts/survival.html", context, status=422 if form.errors else 200)
