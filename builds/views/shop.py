"""The shop: its letterhead and paper, and its limits."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_limit, get_me, get_usual_uncertainty
from builds.forms.shop import GuardBandForm, LimitForm, ShopForm, UsualUncertaintyForm
from builds.keeping import last, nights
from builds.lists import page_of
from builds.models import CheckRule, Limit, Shop, UsualUncertainty
from builds.sealing import checking
from builds.views.answers import form_page

# There is one row for each kind of tool or paper, and a kind is added by a change of the code.
MOST_KINDS = 50


@require_safe
def shop(request: HttpRequest) -> HttpResponse:
    """Letterhead, paper, limits, how well a tool is taken to be known, and the backups."""
    context = {
        "section": "shop",
        "page_obj": page_of(request, Limit.objects.filter(build__isnull=True)),
        "usual": UsualUncertainty.objects.all()[:MOST_KINDS],
        "rules": CheckRule.objects.all()[:MOST_KINDS],
        "backup": last.look(),
        "nightly": nights.look(),
        "seal_check": checking.look(),
    }
    return render(request, "builds/shop.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def shop_edit(request: HttpRequest) -> HttpResponse:
    """Change the letterhead, the paper, or the advice on running in."""
    form = ShopForm(request.POST or None, instance=Shop.get())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The letterhead is saved.")
        return redirect("shop")
    lead = "The letterhead stands at the head of every sheet, the advice on every build sheet."
    return form_page(
        request, form, heading="Letterhead, paper and advice", lead=lead, section="shop", back=reverse("shop")
    )


@require_http_methods(["GET", "HEAD", "POST"])
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


@require_http_methods(["GET", "HEAD", "POST"])
def guard_band_edit(request: HttpRequest) -> HttpResponse:
    """Turn the guard band on or off."""
    form = GuardBandForm(request.POST or None, instance=Shop.get())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The rule is saved. Verdicts of every open job follow it.")
        return redirect("shop")
    lead = (
        "Off: a value is plainly in or out. On: in only when it is inside its limit by its uncertainty U or more; "
        "undecided within U of the limit; out beyond. An undecided stand is not done."
    )
    return form_page(
        request, form, heading="In, undecided, out", lead=lead, section="shop", back=reverse("shop")
    )


@require_http_methods(["GET", "HEAD", "POST"])
def usual_uncertainty_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what a kind of tool is taken to be good to."""
    usual = get_usual_uncertainty(pk)
    form = UsualUncertaintyForm(request.POST or None, instance=usual, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Usual uncertainty of {usual} is saved.")
        return redirect("shop")
    lead = "It stands in wherever an instrument of this kind states no uncertainty of its own."
    heading = f"Usual uncertainty: {usual}"
    return form_page(request, form, heading=heading, lead=lead, section="shop", back=reverse("shop"))
