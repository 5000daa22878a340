"""Links for customers, and the one page that a guest sees."""

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_job, get_me, get_photo
from builds.forms.guests import GuestLinkForm
from builds.forms.running import TrackRunForm
from builds.forms.told import ToldForm
from builds.guests import link_of, note_look, panels_for
from builds.lists import page_of
from builds.models import Build, GuestLink, Photo
from builds.photos.renditions import ORIGINAL
from builds.sitting import GUEST_KEY, LASTS_SECONDS, sitting_of
from builds.titleblock import guest_cells, job_cells
from builds.track import track_of
from builds.views.answers import form_page
from builds.views.photos import photo_file

FRESH_KEY = "fresh_link"
MOST_PHOTOS = 60


@require_safe
@never_cache
def job_links(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The links to a job: for whom, by whom, until when, last used. The address of a new one is shown once."""
    job = get_job(job_pk)
    fresh = request.session.pop(FRESH_KEY, None)
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page_of(request, job.guest_links.select_related("made_by", "revoked_by")),
        "fresh": fresh["address"] if fresh and fresh["job"] == job.pk else "",
    }
    return render(request, "builds/guests/links.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def job_link_new(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Make a link to a job."""
    job = get_job(job_pk)
    if job.is_check:
        raise PermissionDenied(f"{job} is a check of job {job.follows}. Make a link to that job instead.")
    form = GuestLinkForm(request.POST or None, instance=GuestLink(build=job, made_by=get_me(request)))
    if request.method == "POST" and (link := form.save_once()) is not None:
        if form.token:
            address = request.build_absolute_uri(reverse("guest-enter", args=[form.token]))
            request.session[FRESH_KEY] = {"job": job.pk, "address": address}
        messages.success(request, f"The {link} is made.")
        return redirect("job-links", job.pk)
    return form_page(
        request,
        form,
        heading=f"Link to job {job}",
        section="jobs",
        word="Make the link",
        back=reverse("job-links", args=[job.pk]),
        lead="Whoever has the link sees this one job: engine, state, parts, and the sheets that are sealed.",
    )


@require_POST
def job_link_revoke(request: HttpRequest, job_pk: int, pk: int) -> HttpResponse:
    """Close a link before its day; closed twice is closed once."""
    link = get_object_or_404(GuestLink, build=job_pk, pk=pk)
    link.revoke(get_me(request))
    messages.success(request, f"The {link} opens nothing any more.")
    return redirect("job-links", job_pk)


def ended(request: HttpRequest, link: GuestLink | None) -> HttpResponse:
    """Say why a link opens nothing: it is over, revoked, or none of this book's."""
    sentence = link.ended_sentence if link else ""
    return render(request, "builds/guests/ended.html", {"sentence": sentence}, status=410 if link else 404)


@login_not_required
@require_safe
@never_cache
def guest_enter(request: HttpRequest, token: str) -> HttpResponse:
    """Open a link: this browser sees its job from now on, and the token leaves the address line."""
    link = link_of(token)
    if link is None or not link.is_live:
        return ended(request, link)
    if not request.user.is_authenticated:
        request.session.cycle_key()
        request.session.set_expiry(LASTS_SECONDS)
    request.session[GUEST_KEY] = link.pk
    return redirect("guest-job")


@login_not_required
@require_safe
@never_cache
def guest_job(request: HttpRequest) -> HttpResponse:
    """The job as its customer sees it: nothing that is not settled; and what they may tell from the track."""
    link = guest_link(request)
    note_look(link)
    return guest_page(request, link, get_job(link.build_id))


def guest_page(
    request: HttpRequest,
    link: GuestLink,
    job: Build,
    *,
    run_form: TrackRunForm | None = None,
    told_form: ToldForm | None = None,
) -> HttpResponse:
    """The page that a guest sees; with a form that was refused, where one was."""
    shown = Photo.objects.filter(build=job).for_list().filed()
    context = {
        "link": link,
        "job": job,
        "cells": guest_cells(job),
        "page_obj": page_of(request, job.parts.all()),
        "photos": shown[:MOST_PHOTOS] if link.shows_photos else [],
        "panels": panels_for(job),
    }
    if link.takes_running and job.keeps_running:
        context["track"] = track_of(job, link, run_form, told_form)
    refused = bool((run_form and run_form.errors) or (told_form and told_form.errors))
    answer = render(request, "builds/guests/job.html", context, status=422 if refused else 200)
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    return answer


@login_not_required
@require_safe
def guest_photo(request: HttpRequest, client_id: UUID, size: str) -> HttpResponse:
    """A photo of the guest's own job, where the link shows photos."""
    link = guest_link(request)
    photo = get_photo(client_id)
    if photo.build_id != link.build_id or not link.shows_photos or photo.set_aside or size == ORIGINAL:
        raise Http404("This link does not show that photo.")
    return photo_file(request, str(client_id), size)


def guest_link(request: HttpRequest) -> GuestLink:
    """The link by which a guest came."""
    link = sitting_of(request).guest
    assert link is not None  # the table of rights let nobody else through
    return link
