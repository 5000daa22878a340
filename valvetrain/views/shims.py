"""The shim drawer: how many pieces there are of each thickness, and which run low."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_me
from builds.lists import page_of
from builds.views.answers import asked_by_htmx, form_page
from valvetrain.access import get_shim
from valvetrain.drawer_count import drawer_rows
from valvetrain.forms.shims import NewShimForm, ShimForm
from valvetrain.packwords import count_words, low_words


@require_safe
def shim_list(request: HttpRequest) -> HttpResponse:
    """Every thickness in the drawer; for htmx the section of the drawer's page."""
    rows = drawer_rows()
    context = {
        "section": "drawer",
        "page_obj": page_of(request, rows),
        "low": low_words([row.line for row in rows], get_me(request).length_unit),
    }
    name = "_panel.html" if asked_by_htmx(request) else "list.html"
    return render(request, f"valvetrain/shims/{name}", context)


@require_http_methods(["GET", "HEAD", "POST"])
def shim_new(request: HttpRequest) -> HttpResponse:
    """A thickness that is new in the drawer."""
    form = NewShimForm(request.POST or None, unit=get_me(request).length_unit)
    if request.method == "POST" and (shim := form.save_once()) is not None:
        messages.success(request, f"{shim.count} pieces are in the drawer.")
        return redirect("shim-list")
    return form_page(
        request, form, heading="New thickness", section="drawer", word="Add it", back=reverse("shim-list")
    )


@require_http_methods(["GET", "HEAD", "POST"])
def shim_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a thickness, or count its pieces again. Packs that were fitted keep what they were."""
    shim = get_shim(request, pk)
    form = ShimForm(request.POST or None, instance=shim, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The drawer is saved.")
        return redirect("shim-list")
    return form_page(
        request,
        form,
        heading="Shims of one thickness",
        section="drawer",
        back=reverse("shim-list"),
        lead=count_words(drawer_rows(shim.thickness), get_me(request).length_unit),
    )
