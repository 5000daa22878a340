"""The first visit to a new book, and the log-in page that leads there."""

from typing import Any

from django.contrib.auth import login
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from builds import first_owner
from builds.forms.first_owner import FirstOwnerForm
from builds.sitting import BACKEND


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def make_first_owner(request: HttpRequest) -> HttpResponse:
    """Make the owner's account, guarded by the code in the terminal. Gone once anybody has an account."""
    if first_owner.has_people():
        return redirect("login")
    if not first_owner.code.is_out:
        return render(request, "builds/first_owner.html", {"form": None}, status=503)
    form = FirstOwnerForm(request.POST or None, code=first_owner.code)
    if request.method == "POST" and form.is_valid():
        try:
            owner = first_owner.make_owner(
                username=form.cleaned_data["username"],
                name=form.cleaned_data["name"],
                password=form.cleaned_data["password"],
            )
        except first_owner.OwnerExists:
            return redirect("login")
        login(request, owner, backend=BACKEND)
        return redirect("job-list")
    return render(request, "builds/first_owner.html", {"form": form}, status=422 if form.errors else 200)


@method_decorator(login_not_required, name="dispatch")
class LogIn(auth_views.LoginView):
    """The log-in page. In a book without people it leads to the owner's first page."""

    template_name = "builds/login.html"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Look for people before asking somebody to log in."""
        if not first_owner.has_people():
            return redirect("first-owner")
        return super().dispatch(request, *args, **kwargs)
