"""The page of the person at the keyboard."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from builds.access import get_me, get_person
from builds.forms.people import MeForm, OwnPasswordForm, PinForm
from builds.views.answers import form_page


@require_http_methods(["GET", "HEAD", "POST"])
def me(request: HttpRequest) -> HttpResponse:
    """The unit in which lengths are read and typed, and the way to password and PIN."""
    form = MeForm(request.POST or None, instance=get_person(get_me(request).pk))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Your page is saved.")
        return redirect("me")
    return render(
        request,
        "builds/me.html",
        {"section": "me", "form": form, "back": reverse("job-list")},
        status=422 if form.errors else 200,
    )


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def password(request: HttpRequest) -> HttpResponse:
    """A new password of one's own."""
    form = OwnPasswordForm(get_me(request), request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        update_session_auth_hash(request, form.user)
        messages.success(request, "Your new password holds from now on.")
        return redirect("me")
    return form_page(request, form, heading="New password", section="me", back=reverse("me"))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def pin(request: HttpRequest) -> HttpResponse:
    """A PIN of one's own, for changing places at the bench."""
    form = PinForm(request.POST or None, request=request, person=get_me(request))
    if request.method == "POST" and form.is_valid():
        form.save()
        kept = bool(form.cleaned_data["pin"])
        messages.success(request, "Your PIN holds from now on." if kept else "You have no PIN any more.")
        return redirect("me")
    lead = (
        "On a tablet of the bench the PIN does what your password does, once a password opened it that day."
    )
    return form_page(request, form, heading="PIN for the bench", lead=lead, section="me", back=reverse("me"))
