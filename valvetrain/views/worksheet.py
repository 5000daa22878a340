"""The worksheet of a job: lift, motion, loads and piston clearance of one valve, worked out from the records."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_job, get_me, get_open_job
from builds.forms.base import BookForm, OnceForm
from builds.models import Build, Reading
from builds.recording import Entry, EntryQuestioned, EntryRefused, strike_out
from builds.titleblock import job_cells
from builds.views.answers import asked_by_htmx, form_page
from valvetrain.forms.worksheet import (
    LookForm,
    MassesForm,
    NewMassesForm,
    NewPistonSideForm,
    NewPushrodSideForm,
    PairForm,
    PistonSideForm,
    PushrodSideForm,
    StrikeForm,
)
from valvetrain.worksheet_board import read_board
from valvetrain.worksheet_pairs import LIFT_PAIR, record_pair


@dataclass(frozen=True)
class Side:
    """One of the forms that feed the worksheet."""

    heading: str
    lead: str
    new: type[OnceForm]
    edit: type[BookForm]


SIDES = {
    "pushrod": Side(
        "The pushrod’s side",
        "With a checking pushrod in, zero lash, the valve closed and the lifter on its base circle: its length and lean "
        "say where the lifter stands, which nobody reaches with a rule.",
        NewPushrodSideForm,
        PushrodSideForm,
    ),
    "masses": Side(
        "Moving masses",
        "Everything that moves with one valve, on a scale, in grams.",
        NewMassesForm,
        MassesForm,
    ),
    "piston": Side(
        "The piston’s side",
        "How near the valve comes to the piston, and what presses on its head. Leave empty what the log has.",
        NewPistonSideForm,
        PistonSideForm,
    ),
}


def _side(part: str) -> Side:
    if part not in SIDES:
        raise Http404("There is no such form on the worksheet.")
    return SIDES[part]


def _page(
    request: HttpRequest, job: Build, asked: Mapping[str, Any], pair: PairForm | None = None
) -> HttpResponse:
    """The whole screen; for htmx the figures; status 422 when a pair was refused."""
    unit = get_me(request).length_unit
    board = read_board(job, lambda addresses: LookForm(asked, addresses=addresses), unit)
    context = {
        "section": "jobs",
        "job": job,
        "board": board,
        "pair": pair or PairForm(unit=unit),
    }
    if asked_by_htmx(request) and pair is None:
        return render(request, "valvetrain/worksheet/_figures.html", context)
    context["cells"] = job_cells(job)
    return render(request, "valvetrain/worksheet/page.html", context, status=422 if pair else 200)


@require_safe
def worksheet(request: HttpRequest, job_pk: int) -> HttpResponse:
    """The worksheet of one valve at one speed. It writes nothing."""
    return _page(request, get_job(job_pk), request.GET)


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet_new(request: HttpRequest, job_pk: int, part: str) -> HttpResponse:
    """Enter one side of the engine for the worksheet."""
    job, side, unit = get_open_job(job_pk), _side(part), get_me(request).length_unit
    form = side.new(request.POST or None, instance=side.new._meta.model(build=job), unit=unit)
    back = reverse("worksheet", args=[job.pk])
    if request.method == "POST" and (made := form.save_once()) is not None:
        messages.success(request, f"{str(made)[:1].upper()}{str(made)[1:]}: saved. The worksheet follows.")
        return redirect(back)
    return form_page(request, form, heading=side.heading, lead=side.lead, section="jobs", back=back)


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet_edit(request: HttpRequest, job_pk: int, part: str, pk: int) -> HttpResponse:
    """Change one side of the engine for the worksheet."""
    job, side, unit = get_open_job(job_pk), _side(part), get_me(request).length_unit
    record = get_object_or_404(side.edit._meta.model, build=job, pk=pk)
    heading, back = f"{side.heading}, {record.get_fits_display()}", reverse("worksheet", args=[job.pk])
    form = side.edit(request.POST or None, instance=record, unit=unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{heading}: saved. The worksheet follows.")
        return redirect(back)
    return form_page(request, form, heading=heading, lead=side.lead, section="jobs", back=back)


def _back_to(job: Build, address: str) -> str:
    return f"{reverse('worksheet', args=[job.pk])}?valve={address}#lift"


@require_POST
def worksheet_pair(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Write a lobe lift with its valve lift; safe to send again."""
    job, person = get_job(job_pk), get_me(request)
    form = PairForm(request.POST, unit=person.length_unit)
    if form.is_valid():
        typed = form.cleaned_data
        entry = Entry(
            client_id=typed["client_id"], position=request.POST.get("valve", "").strip(),
            characteristic=LIFT_PAIR.key, text=typed["valve_lift"], unit=person.length_unit,
            instrument=typed["instrument"], sure=typed["sure"],
        )  # fmt: skip
        try:
            reading, _new = record_pair(job, person, entry, typed["lobe_lift"])
        except EntryQuestioned as error:
            form.question(error.sentence)
        except EntryRefused as error:
            form.refuse(error)
        else:
            return redirect(_back_to(job, reading.position))
    return _page(request, job, request.POST, form)


@require_http_methods(["GET", "HEAD", "POST"])
def worksheet_pair_strike(request: HttpRequest, job_pk: int, client_id: UUID) -> HttpResponse:
    """Take a pair back, with the reason; safe to send again."""
    job = get_open_job(job_pk)
    reading = get_object_or_404(
        Reading, build=job, client_id=client_id, characteristic=LIFT_PAIR.key, value__isnull=False
    )
    form, back = StrikeForm(request.POST or None), _back_to(job, reading.position)
    if request.method == "POST" and form.is_valid():
        try:
            strike_out(
                job,
                get_me(request),
                client_id=form.made_as,
                reading=reading,
                reason=form.cleaned_data["reason"],
            )
            return redirect(back)
        except EntryRefused as error:
            form.add_error("reason", error.sentence)
    heading = f"Take back {reading.position}: valve {reading.as_typed}, {reading.how}"
    lead = "The pair stays in the log, struck out, with this reason."
    return form_page(
        request, form, heading=heading, lead=lead, section="jobs", back=back, word="Take it back"
    )
