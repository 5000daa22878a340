"""The one way in which views come by a record. Who may do what stands in `builds.rights`."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404

from builds.findings import findings
from builds.models import (
    Build,
    CausePrompt,
    CheckRule,
    Customer,
    Engine,
    Finding,
    Instrument,
    Limit,
    PartFitted,
    PartTakenOut,
    Person,
    Photo,
    Recall,
    RecallMark,
    RunEntry,
    SealedSheet,
    Signing,
    Symptom,
    ToldReading,
    UsualUncertainty,
    with_states,
)
from builds.printing.runs import PrintRun, find
from builds.sealing.board import WHOLE_JOB, SheetLine, sheet_line
from builds.sealing.kinds import kind_of
from builds.sealing.rules import SealRefused


def get_me(request: HttpRequest) -> Person:
    """The person at the keyboard. The log-in middleware lets nobody without one through to a view that asks."""
    person = request.user
    assert isinstance(person, Person)
    return person


def get_job(pk: int) -> Build:
    """A job with its engine, customer and state."""
    return with_states([get_object_or_404(Build.objects.for_list(), pk=pk)])[0]


def get_open_job(pk: int) -> Build:
    """A job whose log is still open; others are refused with the reason."""
    job = get_job(pk)
    if not job.takes_readings:
        raise PermissionDenied(job.closed_sentence)
    return job


def get_part(job: Build, pk: int) -> PartFitted:
    """A part fitted to this job, with how many of it came out."""
    return get_object_or_404(job.parts.with_out().select_related("build"), pk=pk)


def get_part_out(part: PartFitted, pk: int) -> PartTakenOut:
    """Of a part, some that came out."""
    return get_object_or_404(part.taken_out, pk=pk)


def get_finding(pk: int) -> Finding:
    """A finding with all that belongs to it, and its job."""
    found: Finding = get_object_or_404(findings(pk=pk))
    found.build = get_job(found.build_id)
    return found


def get_open_finding(pk: int) -> Finding:
    """A finding that may still be written on; others are refused with the reason."""
    found = get_finding(pk)
    if not found.build.takes_readings:
        raise PermissionDenied(found.build.closed_sentence)
    if found.withdrawn:
        raise PermissionDenied(
            f"This finding was taken back: {found.withdrawn}. Write a new one for what stands now."
        )
    return found


def get_symptom(pk: int) -> Symptom:
    """A list to look through."""
    return get_object_or_404(Symptom, pk=pk)


def get_prompt(pk: int) -> CausePrompt:
    """One thing on a list to look through."""
    return get_object_or_404(CausePrompt.objects.select_related("symptom"), pk=pk)


def get_recall(pk: int) -> Recall:
    """A recall."""
    return get_object_or_404(Recall.objects.select_related("opened_by"), pk=pk)


def get_recall_mark(recall: Recall, pk: int) -> RecallMark:
    """A mark on the list of this recall."""
    marks = RecallMark.objects.select_related("line__part", "by")
    return get_object_or_404(marks, line__recall=recall, pk=pk)


def get_run_entry(job: Build, client_id: UUID) -> RunEntry:
    """An entry of this job's running record."""
    return get_object_or_404(RunEntry, build=job, client_id=client_id)


def get_told(job: Build, client_id: UUID) -> ToldReading:
    """A figure that was told of this job."""
    found: ToldReading = get_object_or_404(
        ToldReading.objects.select_related("via"), build=job, client_id=client_id
    )
    found.build = job
    return found


def get_photo(client_id: UUID | str) -> Photo:
    """A photo with its job. Whoever may not open the job may not see its photos."""
    photo: Photo = get_object_or_404(Photo.objects.for_list(), client_id=client_id)
    photo.build = get_job(photo.build_id)
    return photo


def get_sheet_line(job_pk: int, kind: str, subject: str) -> SheetLine:
    """One sheet of a job, with where it stands."""
    job = get_job(job_pk)
    try:
        return sheet_line(job, kind_of(kind), "" if subject == WHOLE_JOB else subject)
    except KeyError:
        raise Http404("This job has no such sheet. Go back to the job and choose one.") from None


def get_signing(line: SheetLine, pk: str) -> Signing:
    """What was put up of this sheet, and was on somebody's screen."""
    mine = Signing.objects.of_sheet(line.build, line.kind.key, line.subject)
    found = mine.filter(pk=pk).first() if pk.isdecimal() else None
    if found is None:
        raise SealRefused("This page is of another sheet. Load it again, look at it, then sign.")
    found.build = line.build
    return found


def get_sealed(number: int) -> SealedSheet:
    """A sealed sheet with its job, its signatures, and what took its place. Not its PDF."""
    found: SealedSheet = get_object_or_404(SealedSheet.objects.for_list(), number=number)
    found.signing.build = get_job(found.signing.build_id)
    return found


def get_customer(pk: int) -> Customer:
    """A customer."""
    return get_object_or_404(Customer, pk=pk)


def get_engine(pk: int) -> Engine:
    """An engine with its customer."""
    return get_object_or_404(Engine.objects.select_related("customer"), pk=pk)


def get_instrument(pk: int) -> Instrument:
    """An instrument of the drawer."""
    return get_object_or_404(Instrument, pk=pk)


def get_limit(pk: int) -> Limit:
    """A limit of the shop."""
    return get_object_or_404(Limit, pk=pk)


def get_usual_uncertainty(pk: int) -> UsualUncertainty:
    """What a kind of tool is taken to be good to."""
    return get_object_or_404(UsualUncertainty, pk=pk)


def get_check_rule(pk: int) -> CheckRule:
    """A rule by which the shop looks again."""
    return get_object_or_404(CheckRule, pk=pk)


def get_person(pk: int) -> Person:
    """Somebody who works, or worked, in this book."""
    return get_object_or_404(Person, pk=pk)


def get_print_run(run_id: UUID) -> PrintRun:
    """A sheet that is being printed, or was: for whoever may see its job, who could print the same."""
    run = find(run_id)
    if run is None:
        raise Http404("That sheet is not kept any more. Print it again.")
    get_job(run.job)
    return run
