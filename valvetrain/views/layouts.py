"""The shelf of head layouts, from which a job's heads are copied."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.lists import page_of
from builds.views.answers import asked_by_htmx, form_page
from valvetrain.access import get_hardware
from valvetrain.forms.heads import NewLayoutForm, ShelfCopyForm
from valvetrain.models import Head
from valvetrain.plan import plan_for


@require_safe
def layout_list(request: HttpRequest) -> HttpResponse:
    """Every layout on the shelf, drawn."""
    layouts = (
        Head.objects.filter(build=None).prefetch_related("valves", "stands__pads").order_by("layout_name")
    )
    page = page_of(request, layouts)
    drawn = [(layout, plan_for(layout)) for layout in page.object_list]
    context = {"section": "drawer", "page_obj": page, "drawn": drawn}
    return render(request, "valvetrain/layouts/list.html", context)


@require_safe
def layouts_panel(request: HttpRequest) -> HttpResponse:
    """How many layouts lie on the shelf, for the drawer's page; opened by itself, the whole shelf."""
    if not asked_by_htmx(request):
        return redirect("layout-list")
    layouts = (
        Head.objects.filter(build=None)
        .order_by("layout_name")
        .annotate(stand_count=Count("stands", distinct=True), valve_count=Count("valves", distinct=True))
    )
    context = {"page_obj": page_of(request, layouts)}
    return render(request, "valvetrain/layouts/_panel.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def layout_new(request: HttpRequest) -> HttpResponse:
    """A layout that starts empty."""
    form = NewLayoutForm(request.POST or None, instance=Head(name="Head"))
    if request.method == "POST" and (layout := form.save_once()) is not None:
        messages.success(request, f"{layout} is on the shelf. Add its stands, then its valves.")
        return redirect(layout)
    return form_page(
        request,
        form,
        heading="New layout",
        section="drawer",
        word="Put it on the shelf",
        back=reverse("layout-list"),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def copy_to_shelf(request: HttpRequest, pk: int) -> HttpResponse:
    """Copy a layout, or a head that was measured on a job, to the shelf."""
    source = get_hardware(request, pk)
    form = ShelfCopyForm(request.POST or None, instance=Head(name=source.name), source=source)
    if request.method == "POST" and (layout := form.save_once()) is not None:
        messages.success(request, f"{layout} is on the shelf.")
        return redirect(layout)
    lead = "Stands, pads, valves and bolts are copied, no readings. Its cylinders are numbered from one."
    return form_page(
        request,
        form,
        heading=f"Copy {source} to the shelf",
        section="drawer",
        word="Copy it",
        back=source.get_absolute_url(),
        lead=lead,
    )
