"""The bench: the tablet's screen for one head."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from builds.access import get_me
from builds.forms.entries import read_client_id, read_struck, require_same_person
from builds.recording import EntryRefused, strike_out
from builds.views.answers import asked_by_htmx, refusal
from valvetrain.access import get_bench, get_head, get_stand
from valvetrain.benchboard import board_for
from valvetrain.forms.bench import READABLE, read_entry, read_pack
from valvetrain.gathering import HeadRecords
from valvetrain.logbook import fit, record_height, record_lift


@require_GET
def bench(request: HttpRequest, head_pk: int) -> HttpResponse:
    """The whole screen, open at the next thing to do."""
    board = board_for(request, get_bench(request, head_pk))
    return render(request, "valvetrain/bench/page.html", {"board": board, "section": "jobs"})


@require_GET
def bench_at(request: HttpRequest, head_pk: int, address: str) -> HttpResponse:
    """The screen open at an address; for htmx only the board."""
    board = board_for(request, get_bench(request, head_pk), address)
    template = "valvetrain/bench/_board.html" if asked_by_htmx(request) else "valvetrain/bench/page.html"
    return render(request, template, {"board": board, "section": "jobs"})


@require_POST
def choose_way(request: HttpRequest, head_pk: int) -> HttpResponse:
    """What is read, and with which gauge: kept for this log-in."""
    head = get_head(request, head_pk)
    chosen = dict(request.session.get("bench", {}))
    if request.POST.get("way") in READABLE:
        chosen["way"] = request.POST["way"]
    if request.POST.get("gauge", "").isdigit():
        # The gauge in hand is for this head: another engine may need another one.
        chosen["gauges"] = chosen.get("gauges", {}) | {str(head.pk): int(request.POST["gauge"])}
    request.session["bench"] = chosen
    return redirect("bench-at", head.pk, request.POST.get("at") or "next")


def _answer(request: HttpRequest, records: HeadRecords, address: str, *, only: str = "") -> HttpResponse:
    """The parts of the board that a write changes, for the stand that is open on the tablet.

    A reading changes what is told of its own valve alone: `only`.
    """
    board = board_for(request, records, request.POST.get("open") or address)
    rows = [row for row in board.rows if row.address == only] if only else board.rows
    return render(request, "valvetrain/bench/_answer.html", {"board": board, "rows": rows})


@require_POST
def save_reading(request: HttpRequest, head_pk: int) -> HttpResponse:
    """Write one reading; safe to send again."""
    records = get_bench(request, head_pk)
    person = get_me(request)
    try:
        sent = read_entry(request.POST, records, person)
        if sent.entry.characteristic == "net_lift":
            reading, _new = record_lift(records, person, sent.entry)
        else:
            reading, _new = record_height(
                records,
                person,
                sent.entry,
                pack=sent.pack,
                foot_feeler=sent.foot_feeler,
            )
    except EntryRefused as error:
        return refusal(error)
    return _answer(request, records, reading.position, only=reading.position)


@require_POST
def save_pack(request: HttpRequest, head_pk: int, stand_pk: int) -> HttpResponse:
    """Write the pack that was fitted under a stand; safe to send again."""
    head = get_head(request, head_pk)
    stand = get_stand(request, head, stand_pk)
    person = get_me(request)
    try:
        fit(stand, person, read_pack(request.POST, person))
    except EntryRefused as error:
        return refusal(error)
    return _answer(request, get_bench(request, head_pk), stand.address)


@require_POST
def strike(request: HttpRequest, head_pk: int) -> HttpResponse:
    """Take a reading back, with a reason; safe to send again."""
    head = get_head(request, head_pk)
    person = get_me(request)
    try:
        require_same_person(request.POST, person)
        reading = read_struck(request.POST, head.job)
        struck, _new = strike_out(
            head.job,
            person,
            client_id=read_client_id(request.POST),
            reading=reading,
            reason=request.POST.get("reason", ""),
        )
    except EntryRefused as error:
        return refusal(error)
    return _answer(request, get_bench(request, head_pk), struck.position)
