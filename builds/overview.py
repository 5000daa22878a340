"""The overview of a job's log: every step, and the work that has a screen of its own, in the order of the work."""

from django.urls import reverse

from builds.steps import OverviewLine, overview_providers, steps
from builds.worklog import WorkLog


def overview_of(log: WorkLog) -> list[OverviewLine]:
    """A line for each, with how far it is and the way to it."""
    found = [line for provider in overview_providers for line in provider(log.build)]
    for step in steps():
        state = log.state(step)
        url = reverse("log-step", args=[log.build.pk, step.key])
        found.append(OverviewLine(step.order, step.name, state.tally, state.status, url))
    return sorted(found, key=lambda line: line.order)
