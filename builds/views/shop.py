"""The shop: its letterhead and paper, and its limits."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_limit, get_me, owner_only
from builds.forms.shop import LimitForm, ShopForm
from builds.lists import page_of
from builds.models import Limit, Shop
from builds.views.answers import form_page


@require_safe
def shop(request: HttpRequest) -> HttpResponse:
    """Letterhead, paper and limits."""
    return render(
        request,
        "builds/shop.html",
        {"section": "shop", "page_obj": page_of(request, Limit.objects.filter(build__isnull=True))},
    )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def shop_edit(request: HttpRequest) -> HttpResponse:
    """Change the letterhead or the paper."""
    form = ShopForm(request.POST or None, instance=Shop.get())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The letterhead is saved.")
        return redirect("shop")
    lead = "This stands at the head of every sheet."
    return form_page(
        request, form, heading="Letterhead and paper", lead=lead, section="shop", back=reverse("shop")
    )


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def limit_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a limit, with where it comes from."""
    limit = get_limit(pk)
    form = LimitForm(request.POST or None, instance=limit, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Limit of {limit} is saved. Verdicts of every open job follow it.")
        return redirect("shop")
    lead = "Every verdict of the shop follows this. The source is printed beside it."
    heading = f"Limit: {limit.name}"
    return form_page(request, form, heading=heading, lead=lead, section="shop", back=reverse("shop"))
