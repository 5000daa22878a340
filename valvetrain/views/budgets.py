"""What a height's uncertainty is made of, on tap at the bench."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.access import get_me
from builds.views.answers import asked_by_htmx
from valvetrain.access import get_bench
from valvetrain.budgetboard import BudgetBoard
from valvetrain.targets import head_state


@require_safe
def height_budget(request: HttpRequest, head_pk: int, valve_pk: int) -> HttpResponse:
    """The budget of one valve's height error; for htmx only its table."""
    records = get_bench(request, head_pk)
    found = [valve for valve in head_state(records).valves if valve.valve.pk == valve_pk]
    if not found:
        raise Http404("There is no such valve on this head.")
    board = BudgetBoard(records.head, found[0], get_me(request).length_unit)
    name = "_budget.html" if asked_by_htmx(request) else "budget.html"
    return render(request, f"valvetrain/{name}", {"board": board, "section": "jobs"})
