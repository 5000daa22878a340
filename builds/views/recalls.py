"""Recalls: who carries a part that has to be looked at, who was told, and the letters."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from builds.access import get_customer, get_engine, get_me, get_recall, get_recall_mark
from builds.forms.recalls import CloseForm, MarkForm, RecallEditForm, RecallForm, StrikeForm
from builds.forms.tracing import TraceForm
from builds.letters import LETTERS_IN_A_FILE, customers_of, letters_pdf, recall_letters
from builds.lists import page_of
from builds.models import Customer, Engine, Recall, RecallStep, Shop, TracedBy
from builds.printing.paper import PAPERS
from builds.printing.press import PrintingFailed
from builds.recalling import add_matches, counts_of, listed, not_listed
from builds.tracing import matching
from builds.views.answers import form_page


@require_safe
def recall_list(request: HttpRequest) -> HttpResponse:
    """All recalls, newest first, with how far each is."""
    page = page_of(request, Recall.objects.select_related("opened_by"))
    counts = counts_of(page.object_list)
    rows = [(recall, counts[recall.pk]) for recall in page.object_list]
    context = {"section": "returns", "here": "recall-list", "page_obj": page, "rows": rows}
    return render(request, "builds/parts/recall_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def recall_begin(request: HttpRequest) -> HttpResponse:
    """Begin a recall of a number that was traced."""
    asked = TraceForm(request.GET)
    by = asked.cleaned_data["by"] if asked.is_valid() else ""
    value = asked.cleaned_data["q"] if asked.is_valid() else ""
    if by not in TracedBy.values or not value:
        messages.error(
            request, "A recall begins from a lot, a maker’s number or a serial number. Trace it first."
        )
        return redirect("part-trace")
    found = matching(by, value).count()
    if not found:
        messages.error(request, f"No part in the book has {TracedBy(by).label} {value}. Trace it first.")
        return redirect("part-trace")
    form = RecallForm(
        request.POST or None,
        instance=Recall(by=by, value=value, opened_by=get_me(request)),
        person=get_me(request),
    )
    if request.method == "POST" and (recall := form.save_once()) is not None:
        messages.success(
            request, f"The recall of {recall} is begun, with {recall.lines.count()} on its list."
        )
        return redirect("recall", recall.pk)
    return form_page(
        request, form, heading=f"Recall of {TracedBy(by).label} {value}", section="returns", word="Begin the recall",
        lead=f"{found} line{'s' if found > 1 else ''} of the book carr{'y' if found > 1 else 'ies'} it. Each engine "
        "goes on the list, with a letter for its customer.",
        back=reverse("part-trace"),
    )  # fmt: skip


@require_safe
def recall(request: HttpRequest, pk: int) -> HttpResponse:
    """The list of a recall: a line for every engine, what is done about it, and what carries the number since."""
    found = get_recall(pk)
    engines = Engine.objects.filter(builds__parts__recall_lines__recall=found).distinct()
    page = page_of(request, engines.order_by("customer__name", "name", "pk").values_list("pk", flat=True))
    context = {
        "section": "returns",
        "here": "recall-list",
        "recall": found,
        "page_obj": page,
        "engines": listed(found, page.object_list),
        "counts": counts_of([found])[found.pk],
        "since": len(not_listed(found)) if found.closed_on is None else 0,
        "papers": list(PAPERS),
        "letter_pages": range(1, -(-customers_of(found).count() // LETTERS_IN_A_FILE) + 1),
    }
    return render(request, "builds/parts/recall.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def recall_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the reason and what the customers are asked to do."""
    found = get_recall(pk)
    form = RecallEditForm(request.POST or None, instance=found)
    back = reverse("recall", args=[pk])
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"The recall of {found} is saved.")
        return redirect(back)
    return form_page(request, form, heading=f"Recall of {found}", section="returns", back=back)


@require_POST
def recall_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Put on the list what carries the number since."""
    found = get_recall(pk)
    if found.closed_on is not None:
        messages.error(request, "This recall is closed. Open it again first.")
        return redirect("recall", pk)
    count = add_matches(found)
    messages.success(
        request, f"{count} more on the list." if count else "Everything that carries it is on the list."
    )
    return redirect("recall", pk)


@require_http_methods(["GET", "HEAD", "POST"])
def recall_mark(request: HttpRequest, pk: int, engine_pk: int) -> HttpResponse:
    """Mark an engine of a recall: told, checked or replaced."""
    found, engine = get_recall(pk), get_engine(engine_pk)
    on_list = listed(found, [engine.pk])
    if not on_list:
        raise Http404("This engine is not on the list of that recall.")
    asked = request.GET.get("step", RecallStep.TOLD)
    form = MarkForm(
        request.POST or None, recall=found, parts=on_list[0].concerned or on_list[0].parts, person=get_me(request),
        initial={"step": asked if asked in RecallStep.values else RecallStep.TOLD},
    )  # fmt: skip
    back = reverse("recall", args=[pk])
    if request.method == "POST" and (made := form.write()) is not None:
        messages.success(request, f"{engine}: {made[0].get_step_display()}, {made[0].done_on:%d %b %Y}.")
        return redirect(back)
    customer = engine.customer
    return form_page(
        request, form, heading=f"{engine}, {customer}", section="returns", word="Mark it", back=back,
        lead=f"Recall of {found}. Telephone: {customer.phone or 'none in the book'}. “Replaced” also takes out of the "
        "engine what is left of the part, as recalled.",
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def recall_strike(request: HttpRequest, pk: int, mark_pk: int) -> HttpResponse:
    """Strike out a mark that was an error; it stays on the list, struck through, with the reason."""
    found = get_recall(pk)
    made = get_recall_mark(found, mark_pk)
    form = StrikeForm(request.POST or None, made=made, person=get_me(request))
    back = reverse("recall", args=[pk])
    if request.method == "POST" and form.write() is not None:
        messages.success(request, f"Struck out: {made.get_step_display()}, {made.done_on:%d %b %Y}.")
        return redirect(back)
    took = " What it took out of the engine counts as in again." if made.took_out.exists() else ""
    return form_page(
        request, form, heading=f"Was “{made.get_step_display()}” an error?", section="returns", word="Strike it out",
        back=back,
        lead=f"{made.line.part}: {made.get_step_display()} on {made.done_on:%d %b %Y}, by {made.by}. It stays on the "
        f"list, struck through, with the reason.{took}",
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def recall_close(request: HttpRequest, pk: int) -> HttpResponse:
    """Close a recall with a date."""
    found = get_recall(pk)
    form, back = CloseForm(request.POST or None, instance=found), reverse("recall", args=[pk])
    counts = counts_of([found])[pk]
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"The recall of {found} is closed.")
        return redirect(back)
    warning = (
        ""
        if counts.all_told
        else f"{counts.engines - counts.told} of these customers’ engines are not told yet. "
    )
    return form_page(
        request, form, heading=f"Close the recall of {found}?", section="returns", word="Close it", back=back,
        lead=f"{counts.words.capitalize()}. {warning}A closed list takes no marks; it can be opened again.",
    )  # fmt: skip


@require_POST
def recall_reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Open a closed recall again."""
    found = get_recall(pk)
    if found.closed_on is not None:
        found.closed_on = None
        found.save(update_fields=["closed_on"])
        messages.success(request, f"The recall of {found} is open again.")
    return redirect("recall", pk)


@require_safe
def recall_letters_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Letters to the customers of a recall in one PDF, so many at a time."""
    found = get_recall(pk)
    asked = request.GET.get("page", "1")
    page = int(asked) if asked.isdecimal() and len(asked) < 6 else 1
    start = (max(page, 1) - 1) * LETTERS_IN_A_FILE
    return _letters(request, found, list(customers_of(found)[start : start + LETTERS_IN_A_FILE]), "letters")


@require_safe
def recall_letter_pdf(request: HttpRequest, pk: int, customer_pk: int) -> HttpResponse:
    """The letter to one customer."""
    customer = get_customer(customer_pk)
    return _letters(request, get_recall(pk), [customer], f"letter to {customer}")


def _letters(request: HttpRequest, found: Recall, customers: list[Customer], name: str) -> HttpResponse:
    paper = request.GET.get("paper") or Shop.get().paper
    if paper not in PAPERS:
        return _not_printed(
            request, found, f"There is no paper “{paper[:20]}” here. Choose A4 or Letter.", 400
        )
    letters = recall_letters(found, customers)
    if not letters:
        return _not_printed(
            request, found, "There is no letter to print: no engine carries the part now.", 404
        )
    try:
        pdf = letters_pdf(found, letters, paper)
    except PrintingFailed as failed:
        return _not_printed(request, found, failed.sentence, 503)
    headers = {
        "Content-Disposition": f'inline; filename="recall-{slugify(found.value) or found.pk}-{slugify(name)}.pdf"'
    }
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


def _not_printed(request: HttpRequest, found: Recall, sentence: str, status: int) -> HttpResponse:
    context = {"section": "returns", "recall": found, "sentence": sentence, "papers": list(PAPERS)}
    return render(request, "builds/parts/letters_not_printed.html", context, status=status)
