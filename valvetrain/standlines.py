"""The stand heights in the overview of a job's log: a line for each head, with the way to its bench."""

from django.urls import reverse

from builds.models import Build
from builds.steps import OverviewLine
from valvetrain.models import Head
from valvetrain.states import HeadState
from valvetrain.status import Status
from valvetrain.targets import states_of

# After the lift that it hangs on, before the pushrods that hang on it.
ORDER = 20


def stand_heights(build: Build) -> list[OverviewLine]:
    """A line for each head: how many of its stands are in."""
    heads = Head.objects.filter(build=build).select_related("build__engine__customer")
    return [_line(state) for state in states_of(heads)]


def _line(state: HeadState) -> OverviewLine:
    stands = [stand for stand in state.stands if stand.valves]
    done = sum(stand.status == Status.DONE for stand in stands)
    out = sum(stand.status == Status.OUT for stand in stands)
    look = sum(stand.status == Status.LOOK for stand in stands)
    told = f"{done} of {len(stands)} stands in" if stands else "no stands with valves yet"
    told += f", {out} out of limit" if out else ""
    told += f", {look} to look at again" if look else ""
    status = "out" if out else "done" if stands and done == len(stands) else "look" if look else "todo"
    return OverviewLine(
        ORDER, f"stand height, {state.head.name}", told, status, reverse("bench", args=[state.head.pk])
    )
