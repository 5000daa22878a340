"""The drawer: measuring tools, and whatever other floors keep in it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_instrument, get_me
from builds.forms.shop import InstrumentForm, NewInstrumentForm
from builds.lists import page_of
from builds.models import Instrument
from builds.panels import drawer_panels
from builds.views.answers import form_page


@require_safe
def drawer(request: HttpRequest) -> HttpResponse:
    """Every instrument, those in use first, with when it was last checked and is due."""
    page = page_of(request, Instrument.objects.order_by("-in_use", "mark"))
    context = {"section": "drawer", "page_obj": page, "panels": drawer_panels}
    return render(request, "builds/drawer.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def instrument_new(request: HttpRequest) -> HttpResponse:
    """A new instrument."""
    form = NewInstrumentForm(request.POST or None, unit=get_me(request).length_unit)
    if request.method == "POST" and (instrument := form.save_once()) is not None:
        messages.success(request, f"{instrument} is in the drawer.")
        return redirect("drawer")
    return form_page(
        request, form, heading="New instrument", section="drawer", word="Add it", back=reverse("drawer")
    )


@require_http_methods(["GET", "HEAD", "POST"])
def instrument_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an instrument, or note that it was checked. It is taken out of use, never deleted."""
    instrument = get_instrument(pk)
    heading = str(instrument)
    form = InstrumentForm(request.POST or None, instance=instrument, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{instrument} is saved.")
        return redirect("drawer")
    return form_page(request, form, heading=heading, section="drawer", back=reverse("drawer"))
