"""Heads of a job, and the stands, pads and valves on them: what stands where, and how large it is."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_me, get_open_job
from builds.titleblock import Cell
from builds.views.answers import form_page
from valvetrain.access import get_hardware, get_open_hardware, get_stand
from valvetrain.forms.heads import HeadForm, LayoutForm, NewHeadForm
from valvetrain.forms.stands import NewStandForm, StandForm
from valvetrain.forms.valves import ValveFormSet
from valvetrain.models import Head, Stand
from valvetrain.plan import plan_for


def section_of(head: Head) -> str:
    """Where a head belongs in the book: layouts lie in the drawer."""
    return "drawer" if head.is_layout else "jobs"


def cells_of(head: Head) -> list[Cell]:
    """The boxed cells above a head's pages."""
    stands, valves = head.stands.all(), head.valves.all()
    cells: list[Cell] = [("layout" if head.is_layout else "head", str(head), head.get_absolute_url())]
    if head.build is not None:
        engine = head.build.engine
        cells += [
            ("letter", head.code),
            ("job", head.build.job_number, head.build.get_absolute_url()),
            ("engine", engine.name, engine.get_absolute_url()),
            ("cylinders", " ".join(str(number) for number in head.cylinders_along())),
        ]
    return [
        *cells,
        ("material", head.get_material_display()),
        ("stands", len(stands)),
        ("valves", len(valves)),
    ]


@require_safe
def head_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A head's hardware: the plan, its stands and its valves."""
    head = get_hardware(request, pk)
    context = {
        "section": section_of(head),
        "head": head,
        "cells": cells_of(head),
        "plan": plan_for(head),
        "open": head.build is None or head.build.takes_readings,
    }
    return render(request, "valvetrain/heads/detail.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def head_new(request: HttpRequest, job_pk: int) -> HttpResponse:
    """Put a head on a job: a copy of a layout, with the cylinders it serves."""
    job = get_open_job(job_pk)
    form = NewHeadForm(request.POST or None, instance=Head(build=job))
    if request.method == "POST" and (head := form.save_once()) is not None:
        messages.success(request, f"{head} is on job {job}. Measure it against what stands here.")
        return redirect(head)
    return form_page(
        request,
        form,
        heading=f"A head for job {job}",
        section="jobs",
        word="Add the head",
        back=job.get_absolute_url(),
        lead="Choose the layout that is nearest to the head in hand. Every dimension can be changed afterwards.",
    )


@require_http_methods(["GET", "HEAD", "POST"])
def head_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a head's own facts, or a layout's."""
    head = get_open_hardware(request, pk)
    heading = str(head)
    form = (LayoutForm if head.is_layout else HeadForm)(request.POST or None, instance=head)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{head} is saved.")
        return redirect(head)
    return form_page(request, form, heading=heading, section=section_of(head), back=head.get_absolute_url())


@require_http_methods(["GET", "HEAD", "POST"])
def head_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a head off its job, or a layout off the shelf, after asking."""
    head = get_open_hardware(request, pk)
    reason = head.why_it_stays()
    if request.method == "POST" and not reason:
        back = reverse("layout-list") if head.is_layout else head.job.get_absolute_url()
        messages.success(request, f"{head} is removed.")
        head.take_away()
        return redirect(back)
    context = {"section": section_of(head), "head": head, "cells": cells_of(head), "reason": reason}
    return render(
        request, "valvetrain/heads/remove.html", context, status=409 if request.method == "POST" else 200
    )


@require_http_methods(["GET", "HEAD", "POST"])
def stand_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new stand with its pads."""
    head = get_open_hardware(request, pk)
    stand = Stand(head=head, order=len(head.stands.all()) + 1)
    form = NewStandForm(request.POST or None, instance=stand, unit=get_me(request).length_unit)
    if request.method == "POST" and (stand := form.save_once()) is not None:
        messages.success(request, f"{stand.name} is on {head}.")
        return redirect(head)
    return _stand_page(request, head, form, heading=f"New stand on {head}")


@require_http_methods(["GET", "HEAD", "POST"])
def stand_edit(request: HttpRequest, pk: int, stand_pk: int) -> HttpResponse:
    """Change a stand, its bolts and its pads."""
    head = get_open_hardware(request, pk)
    stand = get_stand(request, head, stand_pk)
    heading = stand.address
    form = StandForm(request.POST or None, instance=stand, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{stand.address} is saved.")
        return redirect(head)
    return _stand_page(request, head, form, heading=heading)


def _stand_page(
    request: HttpRequest, head: Head, form: StandForm | NewStandForm, *, heading: str
) -> HttpResponse:
    wrong = form.errors or (form.pads.is_bound and not form.pads.is_valid())
    context = {"section": section_of(head), "head": head, "form": form, "heading": heading}
    return render(request, "valvetrain/heads/stand.html", context, status=422 if wrong else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def stand_remove(request: HttpRequest, pk: int, stand_pk: int) -> HttpResponse:
    """Remove a stand that carries nothing and was never measured, after asking."""
    head = get_open_hardware(request, pk)
    stand = get_stand(request, head, stand_pk)
    reason = stand.why_it_stays()
    if request.method == "POST" and not reason:
        messages.success(request, f"{stand.address} is removed.")
        stand.take_away()
        return redirect(head)
    context = {"section": section_of(head), "head": head, "stand": stand, "reason": reason}
    return render(
        request,
        "valvetrain/heads/stand_remove.html",
        context,
        status=409 if request.method == "POST" else 200,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def valves_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Every valve of a head in one form, with room for two more."""
    head = get_open_hardware(request, pk)
    row = {"unit": get_me(request).length_unit, "stands": list(head.stands.all())}
    rows = ValveFormSet(request.POST or None, instance=head, form_kwargs=row)
    if request.method == "POST" and rows.is_valid():
        rows.save()
        messages.success(request, f"The valves of {head} are saved.")
        return redirect(head)
    context = {
        "section": section_of(head),
        "head": head,
        "cells": cells_of(head),
        "rows": rows,
    }
    return render(
        request, "valvetrain/heads/valves.html", context, status=422 if request.method == "POST" else 200
    )
