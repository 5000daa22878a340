"""Measuring a witness mark on its photo: the screen, and what the screen asks."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_me
from builds.forms.entries import read_time, require_same_person
from builds.recording import EntryRefused
from builds.views.answers import refusal
from valvetrain.access import get_mark_photo
from valvetrain.mark_back import take_back, to_take_back
from valvetrain.mark_photos import MarkPhoto, MarkSent, read_ids, save_mark
from valvetrain.mark_start import first_guess


@require_safe
def measure_mark(request: HttpRequest, head_pk: int, address: str, photo_id: UUID) -> HttpResponse:
    """The photo with its keys; for a photo that is filed elsewhere the sentence that says so."""
    on = get_mark_photo(request, head_pk, address, photo_id)
    if on.not_here:
        return _not_here(request, on)
    return render(request, "valvetrain/marks/measure.html", {"section": "jobs", "work": on})


def _not_here(request: HttpRequest, on: MarkPhoto, refused: str = "") -> HttpResponse:
    """That the photo is another valve's, and what was measured on it as if it were this one's."""
    context = {"section": "jobs", "work": on, "readings": to_take_back(on), "refused": refused}
    return render(request, "valvetrain/marks/not_here.html", context, status=422 if refused else 200)


@require_POST
def work(request: HttpRequest, head_pk: int, address: str, photo_id: UUID) -> HttpResponse:
    """What the taps come to, as lines over the picture and in words. Nothing is kept."""
    on = get_mark_photo(request, head_pk, address, photo_id)
    try:
        worked = on.work_out(request.POST.get("taps", ""))
    except EntryRefused as error:
        return refusal(error)
    told = on.tell(worked)
    context = {"worked": worked, "told": told, "guess": bool(request.POST.get("guess"))}
    return JsonResponse(
        {
            "html": render_to_string("valvetrain/marks/_measured.html", context, request=request),
            "tip": told.drawing.svg if told else "",
            "drawn": on.drawn(worked),
            "ready": worked.ready,
        }
    )


@require_POST
def guess(request: HttpRequest, head_pk: int, address: str, photo_id: UUID) -> HttpResponse:
    """A first guess of rim and edges from the picture itself; or the sentence that there is none."""
    on = get_mark_photo(request, head_pk, address, photo_id)
    try:
        return JsonResponse(first_guess(on, request.POST.get("toward_shaft", "")))
    except EntryRefused as error:
        return refusal(error)


@require_POST
def save(request: HttpRequest, head_pk: int, address: str, photo_id: UUID) -> HttpResponse:
    """Write the mark's readings, or take them back where the photo is another valve's; safe to send again."""
    on = get_mark_photo(request, head_pk, address, photo_id)
    person = get_me(request)
    if request.POST.get("take_back"):
        return _taken_back(request, on)
    try:
        require_same_person(request.POST, person)
        sent = MarkSent(
            taps=request.POST.get("taps", ""),
            ids=read_ids(request.POST.get("ids", "")),
            taken_at=read_time(request.POST),
            device=request.POST.get("device", ""),
            after_work=request.POST.get("after_work") == "yes",
            sure=request.POST.get("sure") == "yes",
        )
        save_mark(on, person, sent)
    except EntryRefused as error:
        return refusal(error)
    return JsonResponse({"url": on.back})


def _taken_back(request: HttpRequest, on: MarkPhoto) -> HttpResponse:
    """Strike out what was measured on a photo that is another valve's."""
    try:
        struck = take_back(on, get_me(request))
    except EntryRefused as error:
        return _not_here(request, on, error.sentence)
    if struck:
        messages.success(request, f"What was measured on {on.photo.name} for {on.address} is struck out.")
    return redirect(on.back)
