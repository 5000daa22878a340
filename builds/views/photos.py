"""Photos of a job: all of them, one of them, their files, and how they come in."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header, urlencode
from django.utils.text import slugify
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_job, get_me, get_photo
from builds.forms.photos import FilingForm, read_photo
from builds.lists import page_of
from builds.models import MediaType, Photo, PhotoFiling, PhotoKind
from builds.models.photos import PhotoQuerySet
from builds.photos.acts import acts_of, acts_of_job
from builds.photos.intake import take_in
from builds.photos.parts import Unfit
from builds.photos.renditions import ORIGINAL, SIZES, open_rendition
from builds.photos.storage import ENDINGS
from builds.reading_notes import with_notes
from builds.recording import EntryRefused
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx, refusal

NEWEST = 6
READINGS_SHOWN = 20
A_YEAR = 365 * 24 * 3600


@require_safe
def job_photos(request: HttpRequest, job_pk: int) -> HttpResponse:
    """All photos of a job, by address and kind; for htmx as a section of the job's page, or the pictures alone."""
    job = get_job(job_pk)
    mine = Photo.objects.filter(build=job)
    if asked_by_htmx(request) and request.htmx.target != "photo-grid":  # type: ignore[attr-defined]
        shown = mine.for_list().filed()
        return render(
            request,
            "builds/photos/_panel.html",
            {"job": job, "photos": shown[:NEWEST], "count": shown.count()},
        )
    at, kind = request.GET.get("at", "")[:40], request.GET.get("kind", "")
    aside = request.GET.get("aside") == "yes"
    kind = kind if kind in PhotoKind.values else ""
    photos = mine.for_list().filed(
        position=None if not at else "" if at == "none" else at, kind=kind, set_aside=aside
    )
    chosen = {"at": at, "kind": kind, "aside": "yes" if aside else ""}
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "page_obj": page_of(request, photos),
        "addresses": _addresses(mine),
        "kinds": PhotoKind.choices,
        "chosen": chosen,
        "kept": urlencode({name: value for name, value in chosen.items() if value}),
        "aside_count": mine.filed(set_aside=True).count(),
        "acts": acts_of_job(job),
    }
    name = "_grid.html" if asked_by_htmx(request) else "list.html"
    return render(request, f"builds/photos/{name}", context)


def _addresses(photos: PhotoQuerySet) -> list[str]:
    """The addresses at which photos of a job were ever filed."""
    filings = PhotoFiling.objects.filter(photo__in=photos).exclude(position="").order_by("position")
    return list(filings.values_list("position", flat=True).distinct())


@require_POST
def photo_upload(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Take one photo in; safe to send again."""
    job, person = get_job(job_pk), get_me(request)
    try:
        photo, new = take_in(job, person, read_photo(request, person))
    except EntryRefused as error:
        return refusal(error)
    return JsonResponse(
        {
            "client_id": str(photo.client_id),
            "name": photo.name,
            "new": new,
            "page": photo.get_absolute_url(),
            "thumb": reverse("photo-file", args=[photo.client_id, "thumb"]),
        }
    )


@require_safe
def photo(request: HttpRequest, client_id: str) -> HttpResponse:
    """One photo, where it is filed, and what may be done with it."""
    found = get_photo(client_id)
    return _photo_page(request, found, FilingForm(photo=found))


@require_POST
def photo_refile(request: HttpRequest, client_id: str) -> HttpResponse:
    """File a photo anew, or set it aside; safe to send again."""
    found = get_photo(client_id)
    form = FilingForm(request.POST, photo=found)
    filing = form.save_once(get_me(request))
    if filing is None:
        return _photo_page(request, found, form)
    messages.success(request, f"{found.name}: {'set aside' if filing.set_aside else f'filed as {filing}'}.")
    return redirect(found)


def _photo_page(request: HttpRequest, found: Photo, form: FilingForm) -> HttpResponse:
    job = found.build
    readings = found.readings.for_list()[:READINGS_SHOWN]
    context = {
        "section": "jobs",
        "job": job,
        "cells": job_cells(job),
        "photo": found,
        "form": form,
        "page_obj": page_of(request, found.filings.select_related("filed_by", "part").order_by("-pk")),
        "acts": [] if found.set_aside else acts_of(found),
        "readings": with_notes(readings, get_me(request).length_unit),
    }
    return render(request, "builds/photos/photo.html", context, status=422 if form.errors else 200)


@require_safe
def photo_file(request: HttpRequest, client_id: str, size: str) -> HttpResponse:
    """A photo's file in one size: to be shown, or the kept file itself to be downloaded."""
    found = get_photo(client_id)
    if size not in SIZES:
        raise Http404("A photo has no such size.")
    etag = f'"{found.sha256[:40]}-{size}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        try:
            data, media_type = open_rendition(found, size)
        except (FileNotFoundError, Unfit):
            raise Http404("The file of this photo is not on the disk any more.") from None
        answer = HttpResponse(data, content_type=media_type)
        ending = ENDINGS[MediaType(media_type)]
        told = content_disposition_header(size == ORIGINAL, f"{_file_name(found)}.{ending}")
        answer.headers["Content-Disposition"] = told or "attachment"
    answer.headers["ETag"] = etag
    # A photo never changes; whoever may not see it any more is not asked to forget what he saw.
    answer.headers["Cache-Control"] = f"private, max-age={A_YEAR}, immutable"
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    return answer


def _file_name(found: Photo) -> str:
    """A name for the download that any system takes: job, and the file's own name in plain letters."""
    stem = slugify(found.name.rsplit(".", 1)[0])[:60]
    return f"{slugify(found.build.job_number) or 'job'}-{stem or 'photo'}"
