"""The bench's enrolled tablets: the list, enrolling and revoking, who is at the bench, and its lock."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_me
from builds.forms.tablets import EnrolForm, WhoForm
from builds.lists import page_of
from builds.models import EnrolledTablet
from builds.sitting import sitting_of
from builds.tablets import give_cookie
from builds.views.answers import form_page

NOT_ENROLLED = (
    "People change places by PIN on a tablet of the bench alone, and this browser is none. Log in with your password; "
    "an owner makes a tablet one of the bench’s, under People."
)


@require_safe
def tablet_list(request: HttpRequest) -> HttpResponse:
    """Every tablet that was enrolled, and whether this browser is one."""
    page = page_of(request, EnrolledTablet.objects.select_related("enrolled_by", "revoked_by"))
    context = {"section": "shop", "page_obj": page, "here": sitting_of(request).tablet}
    return render(request, "builds/tablets/list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def tablet_enrol(request: HttpRequest) -> HttpResponse:
    """Enrol the tablet that the owner holds in their hands: this very browser."""
    sitting = sitting_of(request)
    if sitting.tablet is not None:
        messages.success(request, f"This browser is enrolled already, as {sitting.tablet}.")
        return redirect("tablet-list")
    form = EnrolForm(request.POST or None, instance=EnrolledTablet(enrolled_by=get_me(request)))
    if request.method == "POST" and (tablet := form.save_once()) is not None:
        answer = redirect("tablet-list")
        if form.secret:
            give_cookie(answer, form.secret)
            sitting.bind(tablet)
            messages.success(
                request, f"This browser is {tablet} from now on. It locks after two idle minutes."
            )
        return answer
    return form_page(
        request,
        form,
        heading="Enrol this tablet",
        section="shop",
        word="Enrol this tablet",
        back=reverse("tablet-list"),
        lead="Do it on the tablet itself. Whoever works at it changes places by PIN, once a password opened it that day.",
    )


@require_POST
def tablet_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a tablet off the list: it asks for a password, and no PIN works there."""
    tablet, sitting = get_object_or_404(EnrolledTablet, pk=pk), sitting_of(request)
    if sitting.tablet == tablet:
        sitting.unbind()
    tablet.revoke(get_me(request))
    messages.success(
        request, f"{tablet} is no tablet of the bench any more. Whoever was on it is logged out."
    )
    return redirect("tablet-list")


@login_not_required
@never_cache
@sensitive_post_parameters("pin", "password")
@require_http_methods(["GET", "HEAD", "POST"])
def tablet_who(request: HttpRequest) -> HttpResponse:
    """Who is at the bench: the lock of the bench, and the place where people change."""
    sitting = sitting_of(request)
    if sitting.tablet is None:
        raise PermissionDenied(NOT_ENROLLED)
    if request.method != "POST" and not sitting.takes_pins:
        return redirect_to_login(request.GET.get("next", "/"))
    here = sitting.locked or request.user
    start = {"person": here.pk, "next": request.GET.get("next", "/")}
    form = WhoForm(request.POST or None, initial=start, request=request)
    plain = "application/json" in request.headers.get("Accept", "")
    if request.method == "POST" and form.is_valid():
        person = form.cleaned_data["person"]
        sitting.unlock(person, by_pin=form.by_pin)
        return JsonResponse({"person": person.pk}) if plain else redirect(form.onward)
    if plain and form.errors:
        field, sentences = next(iter(form.errors.items()))
        return JsonResponse({"field": field, "sentence": sentences[0]}, status=422)
    context = {"form": form, "locked": sitting.locked, "section": "who"}
    return render(request, "builds/tablets/who.html", context, status=422 if form.errors else 200)


@require_POST
def tablet_lock(request: HttpRequest) -> HttpResponse:
    """Lock the bench now."""
    if sitting_of(request).tablet is None:
        raise PermissionDenied(NOT_ENROLLED)
    sitting_of(request).lock()
    return HttpResponse(status=204) if request.headers.get("HX-Request") else redirect("tablet-who")


@require_POST
def tablet_touch(request: HttpRequest) -> HttpResponse:
    """Somebody's hand is on the tablet. That a request came is noted for all of them alike."""
    return HttpResponse(status=204)
