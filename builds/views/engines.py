"""Engines: known by their serial number, through all their jobs."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_customer, get_engine, get_me
from builds.forms.customers import EngineForm, NewEngineForm
from builds.lists import page_of, search_text
from builds.models import Build, Customer, Engine, with_states
from builds.views.answers import form_page


@require_safe
def engine_list(request: HttpRequest) -> HttpResponse:
    """All engines, by name."""
    query = search_text(request)
    engines = Engine.objects.for_list()
    page = page_of(request, engines.matching(query) if query else engines)
    return render(
        request, "builds/engine_list.html", {"section": "customers", "page_obj": page, "query": query}
    )


@require_http_methods(["GET", "HEAD", "POST"])
def engine_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new engine of a customer; on the way to a new job, the job comes next."""
    customer = get_customer(pk)
    opening = request.GET.get("then") == "job"
    form = NewEngineForm(
        request.POST or None, instance=Engine(customer=customer), unit=get_me(request).length_unit
    )
    if request.method == "POST" and (engine := form.save_once()) is not None:
        messages.success(request, f"{engine} is in the book.")
        return redirect("job-open", engine.pk) if opening else redirect(engine)
    return form_page(
        request,
        form,
        heading="New engine",
        lead=f"Of {customer}." + (" Then comes the job." if opening else ""),
        section="jobs" if opening else "customers",
        word="Go on to the job" if opening else "Add the engine",
        back=customer.get_absolute_url(),
    )


@require_safe
def engine_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """An engine and its jobs."""
    engine = get_engine(pk)
    page = page_of(request, Build.objects.for_list().jobs().filter(engine=engine))
    page.object_list = with_states(page.object_list)
    return render(
        request, "builds/engine_detail.html", {"section": "customers", "engine": engine, "page_obj": page}
    )


@require_http_methods(["GET", "HEAD", "POST"])
def engine_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is known of an engine."""
    engine = get_engine(pk)
    heading = str(engine)
    form = EngineForm(request.POST or None, instance=engine, unit=get_me(request).length_unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{engine} is saved.")
        return redirect(engine)
    return form_page(request, form, heading=heading, section="customers", back=engine.get_absolute_url())


@require_http_methods(["GET", "HEAD", "POST"])
def engine_hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """The engine has a new owner: choose the customer, look at both names, and say that it is so."""
    engine = get_engine(pk)
    back = reverse("engine-detail", args=[pk])
    context = {"section": "customers", "engine": engine, "back": back}
    chosen = (request.POST if request.method == "POST" else request.GET).get("customer")
    if chosen is None and request.method != "POST":
        query = search_text(request)
        others = Customer.objects.for_list().exclude(pk=engine.customer_id)
        page = page_of(request, others.matching(query) if query else others)
        return render(request, "builds/engine_hand_over.html", {**context, "page_obj": page, "query": query})
    buyer = get_customer(int(chosen) if chosen and chosen.isdecimal() and len(chosen) < 19 else 0)
    if request.method == "POST" and engine.hand_over(buyer, from_pk=request.POST.get("belongs_to", "")):
        messages.success(request, f"{engine} belongs to {engine.customer} now.")
        return redirect(engine)
    context |= {"buyer": buyer, "job_count": engine.builds.count(), "moved": "belongs_to" in request.POST}
    return render(
        request, "builds/engine_hand_over_confirm.html", context, status=409 if context["moved"] else 200
    )
