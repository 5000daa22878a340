"""What a guest sends from the track: how far the engine ran, and what lash was read."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from builds.access import get_job
from builds.forms.running import TrackRunForm
from builds.forms.told import ToldForm
from builds.models import Build, GuestLink
from builds.track import RUN_IDS, TOLD_IDS
from builds.views.guests import guest_link, guest_page


@login_not_required
@require_POST
@never_cache
def guest_run(request: HttpRequest) -> HttpResponse:
    """Write an entry of running, by the link; safe to send again."""
    link, job = _link_that_takes(request)
    form = TrackRunForm(request.POST, auto_id=RUN_IDS)
    entry = form.write(job, via=link, told_by=request.POST.get("told_by", "").strip() or link.name)
    if entry is None:
        return guest_page(request, link, job, run_form=form)
    messages.success(request, f"The shop has it: {entry} on {entry.ran_on:%d %b %Y}.")
    return redirect("guest-job")


@login_not_required
@require_POST
@never_cache
def guest_told(request: HttpRequest) -> HttpResponse:
    """Write down what a guest read at a valve, by the link; safe to send again."""
    link, job = _link_that_takes(request)
    form = ToldForm(request.POST, job=job, auto_id=TOLD_IDS)
    told = form.write(link)
    if told is None:
        return guest_page(request, link, job, told_form=form)
    messages.success(request, f"The shop has it: {told.position} {told.as_typed}.")
    return redirect("guest-job")


def _link_that_takes(request: HttpRequest) -> tuple[GuestLink, Build]:
    """The guest's link and its job; a link that only shows is refused."""
    link = guest_link(request)
    if not link.takes_running:
        raise PermissionDenied(
            "This link shows its job and takes nothing. Ask the shop for one that takes running from the track."
        )
    return link, get_job(link.build_id)
