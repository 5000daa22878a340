"""The curve of how long parts last, as a picture."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from builds.forms.survival import SurvivalForm
from builds.survival import of_kind
from valvetrain.charts.style import words_drawing
from valvetrain.charts.survival import survival_chart


@require_safe
def survival_picture(request: HttpRequest) -> HttpResponse:
    """The curve for a kind of part, a maker's number and a unit; or words where there is nothing to draw."""
    form = SurvivalForm(request.GET)
    if not form.is_valid():
        sentence = next(iter(form.errors.values()))[0]
        return _svg(words_drawing(f"Not drawn. {sentence}").svg, status=422)
    asked = form.cleaned_data
    found = of_kind(asked["role"], asked["maker_number"], asked["unit"]).survival
    if not found.is_drawn:
        words = f"Not drawn: {found.units} units, {found.failures} failed. It takes two failures."
        return _svg(words_drawing(words).svg)
    what = f"{asked['role']} {asked['maker_number']}".strip()
    return _svg(survival_chart(found, what).svg)


def _svg(text: str, status: int = 200) -> HttpResponse:
    return HttpResponse(text, content_type="image/svg+xml", status=status)
