"""Line drawings of one valve, for the pages."""

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from builds.access import get_me
from valvetrain.access import get_head, get_valve
from valvetrain.charts.arm import arm_drawing
from valvetrain.charts.gathered import valve_numbers
from valvetrain.charts.numbers import Drawing
from valvetrain.charts.style import words_drawing
from valvetrain.charts.tip import tip_mark
from valvetrain.charts.travel import travel_chart
from valvetrain.gathering import gather
from valvetrain.geometry.errors import GeometryError
from valvetrain.targets import head_state
from valvetrain.valvestate import ValveState

KEEP_SECONDS = 12 * 3600
FIGURES = {"arm": arm_drawing, "mark": tip_mark, "travel": travel_chart}


@require_GET
def drawing(request: HttpRequest, head_pk: int, valve_pk: int, which: str) -> HttpResponse:
    """One drawing of a valve from its numbers as they are now; or the words on what they lack."""
    head = get_head(request, head_pk)
    valve = get_valve(request, head, valve_pk)
    if which not in FIGURES:
        raise Http404("There is no such drawing. There are arm, mark and travel.")
    (records,) = gather([head])
    state = next(found for found in head_state(records).valves if found.valve.pk == valve.pk)
    drawn = _draw(which, state, get_me(request).length_unit)
    response = HttpResponse(drawn.svg, content_type="image/svg+xml")
    if request.GET.get("v"):  # the page names another version when a number changes
        response.headers["Cache-Control"] = f"private, max-age={KEEP_SECONDS}"
    return response


def _draw(which: str, state: ValveState, unit: str) -> Drawing:
    numbers = valve_numbers(state, unit)
    if numbers is None:
        return words_drawing(f"Not drawn yet. {state.problem}")
    try:
        return FIGURES[which](numbers)
    except GeometryError as error:
        return words_drawing(f"Not drawn. {state.address}: {error}.")
