"""Customers."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_customer
from builds.forms.customers import CustomerForm, NewCustomerForm
from builds.lists import page_of, search_text
from builds.models import Customer, Engine
from builds.views.answers import form_page


@require_safe
def customer_list(request: HttpRequest) -> HttpResponse:
    """All customers, by name."""
    query = search_text(request)
    customers = Customer.objects.for_list()
    page = page_of(request, customers.matching(query) if query else customers)
    return render(
        request, "builds/customer_list.html", {"section": "customers", "page_obj": page, "query": query}
    )


@require_http_methods(["GET", "HEAD", "POST"])
def customer_new(request: HttpRequest) -> HttpResponse:
    """A new customer; on the way to a new job, the engine comes next."""
    opening = request.GET.get("then") == "job"
    form = NewCustomerForm(request.POST or None)
    if request.method == "POST" and (customer := form.save_once()) is not None:
        messages.success(request, f"{customer} is in the book.")
        if opening:
            return redirect(f"{reverse('engine-new', args=[customer.pk])}?{urlencode({'then': 'job'})}")
        return redirect(customer)
    return form_page(
        request,
        form,
        heading="New customer",
        lead="First the customer, then the engine, then the job." if opening else "",
        section="jobs" if opening else "customers",
        word="Go on to the engine" if opening else "Add the customer",
        back=reverse("job-new" if opening else "customer-list"),
    )


@require_safe
def customer_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A customer and their engines."""
    customer = get_customer(pk)
    engines = Engine.objects.for_list().filter(customer=customer)
    context = {"section": "customers", "customer": customer, "page_obj": page_of(request, engines)}
    return render(request, "builds/customer_detail.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def customer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change what is known of a customer."""
    customer = get_customer(pk)
    heading = customer.name
    form = CustomerForm(request.POST or None, instance=customer)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{customer} is saved.")
        return redirect(customer)
    return form_page(request, form, heading=heading, section="customers", back=customer.get_absolute_url())
