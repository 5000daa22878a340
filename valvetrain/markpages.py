"""The way from the marks' step of the log to the pages on which the tips are drawn."""

from django.urls import reverse

from builds.models import Build
from builds.steps import Note, Step
from valvetrain.mark_steps import STEP_KEY
from valvetrain.models import Head


def notes(build: Build, step: Step) -> list[Note]:
    """For each head a sentence at the head of the marks' step, with the way to its tips."""
    if step.key != STEP_KEY:
        return []
    return [
        Note(
            f"{head.name}: the tips drawn to scale, photos, and what follows from each mark.",
            reverse("head-marks", args=[head.pk]),
            f"Marks of {head.name}",
        )
        for head in Head.objects.filter(build=build)
    ]
