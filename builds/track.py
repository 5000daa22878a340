"""What a guest's page shows of the track: how far the engine ran, the two forms, and what became of what was sent."""

from typing import Any

from builds.forms.running import TrackRunForm
from builds.forms.told import ToldForm
from builds.models import Build, GuestLink
from builds.run_lines import first_choices, full_record, run_lines
from builds.running import words
from builds.told import all_of

# Two forms stand on one page: their fields have names of their own there.
RUN_IDS, TOLD_IDS = "run_%s", "lash_%s"
MOST_SENT = 20


def track_of(
    job: Build, link: GuestLink, run_form: TrackRunForm | None = None, told_form: ToldForm | None = None
) -> dict[str, Any]:
    """All of it, for a link that takes running. The forms are those that were refused, else fresh ones."""
    record = full_record(job)
    sent = all_of(job).filter(via=link)
    last = sent.order_by("-pk").first()
    if told_form is None:
        told_form = ToldForm(job=job, auto_id=TOLD_IDS)
        told_form.initial = told_form.first(last)
    runs = run_lines(record, link.pk)
    return {
        "ran": words(record.totals),
        "run_form": run_form or TrackRunForm(initial=first_choices(job, record), auto_id=RUN_IDS),
        "told_form": told_form,
        "places": told_form.places,
        "runs": runs[:MOST_SENT],
        "told": sent[:MOST_SENT],
        "last_told": last,
        "run_count": len(runs),
        "told_count": sent.count(),
    }
