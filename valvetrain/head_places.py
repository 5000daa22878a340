"""The heads of a job in plan, as drawings to tap a place on."""

from builds.models import Build
from builds.places import PlacePicker
from valvetrain.models import Head
from valvetrain.plan import plan_for


def head_pickers(job: Build) -> list[PlacePicker]:
    """Each head of a job, with its stands and valves."""
    heads = Head.objects.filter(build=job).prefetch_related("valves", "stands__pads")
    return [
        PlacePicker(
            f"{head.name} ({head.code})" if head.code else head.name,
            "valvetrain/_head_picker.html",
            plan_for(head),
        )
        for head in heads
    ]
