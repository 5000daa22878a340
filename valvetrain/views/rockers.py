"""The rocker sets of a job."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from builds.access import get_me, get_open_job
from builds.views.answers import form_page
from valvetrain.access import get_rocker_set
from valvetrain.forms.rockers import NewRockerSetForm, RockerSetForm
from valvetrain.models import RockerSet

LEAD = "Measure the arms in hand. Every stand’s height follows from these three lengths and the lift."


@require_http_methods(["GET", "HEAD", "POST"])
def rocker_set_new(request: HttpRequest, job_pk: int) -> HttpResponse:
    """A rocker set for a job; a second one where intake and exhaust differ."""
    job = get_open_job(job_pk)
    unit = get_me(request).length_unit
    form = NewRockerSetForm(request.POST or None, instance=RockerSet(build=job), unit=unit)
    if request.method == "POST" and (rocker_set := form.save_once()) is not None:
        messages.success(request, f"{rocker_set}: on job {job}.")
        return redirect(job)
    heading, back = f"Rockers of job {job}", job.get_absolute_url()
    return form_page(
        request, form, heading=heading, section="jobs", back=back, lead=LEAD, word="Add the rockers"
    )


@require_http_methods(["GET", "HEAD", "POST"])
def rocker_set_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a rocker set. Every target and verdict follows at the next look."""
    rocker_set = get_rocker_set(request, pk)
    job, heading = rocker_set.build, str(rocker_set)
    unit = get_me(request).length_unit
    form = RockerSetForm(request.POST or None, instance=rocker_set, unit=unit)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{rocker_set}: saved. The targets of job {job} follow.")
        return redirect(job)
    return form_page(request, form, heading=heading, section="jobs", back=job.get_absolute_url(), lead=LEAD)
