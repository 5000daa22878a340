"""The witness marks: every tip of a head, one valve's mark with what follows from it, and a stand that was slid."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from builds.access import get_me
from builds.lists import page_of
from builds.models import Instrument, Reading
from builds.reading_notes import with_notes
from builds.recording import EntryQuestioned, EntryRefused
from valvetrain.access import get_bench
from valvetrain.changes import slide_words
from valvetrain.forms.slides import SlideForm
from valvetrain.mark_steps import MARK_KEYS, STEP_KEY
from valvetrain.markboard import ValveMark, head_marks, valve_mark
from valvetrain.slides import record_slide


@require_safe
def all_marks(request: HttpRequest, head_pk: int) -> HttpResponse:
    """Every tip of a head, measured against expected."""
    board = head_marks(get_bench(request, head_pk), get_me(request).length_unit)
    return render(
        request, "valvetrain/marks/head.html", {"section": "jobs", "board": board, "job": board.job}
    )


@require_safe
def one_mark(request: HttpRequest, head_pk: int, address: str) -> HttpResponse:
    """One valve's mark: the tip large, its fields, its photos, and what follows."""
    return _page(request, _mark(request, head_pk, address))


@require_POST
def slide(request: HttpRequest, head_pk: int, address: str) -> HttpResponse:
    """Write down that the valve's stand was slid; safe to send again."""
    board, person = _mark(request, head_pk, address), get_me(request)
    form = SlideForm(request.POST, unit=person.length_unit)
    if form.is_valid():
        try:
            move, _new = record_slide(board.mark.stand, person, form.entry)
        except EntryQuestioned as error:
            form.question(error.sentence)
        except EntryRefused as error:
            form.refuse(error)
        else:
            told = f"{board.mark.stand.address} was slid {slide_words(move, person.length_unit)}."
            messages.success(
                request, f"{told} Read the height again, then ink the tips and read the marks again."
            )
            return redirect("valve-mark", board.head.pk, board.address)
    return _page(request, board, form)


def _mark(request: HttpRequest, head_pk: int, address: str) -> ValveMark:
    found = valve_mark(get_bench(request, head_pk), address, get_me(request).length_unit)
    if found is None:
        raise Http404("There is no such valve on this head.")
    return found


def _page(request: HttpRequest, board: ValveMark, form: SlideForm | None = None) -> HttpResponse:
    readings = Reading.objects.for_list().filter(
        build=board.job, position=board.address, characteristic__in=MARK_KEYS
    )
    page = page_of(request, readings)
    chosen = request.session.get("log", {}).get(STEP_KEY, {}).get("instrument", "")
    context = {
        "section": "jobs",
        "board": board,
        "job": board.job,
        "form": form or SlideForm(unit=board.unit, initial={"way": board.way}),
        "instruments": Instrument.objects.filter(in_use=True),
        "chosen": chosen,
        "page_obj": page,
        "readings": with_notes(page, board.unit),
    }
    return render(request, "valvetrain/marks/valve.html", context, status=422 if form else 200)
