"""The people of the shop. An owner adds and deactivates them; nobody is ever deleted."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from builds.access import get_person
from builds.forms.people import NewPasswordForm, NewPersonForm, PersonForm
from builds.lists import page_of
from builds.models import Person
from builds.views.answers import form_page


@require_safe
def person_list(request: HttpRequest) -> HttpResponse:
    """Everybody who works, or worked, in this book."""
    page = page_of(request, Person.objects.order_by("-is_active", "name", "pk"))
    return render(request, "builds/person_list.html", {"section": "shop", "page_obj": page})


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def person_new(request: HttpRequest) -> HttpResponse:
    """Somebody new."""
    form = NewPersonForm(request.POST or None)
    if request.method == "POST" and (person := form.save_once()) is not None:
        messages.success(request, f"{person} may log in now.")
        return redirect("person-list")
    lead = "Tell them the first password; they change it on their own page."
    back = reverse("person-list")
    return form_page(request, form, heading="New person", lead=lead, section="shop", word="Add", back=back)


@require_http_methods(["GET", "HEAD", "POST"])
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change somebody's name, log-in name, unit, or whether they are an owner."""
    person = get_person(pk)
    heading = person.name
    form = PersonForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{person} is saved.")
        return redirect("person-list")
    return form_page(request, form, heading=heading, section="shop", back=reverse("person-list"))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Set a new password for somebody who lost theirs."""
    person = get_person(pk)
    form = NewPasswordForm(person, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{person} has a new password. They are logged out everywhere.")
        return redirect("person-list")
    return form_page(
        request, form, heading=f"New password for {person}", section="shop", back=reverse("person-list")
    )


@require_http_methods(["GET", "HEAD", "POST"])
def person_active(request: HttpRequest, pk: int) -> HttpResponse:
    """Close the book to somebody who left, or open it to somebody who is back, after asking."""
    person = get_person(pk)
    if request.method != "POST":
        return render(request, "builds/person_active.html", {"section": "shop", "person": person})
    try:
        person.switch_active(request.POST.get("active") == "yes")
    except ValidationError as error:
        messages.error(request, error.message)
    else:
        messages.success(
            request, f"{person} may {'log in again' if person.is_active else 'no longer log in'}."
        )
    return redirect("person-list")
