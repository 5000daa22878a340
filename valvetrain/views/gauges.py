"""Height gauges: instruments of the drawer that know what they were made for."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_me
from builds.lists import page_of
from builds.views.answers import asked_by_htmx
from valvetrain.access import get_gauge
from valvetrain.forms.rockers import GaugeForm, NewGaugeForm
from valvetrain.models import HeightGauge


@require_safe
def gauge_list(request: HttpRequest) -> HttpResponse:
    """The height gauges with their steps; for htmx the section of the drawer's page."""
    gauges = HeightGauge.objects.select_related("instrument").order_by(
        "-instrument__in_use", "instrument__mark"
    )
    context = {"section": "drawer", "page_obj": page_of(request, gauges)}
    name = "_panel.html" if asked_by_htmx(request) else "list.html"
    return render(request, f"valvetrain/gauges/{name}", context)


@require_http_methods(["GET", "HEAD", "POST"])
def gauge_new(request: HttpRequest) -> HttpResponse:
    """A height gauge that is new in the drawer."""
    form = NewGaugeForm(request.POST or None, unit=get_me(request).length_unit)
    if request.method == "POST" and (gauge := form.save_once()) is not None:
        messages.success(request, f"{gauge} is in the drawer.")
        return redirect("gauge-list")
    return _page(request, form, "New height gauge")


@require_http_methods(["GET", "HEAD", "POST"])
def gauge_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a height gauge. What it read follows: its readings are worked out again at the next look."""
    gauge = get_gauge(request, pk)
    heading = str(gauge)
    form = GaugeForm(request.POST or None, gauge=gauge, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{gauge} is saved.")
        return redirect("gauge-list")
    return _page(request, form, heading)


def _page(request: HttpRequest, form: GaugeForm | NewGaugeForm, heading: str) -> HttpResponse:
    wrong = form.errors or form.facts.errors
    context = {"section": "drawer", "form": form, "heading": heading}
    return render(request, "valvetrain/gauges/form.html", context, status=422 if wrong else 200)
