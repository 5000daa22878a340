"""What a finding is shown on, and what speaks for or against its probable cause: photos, readings, parts, words."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_finding, get_me, get_open_finding
from builds.evidence_choice import parts_for, photos_for, readings_for
from builds.findings import add_photo, remove_evidence, remove_photo
from builds.forms.entries import read_client_id
from builds.forms.findings import EvidenceForm
from builds.found import with_times
from builds.lists import page_of, search_text
from builds.models import Finding, Photo
from builds.positions import positions_of
from builds.recording import EntryRefused
from builds.views.answers import asked_by_htmx, refusal
from builds.views.findings import frame

# What may be chosen as evidence → title and how the rows are come by.
Choices = dict[str, tuple[str, Callable[..., Any]]]
CHOICES: Choices = {
    "reading": ("reading", readings_for),
    "photo": ("photo", photos_for),
    "part": ("part", parts_for),
}


@require_http_methods(["GET", "HEAD", "POST"])
def finding_photos(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose among the job's photos those that show this finding; one that is sent is put to it, once."""
    finding = get_open_finding(pk)
    if request.method == "POST":
        return _put_photo(request, finding)
    shown = {link.photo_id for link in finding.shown_on.all()}
    here = request.GET.get("at") == "here"
    rows = Photo.objects.for_list().filter(build=finding.build_id)
    rows = rows.filed(position=finding.position if here else None)
    context = {
        **frame(finding.build),
        "finding": finding,
        "page_obj": page_of(request, rows),
        "shown": shown,
        "here": here,
        "kept": "at=here" if here else "",
    }
    return render(request, "builds/findings/photos.html", context)


def _put_photo(request: HttpRequest, finding: Finding) -> HttpResponse:
    try:
        photo = get_object_or_404(Photo.objects.for_list(), client_id=read_client_id(request.POST))
        add_photo(finding, photo)
    except EntryRefused as error:
        if asked_by_htmx(request):
            return refusal(error)
        messages.error(request, error.sentence)
        return redirect("finding-photos", finding.pk)
    if asked_by_htmx(request):
        return render(
            request, "builds/findings/_shown.html", {"finding": get_finding(finding.pk), "open": True}
        )
    messages.success(request, f"{photo.name}: put to this finding.")
    return redirect("finding-photos", finding.pk)


@require_POST
def finding_photo_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a photo off a finding; it stays among the job's photos."""
    finding = get_open_finding(pk)
    try:
        photo = get_object_or_404(Photo, client_id=read_client_id(request.POST))
        remove_photo(finding, photo)
        messages.success(request, f"{photo.name}: taken off this finding. It stays among the job’s photos.")
    except EntryRefused as error:
        messages.error(request, error.sentence)
    return redirect(finding)


@require_safe
def finding_choose(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Choose a reading, a photo or a part as evidence: of this job, or of the one that the engine went out with."""
    finding = get_open_finding(pk)
    if kind not in CHOICES:
        raise Http404("Evidence leans on a reading, a photo or a part.")
    word, rows_for = CHOICES[kind]
    query, everywhere = search_text(request), request.GET.get("at") == "any"
    # Nothing is read at a place in words.
    at_address = finding.position in positions_of(finding.build)
    everywhere = everywhere or not at_address
    page = page_of(request, rows_for(finding, query, everywhere=everywhere))
    if kind == "reading":
        with_times(page.object_list, finding.build)
    context = {
        **frame(finding.build),
        "finding": finding,
        "kind": kind,
        "word": word,
        "query": query,
        "everywhere": everywhere or bool(query),
        "at_address": at_address,
        "page_obj": page,
        "kept": urlencode({"at": "any"}) if everywhere else "",
    }
    return render(request, "builds/findings/choose.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def evidence_new(request: HttpRequest, pk: int) -> HttpResponse:
    """Note what speaks for or against a probable cause, with what was chosen for it to lean on."""
    finding = get_open_finding(pk)
    chosen = {name: request.GET[name][:20] for name in CHOICES if request.GET.get(name, "").isdecimal()}
    side = request.GET.get("side", "")
    form = EvidenceForm(request.POST or None, finding=finding, initial={**chosen, "side": side})
    if request.method == "POST" and form.add_once(get_me(request)) is not None:
        messages.success(request, "Noted.")
        return redirect(finding)
    context = {
        **frame(finding.build),
        "finding": finding,
        "form": form,
        **{name: form.leans_on(name) for name in CHOICES},
    }
    return render(request, "builds/findings/evidence.html", context, status=422 if form.errors else 200)


@require_POST
def evidence_remove(request: HttpRequest, pk: int, evidence_pk: int) -> HttpResponse:
    """Take a piece of evidence off; twice is once."""
    finding = get_open_finding(pk)
    found = finding.evidence.filter(pk=evidence_pk).first()
    try:
        if found is not None:
            remove_evidence(found)
            messages.success(request, "Taken off. What it said is under the job’s changes.")
    except EntryRefused as error:
        messages.error(request, error.sentence)
    return redirect(finding)
