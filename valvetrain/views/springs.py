"""The spring sheets of a job."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from builds.access import get_me, get_open_job
from builds.views.answers import form_page
from valvetrain.access import get_spring_sheet
from valvetrain.forms.springs import NewSpringSheetForm, SpringSheetForm
from valvetrain.models import SpringSheet

LEAD = (
    "What the springs’ own sheet says. Heights and loads as read are judged about it; a solid height that is measured "
    "comes first."
)


@require_http_methods(["GET", "HEAD", "POST"])
def spring_sheet_new(request: HttpRequest, job_pk: int) -> HttpResponse:
    """A spring sheet for a job; a second one where intake and exhaust differ."""
    job = get_open_job(job_pk)
    unit = get_me(request).length_unit
    form = NewSpringSheetForm(request.POST or None, instance=SpringSheet(build=job), unit=unit)
    if request.method == "POST" and (sheet := form.save_once()) is not None:
        messages.success(request, f"{sheet}: on job {job}.")
        return redirect("log-step", job.pk, "springs")
    heading, back = f"Springs of job {job}", job.get_absolute_url()
    return form_page(
        request, form, heading=heading, section="jobs", back=back, lead=LEAD, word="Add the springs"
    )


@require_http_methods(["GET", "HEAD", "POST"])
def spring_sheet_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a spring sheet. Every verdict of the springs follows at the next look."""
    sheet = get_spring_sheet(request, pk)
    job, heading = sheet.build, str(sheet)
    unit = get_me(request).length_unit
    form = SpringSheetForm(request.POST or None, instance=sheet, unit=unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{sheet}: saved. The verdicts of job {job} follow.")
        return redirect("log-step", job.pk, "springs")
    return form_page(request, form, heading=heading, section="jobs", back=job.get_absolute_url(), lead=LEAD)
