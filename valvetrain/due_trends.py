"""What the trends say is due: a line that has left its limit, or is about to before the next look."""

from collections.abc import Iterable, Sequence

from django.urls import reverse

from builds.due import Due, OutNow
from valvetrain.trends import Trend, TrendBook
from valvetrain.trendwords import NEAR, OUT, PASSED, crossing_words, drift_words, so_much, state_word

# How urgent each state is beside what the rules say: in parts of the running between two looks.
AT_LEAST = {OUT: 3.0, PASSED: 1.0, NEAR: 0.0}


def due_by_trends(out: OutNow) -> Iterable[Due]:
    """For each engine and each thing that is followed: the valve that leaves its limit first, and how many more do."""
    looked_at = [job for pk, job in out.jobs.items() if pk in out.checks]
    if not looked_at:
        return
    book = TrendBook(looked_at)
    for job in looked_at:
        near: dict[str, list[Trend]] = {}
        for trend in book.trends(job.pk):
            interval = out.interval(trend.followed.step, trend.run_unit)
            if state_word(trend, interval) in AT_LEAST:
                near.setdefault(trend.followed.key, []).append(trend)
        for trends in near.values():
            yield _due(out, trends)


def _due(out: OutNow, trends: Sequence[Trend]) -> Due:
    worst, length_unit = trends[0], out.length_unit
    interval = out.interval(worst.followed.step, worst.run_unit)
    word = state_word(worst, interval)
    more = f" {len(trends) - 1} more valve{'s' if len(trends) > 2 else ''} out or near." if trends[1:] else ""
    count = len(worst.fitted)
    why = (
        f"{worst.address}, {worst.followed.name}: {drift_words(worst, length_unit)}; {crossing_words(worst)}; it has run "
        f"{so_much(worst.ran, worst.run_unit)} ({count} reading{'s' if count != 1 else ''}).{more}"
    )
    past = -worst.running_left / (interval or max(float(worst.ran), 1.0))
    overdue = AT_LEAST[word] if word == OUT else AT_LEAST[word] + max(past, -1.0)
    url = f"{reverse('job-trends', args=[worst.job.pk])}?what={worst.followed.key}&valve={worst.address}"
    return Due(worst.job, f"{worst.followed.name}, {word}", why, overdue, "Open the trend", url)
