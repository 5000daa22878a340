"""The lash step's order of work: from the engine's firing order to the valves, one turn of the wrench after another."""

from django.urls import reverse

from builds.models import Build
from builds.steps import Note, Step
from valvetrain.geometry.errors import GeometryError
from valvetrain.geometry.firing import companions, parse_firing_order
from valvetrain.geometry.lash import LashStep, lash_order
from valvetrain.models import Valve, ValveKind
from valvetrain.papers import valves_of

STEP = "lash"


def turns(build: Build) -> list[LashStep]:
    """The steps that the firing order gives; none where it is not written down or cannot be."""
    try:
        return list(lash_order(parse_firing_order(build.engine.firing_order)))
    except GeometryError:
        return []


def companion_of(build: Build) -> dict[int, int]:
    """Each cylinder's companion; none where the engine has none."""
    try:
        pairs = companions(parse_firing_order(build.engine.firing_order))
    except GeometryError:
        return {}
    return {one: two for pair in pairs for one, two in (pair, pair[::-1])}


def in_turn(build: Build) -> list[tuple[Valve, LashStep | None]]:
    """Every valve with the step that sets it, in the order of the steps; those that no step names come last."""
    by_place: dict[tuple[int, str], list[Valve]] = {}
    valves = valves_of(build)
    for valve in valves:
        by_place.setdefault((valve.cylinder, valve.kind), []).append(valve)
    found: list[tuple[Valve, LashStep | None]] = []
    for step in turns(build):
        kind = ValveKind.INTAKE if step.sets == "intake" else ValveKind.EXHAUST
        found.extend((valve, step) for valve in by_place.pop((step.sets_on, kind.value), []))
    left = {valve.pk for rest in by_place.values() for valve in rest}
    return found + [(valve, None) for valve in valves if valve.pk in left]


def order(build: Build, step: Step) -> list[str] | None:
    """The addresses of the lash step in turn; None for other steps, and for an engine without a firing order."""
    if step.key != STEP or not turns(build):
        return None
    return [valve.address for valve, _turn in in_turn(build)]


def words(build: Build, step: Step) -> dict[str, str]:
    """For each valve where to turn the engine to, and which cylinder is its companion."""
    if step.key != STEP:
        return {}
    other = companion_of(build)
    act = "read" if build.is_return else "set"  # as found, nothing is turned
    return {
        valve.address: f"{turn.to(act)}{_beside(other.get(turn.cylinder))}"
        for valve, turn in in_turn(build)
        if turn is not None
    }


def _beside(companion: int | None) -> str:
    return "" if companion is None else f" Companion: {companion}."


def notes(build: Build, step: Step) -> list[Note]:
    """What is missing before the valves can be put in order, or the order that is followed."""
    if step.key != STEP:
        return []
    written = build.engine.firing_order
    way = (reverse("engine-edit", args=[build.engine_id]), "Enter the firing order")
    if not written.strip():
        told = (
            "This engine has no firing order, so the valves are listed as they lie and not as they are set."
        )
        return [Note(told, *way)]
    try:
        parse_firing_order(written)
    except GeometryError as error:
        return [
            Note(f"The firing order cannot be followed: {error}. The valves are listed as they lie.", *way)
        ]
    return [Note(f"Firing order {written}. Each valve is on its base circle where its line says.")]
